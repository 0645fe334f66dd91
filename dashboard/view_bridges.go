package dashboard

import (
	"strconv"
	"strings"

	"github.com/gdamore/tcell/v2"

	"tetherbell/alarms"
	"tetherbell/decode"
)

// linkRows is how many rows the link needs at least: one more for several ports.
func linkRows(s *alarms.Snapshot) int {
	if s.Bridges != nil {
		return 3
	}
	return 2
}

// bridgeState words how one of several bridges is doing, and whether that is
// trouble.
func bridgeState(f *Frame, i int) (text string, trouble bool) {
	b := &f.Snap.Bridges[i]
	ports := f.Status.Bridges
	switch {
	case i < len(ports) && ports[i].Lost:
		return clean(ports[i].State), true
	case !b.Heard:
		return "not heard", true
	case b.SilentUS >= silentAlready:
		return "SILENT " + span(float64(b.SilentUS)/1e6), true
	}
	text = num(b.All, 0) + "/s"
	if b.Unused {
		text += " unused"
	}
	return text, false
}

// linesOf is how many lines a second come of all bridges that are there.
func linesOf(f *Frame) (rate float64) {
	for i := range f.Snap.Bridges {
		if b := &f.Snap.Bridges[i]; b.SilentUS < oldValues && (i >= len(f.Status.Bridges) || !f.Status.Bridges[i].Lost) {
			rate += b.All
		}
	}
	return rate
}

// stateStyle is how the state of a bridge is written.
func stateStyle(trouble bool, l *look) tcell.Style {
	if trouble {
		return l.invert.Bold(true)
	}
	return l.plain
}

// bridgesShort words all bridges in one row: names and what state they are in.
func bridgesShort(f *Frame, l *look) (out []part) {
	for i := range f.Snap.Bridges {
		text, trouble := bridgeState(f, i)
		out = append(out, part{shortName(f.Snap.Bridges[i].Name) + " ", l.bold}, part{text, stateStyle(trouble, l)})
		if carries := carriesShort(&f.Snap.Bridges[i]); carries != "" && len(f.Snap.Bridges) <= 2 { // else there is no room
			out = append(out, part{" " + carries, l.plain})
		}
		out = append(out, part{"  ", l.plain})
	}
	return out
}

// carriesShort names the first streams that are taken from a bridge.
func carriesShort(b *alarms.BridgeView) string {
	const most = 3
	var names []string
	n := 0
	for tag := decode.Axes; tag <= decode.State; tag++ {
		if b.Tags&(1<<tag) == 0 {
			continue
		}
		if n++; n <= most {
			names = append(names, tagNames[tag])
		}
	}
	if n > most {
		names = append(names, "+"+strconv.Itoa(n-most))
	}
	return strings.Join(names, " ")
}

// shortName is the end of a long name, where names of ports differ.
func shortName(name string) string {
	const most = 14
	r := []rune(clean(name))
	if len(r) > most {
		return string(r[len(r)-most:])
	}
	return string(r)
}

// bridgeParts word one bridge in a row of its own.
func bridgeParts(f *Frame, i int, l *look) []part {
	b := &f.Snap.Bridges[i]
	text, trouble := bridgeState(f, i)
	out := []part{{shortName(b.Name) + " ", l.bold}, {text + "  ", stateStyle(trouble, l)}}
	if !b.Heard {
		return out
	}
	share := 0.0
	if n := b.Lines + b.Bad + b.Lost; n > 0 {
		share = float64(b.Bad+b.Lost) / float64(n)
	}
	out = append(out, part{"bad+lost " + percent(share) + "  ", l.plain})
	if carries := carriesShort(b); carries != "" {
		out = append(out, part{carries + "  ", l.plain})
	}
	if b.Reference {
		return append(out, part{"its clock counts", l.plain})
	}
	if b.Clocked {
		out = append(out, part{"clock " + signed(b.Offset, 3) + " s ±" + num(b.OffsetUnsure*1000, 1) + " ms  ", l.plain})
	}
	if b.Drifts {
		out = append(out, part{signed(b.Drift, 1) + " ppm ±" + num(b.DriftUnsure, 1), l.plain})
	}
	return out
}
