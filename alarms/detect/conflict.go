package detect

import "strings"

// A Disagreement is one thing that craft file and bridge both say, and not
// alike. The file is used.
type Disagreement struct {
	File, Bridge string // as a person is told: "14 magnet poles", "12"
	Ratio        float64
}

// String tells it in one sentence.
func (d Disagreement) String() string {
	return "craft file says " + d.File + ", the bridge " + d.Bridge + ": the file is used"
}

// noteSeconds is how long a note stands: it is for the journal, and what lasts
// is said in lists and verdict.
const noteSeconds = 3 * Second

// conflictNote brings a disagreement of craft file and bridge into the journal
// once, when the place is free of what is weightier.
type conflictNote struct {
	seen    int // DisagreeSeq that was told
	since   int64
	up      bool
	told    []Disagreement
	settled int64 // engine time of the newest change of what disagrees
	last    int   // DisagreeSeq at the last look
}

// finding is asked when nothing weightier is to be told.
func (n *conflictNote) finding(b *Bench) (Finding, bool) {
	if b.DisagreeSeq != n.last {
		n.last, n.settled = b.DisagreeSeq, b.Now
	}
	switch {
	case n.up && b.Now-n.since < noteSeconds:
	case n.seen == b.DisagreeSeq:
		n.up = false
		return Finding{}, false
	case len(b.Disagree) == 0: // they agree again
		n.seen, n.up = b.DisagreeSeq, false
		return Finding{}, false
	case b.Now-n.settled < quietSettings: // the craft line and its settings make one note
		n.up = false
		return Finding{}, false
	default:
		n.seen, n.since, n.up, n.told = b.DisagreeSeq, b.Now, true, b.Disagree
	}
	return Finding{Where: Craft, Level: Note, Value: n.told[0].Ratio, Limit: 1, Case: noteCase}, true
}

// story tells all of them.
func (n *conflictNote) story(*Bench) Story {
	var all []string
	for _, d := range n.told {
		all = append(all, d.String())
	}
	return Story{
		Unit: "1", Text: strings.Join(all, "; "), Cause: "craft file or bridge is of another craft, or out of date",
		Action: "correct the one that is wrong",
	}
}
