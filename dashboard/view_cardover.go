package dashboard

import (
	"slices"

	"tetherbell/alarms/runcard"
)

// cardOver is what stands over a card that nothing is watched for any more.
const cardOver = "the input has ended, and the card with it"

// cardOf is the card as it is drawn. Once the input has ended it is what has come
// of it and no more: it can no longer see a motor wake, so it calls nobody to do
// anything, and takes no key.
func cardOf(f *Frame) *runcard.View {
	if f.Card == nil || !f.Status.Ended {
		return f.Card
	}
	v := *f.Card
	v.Steps = slices.Clone(v.Steps)
	v.Current = len(v.Steps)
	v.Warning, v.WarningDo = "", ""
	v.TickID, v.NoID, v.SkipID, v.AgainID = "", "", "", ""
	v.TickWaits, v.StopFirst = "", false
	for i := range v.Steps {
		s := &v.Steps[i]
		s.Do = ""
		switch s.State {
		case runcard.Waiting, runcard.Now:
			s.State, s.Say = runcard.Waiting, "not done"
		case runcard.ByEye:
			s.State, s.Say = runcard.Waiting, "left to the eye, and not ticked"
		}
	}
	return &v
}
