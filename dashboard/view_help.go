package dashboard

import (
	"strings"
	"unicode/utf8"

	"tetherbell/alarms/detect"
)

// cautions stand on the screen at the start, until a key is pressed, they had
// time to be read, or an alarm asks for action.
var cautions = []string{
	"This screen advises. It is no certified safety device; it stops no motor.",
	"First tests: propellers off.",
	"Eye protection on. Nobody stands in the plane of the propellers.",
	"Tether or stand: rated for several times full thrust.",
	"Stop switch in the hand, and tested before anything else.",
	"Lithium packs: watched; charged and stored where a fire does no harm.",
	"Local aviation and workplace rules come first, and licensed people where they are required.",
}

// drawCautions gives each caution rows of its own; where rows are few they follow
// each other, and where they are fewer still the title says how one goes on.
func drawCautions(p pane) {
	const goOn = "any key goes on"
	room, w := p.h-1, p.w-2
	var rows []string
	for _, t := range cautions {
		rows = append(rows, wrap(t, w)...)
	}
	gap := 1
	if len(rows)+gap >= room {
		rows, gap = wrap(strings.Join(cautions, " "), w), 0
	}
	title := "before the first spin-up"
	if len(rows)+gap < room {
		body := p.title(title)
		for y, t := range rows {
			body.text(1, y, t, p.look.bold)
		}
		body.text(1, len(rows)+gap, "A"+goOn[1:]+".", p.look.plain)
		return
	}
	title += " (" + goOn + ")"
	if len(title)+4 > p.w {
		title = goOn
	}
	body := p.title(title)
	for y, t := range rows[:min(len(rows), max(0, room))] {
		if y == room-1 && len(rows) > room {
			t = firstLine(t, w-len(cutMark)) + cutMark
		}
		body.text(1, y, t, p.look.bold)
	}
}

// legendRows is what helpLegend takes, with a blank row above.
const legendRows = 5

// helpLegend explains the marks; it stands below the keys.
func helpLegend(p pane, y int) {
	l := p.look
	x := 1
	for pr := detect.High; pr >= detect.Low; pr-- {
		e := string(l.edge(pr, 0))
		x = p.text(x, y, e+e+" "+priorityWord(pr)+" "+e+e, l.chip(pr)) + 1
		x = p.text(x, y, [...]string{"act at once", "act soon", "before you go on"}[detect.High-pr], l.plain) + 2
	}
	lines := []string{
		"A filled banner is not acknowledged. High and medium stay until they are.",
		"! stands before each place that an alarm names. " + string(l.limit) + " is the limit of a gauge.",
		cautions[0],
	}
	for i, t := range lines {
		p.text(1, y+1+i, cutTo(t, p.w-2), l.plain)
	}
}

// drawHelp draws the key table as a page.
func drawHelp(p pane, f *Frame, replay bool) {
	body := p.title("keys (any key goes back)")
	shown := withoutCard(shownKeys(replay), f)
	if handsOf(f) != nil {
		shown = handHelp(shown)
	}
	if drillOf(f) != nil {
		shown = drillKeys(shown)
	}
	columns := 1
	if len(shown)+legendRows > body.h && body.w >= 76 {
		columns = 2
	}
	rows := (len(shown) + columns - 1) / columns
	wide := body.w / columns
	for i := range shown {
		k := &shown[i]
		cell := body.sub(i/rows*wide, i%rows, wide-1, 1)
		cell.text(1, 0, k.names, p.look.bold)
		cell.text(max(11, utf8.RuneCountInString(k.names)+2), 0, k.help, p.look.plain)
	}
	helpLegend(body, rows+1)
}
