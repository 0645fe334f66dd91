package vigil

import "fmt"

// what is lost while a member stands still.
var lost = [members]string{
	Desk:   "NOTHING IS WATCHED, no alarm of the bench can ring",
	Sound:  "NO ALARM IS HEARD",
	Screen: "what it shows is old",
	Beacon: "its line may say that all is well",
	Sentry: "",
}

// lostThen is the same once it goes on.
var lostThen = [members]string{
	Desk:   "nothing was watched then",
	Sound:  "no alarm was heard then",
	Screen: "what it showed was old",
	Beacon: "its line may have been wrong",
}

// String words a finding for the journal, a recording and standard error.
func (f Finding) String() string {
	s := f.For.Seconds()
	switch f.Kind {
	case Stalled:
		return fmt.Sprintf("the %v stands still (%.1f s): %s", f.Member, s, lost[f.Member])
	case Broken:
		return fmt.Sprintf("the %v has broken down: %s", f.Member, lost[f.Member])
	case Back:
		return fmt.Sprintf("the %v goes on: it stood still for %.1f s", f.Member, s)
	case Slept:
		return fmt.Sprintf("the computer slept for %.1f s, or its clock was set ahead: who sleeps watches nothing", s)
	case Alone:
		return fmt.Sprintf("the %v goes on: it stood still for %.1f s, %s", f.Member, s, lostThen[f.Member])
	}
	return fmt.Sprintf("the monitor itself stood still for %.1f s (it was stopped): nothing was watched then", s)
}
