package report

import (
	"math"
	"slices"

	"tetherbell/alarms/account"
)

// A point is the least and greatest value within a stretch of time.
type point struct{ from, to, lo, hi float64 }

// points are the measured stretches of a curve.
func points(c *account.Curve) []point {
	if c == nil || !(c.Step > 0) {
		return nil
	}
	var all []point
	for i := range min(len(c.Min), len(c.Max)) {
		if c.Min[i] == nil || c.Max[i] == nil {
			continue
		}
		lo, hi := float64(*c.Min[i]), float64(*c.Max[i])
		if math.IsNaN(lo-hi) || math.IsInf(lo, 0) || math.IsInf(hi, 0) {
			continue
		}
		from := c.T0 + float64(i)*c.Step
		all = append(all, point{from, from + c.Step, lo, hi})
	}
	return all
}

// merged puts points together that fall into the same column of a picture.
func merged(all []point, perColumn float64) []point {
	var out []point
	last := math.Inf(-1)
	for _, p := range all {
		column := math.Floor(p.from / perColumn)
		if column == last {
			o := &out[len(out)-1]
			o.to, o.lo, o.hi = p.to, min(o.lo, p.lo), max(o.hi, p.hi)
			continue
		}
		last = column
		out = append(out, p)
	}
	return out
}

// gapFactor tells a hole from a slow stream: so many times the usual distance
// of points is no longer a step of it. Common practice, no source.
const gapFactor = 3.5

// pieces cuts points where nothing was measured. What is usual is the median
// distance: a temperature that comes once a second is one line, not dots.
func pieces(all []point) [][]point {
	if len(all) < 2 {
		return [][]point{all}[:len(all)]
	}
	steps := make([]float64, len(all)-1)
	for i := range steps {
		steps[i] = all[i+1].from - all[i].from
	}
	slices.Sort(steps)
	most := gapFactor * steps[len(steps)/2]
	var out [][]point
	from := 0
	for i := 1; i < len(all); i++ {
		if all[i].from-all[i-1].from > most {
			out = append(out, all[from:i])
			from = i
		}
	}
	return append(out, all[from:])
}

// reach is the range of several curves; ok is false where nothing was measured.
func reach(curves ...*account.Curve) (lo, hi float64, ok bool) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, c := range curves {
		for _, p := range points(c) {
			lo, hi, ok = min(lo, p.lo), max(hi, p.hi), true
		}
	}
	return lo, hi, ok
}

// mostFigures bounds the rows of the table of a picture's figures.
const mostFigures = 12

// figures is the table that stands for curves: least and greatest value in
// stretches of equal length.
func figures(caption string, lengthS float64, all []panel) *table {
	step := timeStep(lengthS, mostFigures)
	t := &table{Caption: caption, Columns: columns("time (" + axisUnit(lengthS) + ")")}
	for _, s := range all {
		name := s.name
		if u := unitText(s.curve.Unit); u != "" {
			name += " (" + u + ")"
		}
		t.Columns = append(t.Columns, column{name, true})
	}
	cells := make([][]point, len(all))
	rows := int(math.Ceil(lengthS/step - 1e-9))
	for i, s := range all {
		cells[i] = make([]point, rows)
		for _, p := range points(s.curve) {
			k := min(max(int((p.from+p.to)/2/step), 0), rows-1)
			c := &cells[i][k]
			if c.to == 0 {
				*c = p
			}
			c.lo, c.hi = min(c.lo, p.lo), max(c.hi, p.hi)
		}
	}
	for k := range rows {
		to := min(float64(k+1)*step, lengthS)
		line := []string{timeText(float64(k)*step, lengthS) + " to " + timeText(to, lengthS)}
		for i := range all {
			line = append(line, span(cells[i][k]))
		}
		t.row(line...)
	}
	return t
}

// span writes least and greatest value; a range that is none is one number.
func span(p point) string {
	if p.to == 0 {
		return absent
	}
	lo, hi := number(p.lo), number(p.hi)
	if lo == hi {
		return lo
	}
	return lo + " to " + hi
}
