package cable

import (
	"fmt"
	"math"
	"strings"
)

// Sights lists what was seen, in the order of the kinds.
func (w *Watch) Sights() []Sight {
	w.closeBack()
	w.letGo()
	var out []Sight
	for k := range KindCount {
		if w.shown(k) {
			out = append(out, w.sight(k))
		}
	}
	return out
}

// News lists what was seen for the first time, or again after a quiet spell,
// since it was last asked. It allocates only where there is news.
func (w *Watch) News() []Sight {
	if w.pending == 0 {
		return nil
	}
	var out []Sight
	for k := range KindCount {
		if w.pending&(1<<k) != 0 && w.shown(k) {
			w.pending &^= 1 << k
			s := w.sight(k)
			s.Again = w.seen[k].again
			out = append(out, s)
		}
	}
	return out
}

// Cause names what was seen within the last five seconds, as the likely cause of
// an alarm of the link; "" when nothing clear was.
func (w *Watch) Cause() string {
	var names []string
	for k := range Unclear {
		if k != ClockDrift && w.lately(k) {
			names = append(names, k.String())
		}
	}
	return strings.Join(names, ", ")
}

// Recent lists which of some kinds were seen within the last five seconds, in their
// order.
func (w *Watch) Recent(kinds []Kind) (out []Sight) {
	for _, k := range kinds {
		if w.lately(k) {
			out = append(out, w.sight(k))
		}
	}
	return out
}

// lately tells of what was seen within the last five seconds, or is so still: a port
// that is gone is no less so after them.
func (w *Watch) lately(k Kind) bool {
	gone := k == Unplugged && w.gone > 0 && w.goneAt != noHost
	return w.shown(k) && (gone || w.now-w.seen[k].last <= recent)
}

func (w *Watch) sight(k Kind) Sight {
	s := &w.seen[k]
	return Sight{Kind: k, Count: s.count, First: s.first, Last: s.last, Text: w.text(k), Action: w.action(k)}
}

// text words a kind with its figures.
func (w *Watch) text(k Kind) string {
	s := &w.seen[k]
	n := func(one, many string) string {
		if s.count == 1 {
			return "1 " + one
		}
		return fmt.Sprintf("%d %s", s.count, many)
	}
	switch k {
	case FlippedBits:
		return n("line with a turned bit, by its checksum", "lines with a turned bit, by their checksums")
	case LostBytes:
		return n("line that lacks one byte, by its checksum", "lines that lack one byte, by their checksums")
	case DoubledBytes:
		return n("line with a byte too many, by its checksum", "lines with a byte too many, by their checksums")
	case DoubledLines:
		return n("line came twice", "lines came twice")
	case MergedLines:
		return n("line end is missing", "line ends are missing") + ": two lines came as one, of which one counts as lost"
	case HeldUp:
		return n("heap of late lines", "heaps of late lines") + fmt.Sprintf(", the latest %.2f s late", s.figure)
	case WrongBaud:
		return n("line is no text at all", "lines are no text at all") + w.ofBaud()
	case Restart:
		return n("restart of the bridge", "restarts of the bridge")
	case Unplugged:
		if w.gone > 0 {
			return w.goneText()
		}
		return n("hole", "holes") + fmt.Sprintf(", %.1f s in all, while the bridge went on sending", s.figure)
	case Flood:
		text := fmt.Sprintf("%.1f kB/s for %s", s.figure/1e3, n("second", "seconds"))
		if w.baud > 0 {
			text += fmt.Sprintf(", %.0f %% of what %d baud carry", 100*s.figure*bitsPerByte/float64(w.baud), w.baud)
		}
		return text + w.usually()
	case Trickle:
		return fmt.Sprintf("%.2f kB/s, late and with gaps, for %s", s.figure/1e3, n("second", "seconds")) + w.usually()
	case ClockDrift:
		way := "fast"
		if s.figure < 0 {
			way = "slow"
		}
		return fmt.Sprintf("the bridge's clock is %.0f ppm %s", math.Abs(s.figure), way)
	case ClockStep:
		way := "forward"
		if s.figure < 0 {
			way = "back"
		}
		return n("step", "steps") + fmt.Sprintf(" of the bridge's clock, the last by %.0f ms %s", math.Round(math.Abs(s.figure)/10)*10, way)
	case Swapped:
		return "what came over another port comes over this one"
	case Miswritten:
		return w.wroteText()
	}
	return n("bad line", "bad lines") + " that no one fault explains"
}

// goneText tells of a port that was lost, and of other holes.
func (w *Watch) goneText() string {
	times := "once"
	if w.gone > 1 {
		times = fmt.Sprintf("%d times", w.gone)
	}
	text := fmt.Sprintf("the port was gone %s, %.1f s in all", times, float64(w.goneFor)/1e6)
	switch {
	case w.goneAt == noHost:
	case w.gone == 1:
		text = "the port is gone"
	default:
		text = fmt.Sprintf("the port was lost %d times, is gone now, and was so for %.1f s before", w.gone, float64(w.goneFor)/1e6)
	}
	s := &w.seen[Unplugged]
	if n := s.count - w.gone; n > 0 {
		text += fmt.Sprintf("; other holes: %d, %.1f s in all", n, s.figure)
	}
	return text
}

func (w *Watch) action(k Kind) string {
	if k == Miswritten {
		f := w.worst()
		if w.wrong[f].commas {
			return "write a point before decimals, no comma; else " + forms[f].action
		}
		return forms[f].action
	}
	return first[k]
}

func (w *Watch) ofBaud() string {
	if w.baud > 0 {
		return fmt.Sprintf(": the bridge does not send at %d baud", w.baud)
	}
	return ": the bridge sends at another baud"
}

func (w *Watch) usually() string {
	if w.pace.taken < paceLearn {
		return ""
	}
	return fmt.Sprintf(", usually %.1f", w.pace.usual/1e3)
}
