package drill

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"unicode/utf8"
)

// Stats sum attempts up.
type Stats struct {
	Attempts, Faults, Sound int     // all; with something wrong; with nothing
	Right                   int     // what was to be done was done
	FalseStops              int     // stops without cause
	Late, Missed            int     //
	Early                   int     // in time, and before the alarm
	Reactions               int     // stops after their alarm, or where alarms were off after the evidence, at the recording's own pace
	Elsewhere               int     // such stops at another pace: of no use as times
	Unheard                 bool    // alarms were off in all
	Median, Mean, Deviation float64 // s from there to those; the sample's standard deviation
}

// Sum sums rows up. Rows with alarms on and off belong in sums of their own: the
// one have a reaction to an alarm, the other to what was to be seen.
func Sum(rows []Row) (s Stats) {
	var took []float64
	s.Unheard = len(rows) > 0 && !slices.ContainsFunc(rows, func(r Row) bool { return r.Alarms })
	for i := range rows {
		r := &rows[i]
		s.Attempts++
		if r.Fault {
			s.Faults++
		} else {
			s.Sound++
		}
		v := r.Judged()
		if v.Right() {
			s.Right++
		}
		switch v {
		case NoCause:
			s.FalseStops++
			continue // no reaction to anything
		case Late:
			s.Late++
		case Missed:
			s.Missed++
		}
		from := r.Alarm
		if !r.Alarms {
			from = r.Began
		}
		switch d, ok := Since(from, r.Stop); {
		case !ok:
		case d < 0:
			s.Early++
		case r.Speed != 1:
			s.Elsewhere++
		default:
			took = append(took, d)
		}
	}
	s.Reactions = len(took)
	s.Median, s.Mean, s.Deviation = median(took), mean(took), deviation(took)
	return s
}

func mean(v []float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	sum := 0.0
	for _, x := range v {
		sum += x
	}
	return sum / float64(len(v))
}

// deviation is the sample's: over n-1.
func deviation(v []float64) float64 {
	if len(v) < 2 {
		return math.NaN()
	}
	m, sum := mean(v), 0.0
	for _, x := range v {
		sum += (x - m) * (x - m)
	}
	return math.Sqrt(sum / float64(len(v)-1))
}

func median(v []float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	v = slices.Sorted(slices.Values(v))
	n := len(v) / 2
	if len(v)%2 == 1 {
		return v[n]
	}
	return (v[n-1] + v[n]) / 2
}

// heads are the table's columns. Times are seconds from that moment to the stop,
// negative for before it.
var heads = []string{"when", "who", "recording", "alarms", "speed", "stop", "from evidence", "from alarm", "from limit", "verdict", "what"}

// numbers are the columns that stand to the right.
var numbers = map[int]bool{4: true, 5: true, 6: true, 7: true, 8: true}

// least are the columns in the order in which they leave a table that is too
// wide: what is the same in most rows first.
var least = []string{"speed", "when", "who", "alarms", "from limit"}

// Table words rows as lines of a table, and what they come to. Where width is
// over 0 and the lines would be longer, the table has fewer columns.
func Table(rows []Row, width int) []string {
	cells := [][]string{heads}
	for i := range rows {
		cells = append(cells, rowCells(&rows[i]))
	}
	wide := make([]int, len(heads))
	for _, c := range cells {
		for k, text := range c {
			wide[k] = max(wide[k], utf8.RuneCountInString(text))
		}
	}
	gone := map[int]bool{}
	for _, name := range least {
		total := -2
		for k := range wide {
			if !gone[k] {
				total += wide[k] + 2
			}
		}
		if width <= 0 || total <= width {
			break
		}
		gone[slices.Index(heads, name)] = true
	}
	var out []string
	for _, c := range cells {
		var b strings.Builder
		for k, text := range c {
			if gone[k] {
				continue
			}
			if b.Len() > 0 {
				b.WriteString("  ")
			}
			gap := strings.Repeat(" ", wide[k]-utf8.RuneCountInString(text))
			if numbers[k] {
				b.WriteString(gap + text)
			} else {
				b.WriteString(text + gap)
			}
		}
		out = append(out, strings.TrimRight(b.String(), " "))
	}
	return append(out, sums(rows)...)
}

// sums are what rows come to, for each person and for alarms on and off apart.
func sums(rows []Row) []string {
	type group struct {
		who   string
		heard bool
	}
	of := map[group][]Row{}
	for _, r := range rows {
		g := group{r.Who, r.Alarms}
		of[g] = append(of[g], r)
	}
	if len(of) == 0 {
		return Sum(nil).Lines("")
	}
	var out []string
	for _, g := range slices.SortedFunc(maps.Keys(of), func(a, b group) int {
		if a.who == b.who && a.heard != b.heard {
			if a.heard {
				return 1
			}
			return -1
		}
		return strings.Compare(a.who, b.who)
	}) {
		who, heard := g.who, "off"
		if who == "" {
			who = "unnamed"
		}
		if g.heard {
			heard = "on"
		}
		out = append(out, Sum(of[g]).Lines(who+", alarms "+heard+": ")...)
	}
	return out
}

func rowCells(r *Row) []string {
	heard := "off"
	if r.Alarms {
		heard = "on"
	}
	stop := "-"
	if r.Stop >= 0 {
		stop = fmt.Sprintf("%.2f", r.Stop)
	}
	since := func(moment float64) string {
		if d, ok := Since(moment, r.Stop); ok {
			return fmt.Sprintf("%+.2f", d)
		}
		return "-"
	}
	what := r.What
	if !r.Fault {
		what = "nothing wrong"
	}
	who := r.Who
	if who == "" {
		who = "-"
	}
	return []string{r.When, who, r.File, heard, fmt.Sprintf("x%g", r.Speed), stop,
		since(r.Began), since(r.Alarm), since(r.Limit), r.Judged().String(), what}
}

// Lines word the sum; of is what the first line begins with.
func (s Stats) Lines(of string) []string {
	if s.Attempts == 0 {
		return []string{"no attempts"}
	}
	first := fmt.Sprintf("%s%d of %d right; stops without cause: %d; of %d with a fault: %d late, %d missed",
		of, s.Right, s.Attempts, s.FalseStops, s.Faults, s.Late, s.Missed)
	from := "evidence"
	if !s.Unheard {
		from = "alarm"
		first += fmt.Sprintf(", %d stopped before the alarm", s.Early)
	}
	out := []string{first}
	if s.Reactions > 0 {
		text := fmt.Sprintf("  from %s to stop: median %.2f s, mean %.2f s", from, s.Median, s.Mean)
		if s.Reactions > 1 {
			text += fmt.Sprintf(", standard deviation %.2f s", s.Deviation)
		}
		out = append(out, fmt.Sprintf("%s (%s)", text, counted(s.Reactions)))
	}
	if s.Elsewhere > 0 {
		out = append(out, fmt.Sprintf("  left out of the times: %s at another speed than x1", counted(s.Elsewhere)))
	}
	return out
}

func counted(stops int) string {
	if stops == 1 {
		return "1 stop"
	}
	return fmt.Sprintf("%d stops", stops)
}
