package dashboard

import (
	"strconv"

	"github.com/gdamore/tcell/v2"

	"tetherbell/alarms/detect"
)

// A Drill is a training with recordings: the person watches one after the other
// and presses stop when a stop is due.
type Drill struct {
	Attempt, Of int // from 1
	AlarmsOff   bool
	Elapsed     float64    // s since the recording began
	Page        *DrillPage // before and after a recording; nil while it runs
}

// A DrillPage stands in the place of the bench, until the person goes on.
type DrillPage struct {
	Wrong       bool     // what was to be done was not done
	Head, Order string   // in big letters
	Text, More  string   // a sentence each, below them
	Lines       []string // the rest, wrapped to the screen; one that begins with a blank is set in
	Next        string   // what Enter does
}

// drillTable gives the keys of a drill their meaning. They come before those of
// the key table.
func drillTable() []key {
	return []key{
		{names: "Space", runes: " ", short: "STOP", help: "STOP: you would press it now", do: sends(DrillStop, 0)},
		{names: "Enter", keys: []tcell.Key{tcell.KeyEnter}, short: "next", help: "go on to the next recording", do: sends(DrillNext, 0)},
	}
}

// drillOf is the drill of a frame, nil where there is none.
func drillOf(f *Frame) *Drill {
	if f == nil {
		return nil
	}
	return f.Status.Drill
}

// steers tells whether the keys of a replay are there: in a drill nobody pauses
// or goes back.
func steers(f *Frame) bool { return f != nil && f.Status.Replay && f.Status.Drill == nil }

// drillKey answers the keys of a drill, and reports whether the key is spent. The
// stop works on every page while a recording runs; between two the key that
// goes on is another, so that a stop that comes late or twice does no harm.
func (b *board) drillKey(e *tcell.EventKey, meant bool) bool {
	d := drillOf(b.frame)
	if d == nil {
		return false
	}
	stop, next := drillTable()[0], drillTable()[1]
	switch {
	case stop.matches(e):
		if d.Page == nil {
			stop.do(b)
		}
		return true
	case next.matches(e) && d.Page != nil:
		if meant {
			next.do(b)
		}
		return true
	}
	return false
}

// drillKeys puts the keys of a drill before the others, and leaves out those that
// are of no use in it.
func drillKeys(shown []key) []key {
	out := drillTable()
	for _, k := range shown {
		switch k.names {
		case "m":
			continue
		case "a Enter":
			k.names, k.keys = "a", nil
		}
		out = append(out, k)
	}
	return out
}

// drillBulletin is what the banner says between two recordings, and while one
// runs whose alarms are off.
func drillBulletin(d *Drill) bulletin {
	b := bulletin{shown: -1}
	if p := d.Page; p != nil {
		b.head, b.order, b.text, b.more = clean(p.Head), clean(p.Order), clean(p.Text), clean(p.More)
		if p.Wrong {
			b.level, b.filled = detect.Medium, true
		}
		return b
	}
	b.head, b.order, b.tag = "DRILL", "YOU WATCH", "ALARMS ARE OFF"
	b.text = "nothing rings here: see for yourself, and press Space when you would stop"
	return b
}

// drillWord says which recording of a drill it is.
func drillWord(d *Drill) string {
	return "drill " + strconv.Itoa(d.Attempt) + " of " + strconv.Itoa(d.Of)
}

// speedWord is the speed of a drill that does not run at its own pace.
func speedWord(st *Status, before string) string {
	if st.Speed == 1 {
		return ""
	}
	return before + num(st.Speed, 2)
}

// drawDrill draws the line of the drill: where it is, and the key that counts.
func (b *board) drawDrill(p pane, st *Status) {
	l, d := p.look, st.Drill
	for x := range p.w {
		p.put(x, 0, ' ', l.plain)
	}
	text, do := "Space STOP", sends(DrillStop, 0)
	if d.Page != nil {
		text, do = "Enter "+d.Page.Next, sends(DrillNext, 0)
	}
	b.clicks = append(b.clicks, clickable{p.x, p.y, len(text), do})
	x := p.text(0, 0, " "+text+" ", l.invert.Bold(true)) + 1
	x = p.text(x, 0, "DRILL "+strconv.Itoa(d.Attempt)+" of "+strconv.Itoa(d.Of), l.bold)
	heard := "alarms on"
	if d.AlarmsOff {
		heard = "alarms OFF: you watch"
	}
	x = p.text(x, 0, l.dot+heard, l.plain)
	if d.Page == nil {
		p.text(x, 0, l.dot+clock(int64(d.Elapsed*1e6), 0)+speedWord(st, l.dot+l.times), l.plain)
	}
}

// drawDrillPage draws the page before or after a recording.
func drawDrillPage(p pane, d *Drill) {
	body := p.title(drillWord(d))
	y := 0
	for _, line := range d.Page.Lines {
		in := 1
		for len(line) > 0 && line[0] == ' ' {
			line, in = line[1:], in+1
		}
		parts := wrap(clean(line), body.w-in-1)
		if len(parts) == 0 {
			y++
		}
		for _, part := range parts {
			body.text(in, y, part, body.look.plain)
			y++
		}
	}
}
