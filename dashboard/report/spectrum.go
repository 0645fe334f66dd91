package report

import (
	"fmt"
	"math"

	"tetherbell/alarms/account"
)

// mostDecades bounds the range of a spectrum's scale, powers of ten.
const mostDecades = 5

const spectrumHeight = 170.0

// spectrumChart draws the root density over frequency with the rotors' orders
// as bands; nil where there is nothing to draw.
func spectrumChart(id, title string, s *account.Spectrum, strongest *account.Tone) *chart {
	top := topOf(s)
	least, peak, ok := densities(s, top)
	if !ok {
		return nil
	}
	d := &drawing{}
	over := math.Ceil(math.Log10(peak))
	decades := min(max(over-math.Floor(math.Log10(least)), 1), mostDecades)
	hi := math.Pow(10, over)
	x := scale{lo: 0, hi: top, from: plotLeft, to: plotRight}
	head := spectrumHead(s, strongest, x)
	above := titleRow + head.height()
	y := scale{lo: hi / math.Pow(10, decades), hi: hi, from: above + spectrumHeight, to: above, log: true}
	d.text(plotLeft, 13, "t name", "start", cut("root density ("+unitText(s.Unit)+"), logarithmic", 60))
	head.draw(d, titleRow, above, above+spectrumHeight)
	for k := 0.0; k <= decades; k++ {
		v := hi / math.Pow(10, k)
		d.line(plotLeft, y.at(v), plotRight, y.at(v), "grid")
		d.text(plotLeft-6, y.at(v)+4, "t tick", "end", significant(v, 1))
	}
	d.path("curve line c1", spectrumLine(s, x, y))
	d.rect(plotLeft, above, plotRight-plotLeft, spectrumHeight, "frame")
	step := niceStep(top, 10)
	foot := above + spectrumHeight
	for _, f := range ticks(0, top, step) {
		d.line(x.at(f), foot, x.at(f), foot+5, "frame")
		d.text(min(x.at(f), sheetWidth-14), foot+18, "t tick", "middle", tickText(f, step))
	}
	d.text(2, foot+18, "t tick", "start", "Hz")
	return &chart{ID: id, Title: title, Picture: d.picture(sheetWidth, foot+26), Figures: spectrumFigures(title, s, top),
		Desc: fmt.Sprintf("Root density over frequency, 0 to %s Hz, logarithmic; the greatest is %s %s.", number(top), number(peak), unitText(s.Unit))}
}

// densities are the least and greatest root density over nought.
func densities(s *account.Spectrum, top float64) (least, peak float64, ok bool) {
	least = math.Inf(1)
	for k := 1; k < lastBin(s, top); k++ {
		if v := float64(s.Root[k]); v > 0 && !math.IsInf(v, 0) {
			least, peak, ok = min(least, v), max(peak, v), true
		}
	}
	return least, peak, ok
}

// topOf is the highest frequency that is drawn.
func topOf(s *account.Spectrum) float64 {
	if s == nil || !(s.BinHz > 0) || len(s.Root) < 3 {
		return 0
	}
	top := float64(len(s.Root)-1) * s.BinHz
	if s.TopHz > 0 {
		top = min(top, s.TopHz)
	}
	return top
}

// lastBin is one past the last bin below a frequency.
func lastBin(s *account.Spectrum, top float64) int {
	if top == 0 {
		return 0
	}
	return min(int(top/s.BinHz+1e-6)+1, len(s.Root))
}

// spectrumLine keeps of each column of the picture the greatest value: a line
// in the spectrum must not be lost by drawing it small.
func spectrumLine(s *account.Spectrum, x, y scale) string {
	var xs, ys []float64
	last := math.Inf(-1)
	for k := 1; k < lastBin(s, x.hi); k++ { // the mean, at nought, is no vibration
		at, v := x.at(float64(k)*s.BinHz), y.at(float64(s.Root[k]))
		if math.Floor(at) == last {
			ys[len(ys)-1] = min(ys[len(ys)-1], v)
			continue
		}
		last = math.Floor(at)
		xs, ys = append(xs, at), append(ys, v)
	}
	return polyline(xs, ys)
}

// A header holds what is named over a spectrum: bands and the strongest tone,
// each in the first row where its name covers no other.
type header struct {
	all  []headed
	rows int
}

type headed struct {
	from, to, mid float64
	name          string
	tone, folded  bool
	row           int
}

func spectrumHead(s *account.Spectrum, strongest *account.Tone, x scale) *header {
	h := &header{}
	for _, o := range s.Orders {
		if !(o.LowHz <= x.hi && o.HighHz >= 0) || isWide(o, x.hi) {
			continue
		}
		name := orderName(o)
		from, to := x.at(o.LowHz), x.at(o.HighHz)
		h.all = append(h.all, headed{from: from, to: max(to, from+2), name: name, folded: o.Folded})
	}
	if strongest != nil && strongest.Hz <= x.hi {
		at := x.at(strongest.Hz)
		h.all = append(h.all, headed{from: at, to: at, name: "strongest, " + number(strongest.Hz) + " Hz", tone: true})
	}
	var taken [][][2]float64
	for i := range h.all {
		o := &h.all[i]
		half := widthOf(o.name)/2 + 5
		o.mid = min(max((o.from+o.to)/2, plotLeft+half), plotRight-half)
		for o.row < len(taken) && covers(taken[o.row], o.mid-half, o.mid+half) {
			o.row++
		}
		if o.row == len(taken) {
			taken = append(taken, nil)
		}
		taken[o.row] = append(taken[o.row], [2]float64{o.mid - half, o.mid + half})
	}
	h.rows = len(taken)
	return h
}

// wideShare is the part of a spectrum from which on a band shades nothing out
// any more. Common practice, no source.
const wideShare = 0.6

func isWide(o account.RotorLine, top float64) bool { return o.HighHz-o.LowHz > wideShare*top }

func orderName(o account.RotorLine) string {
	name := cut(o.Order, longestLabel)
	if o.Folded {
		name += " (folded)"
	}
	return name
}

// wideOrders names the orders that are not shaded.
func wideOrders(s *account.Spectrum) []string {
	var all []string
	for _, o := range s.Orders {
		if isWide(o, topOf(s)) {
			all = append(all, orderName(o))
		}
	}
	return all
}

// covers reports whether a stretch meets one of those that are taken.
func covers(taken [][2]float64, from, to float64) bool {
	for _, t := range taken {
		if from < t[1] && to > t[0] {
			return true
		}
	}
	return false
}

func (h *header) height() float64 { return float64(h.rows)*16 + 4 }

// draw writes the names from the lowest row up, each with its band or sign.
func (h *header) draw(d *drawing, top, above, foot float64) {
	for _, o := range h.all {
		row := above - 5 - float64(o.row)*16
		switch {
		case o.tone:
			d.line(o.from, above, o.from, foot, "tone")
		case o.folded:
			d.rect(o.from, above, o.to-o.from, foot-above, "order folded")
		default:
			d.rect(o.from, above, o.to-o.from, foot-above, "order")
		}
		d.text(o.mid, row, "t", "middle", o.name)
	}
}

// mostBands bounds the rows of a spectrum's figures.
const mostBands = 12

// spectrumFigures are the greatest values in bands of equal width.
func spectrumFigures(title string, s *account.Spectrum, top float64) *table {
	t := &table{Caption: "Figures: " + title + ", the greatest value in each band", Columns: columns("band (Hz)", "#at (Hz)", "#root density ("+unitText(s.Unit)+")")}
	width := niceStep(top, mostBands)
	for lo, hi := 0.0, 0.0; hi < top; lo = hi {
		hi = lo + width
		if hi > top-width/4 { // no band of next to nothing at the end
			hi = top
		}
		best := 0
		for k := max(1, int(math.Ceil(lo/s.BinHz-1e-9))); k < lastBin(s, hi); k++ {
			if best == 0 || s.Root[k] > s.Root[best] {
				best = k
			}
		}
		if best > 0 {
			t.row(number(lo)+" to "+number(hi), number(float64(best)*s.BinHz), number(float64(s.Root[best])))
		}
	}
	return t
}

// An axisTone is the strongest tone of an axis.
type axisTone struct {
	axis string
	tone *account.Tone
}

// orderTable says in numbers where the orders lie. Of a strongest tone that lies
// among them it says whether it is theirs: the range is that of a long time, and
// at the time of the tone the rotors may have turned elsewhere.
func orderTable(caption string, s *account.Spectrum, tones ...axisTone) *table {
	t := &table{Caption: caption, Columns: columns("order", "#from (Hz)", "#to (Hz)", "seen")}
	for _, o := range s.Orders {
		seen := "in its place"
		if o.Folded {
			seen = "folded: it lies over half the stream's rate"
		}
		for _, h := range tones {
			if t := h.tone; t.Rotor == "" && t.Hz >= o.LowHz && t.Hz <= o.HighHz {
				seen += fmt.Sprintf("; but the strongest of %s, %s Hz, is none of it: at %s the rotors turned elsewhere", h.axis, number(t.Hz), second(t.At))
			}
		}
		t.row(o.Order, number(o.LowHz), number(o.HighHz), seen)
	}
	return t
}
