package detect

import (
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"testing"

	"tetherbell/decode"
)

// TestVelocityOfAcceleration: 1 g rms in mm/s rms (v = a/(2 pi f), recomputed
// with an independent calculator).
func TestVelocityOfAcceleration(t *testing.T) {
	for hz, want := range map[float64]float64{
		10: 156.078, 50: 31.2155, 80: 19.5097, 100: 15.6078, 159.155: 9.8066, 266.67: 5.8528, 500: 3.1216,
	} {
		if got := MMS(1, hz); math.Abs(got-want) > 1e-4*want {
			t.Errorf("%v Hz: %v, want %v", hz, got, want)
		}
	}
}

// TestZones: ISO 10816-1:1995 annex B, class I: 0.71, 1.8, 4.5 mm/s (five
// secondary sources agree; the standard was not seen).
func TestZones(t *testing.T) {
	for v, want := range map[float64]string{0: "A", 0.70: "A", 0.72: "B", 1.79: "B", 1.81: "C", 4.49: "C", 4.51: "D", 50: "D"} {
		if got := Zone(v); got != want {
			t.Errorf("%v mm/s: %s, want %s", v, got, want)
		}
	}
}

// TestFold: |f - fs round(f/fs)|, the sampling theorem. Rotors of 270 to 335 Hz
// in records of 505 a second show at fs less their speed, 235 to 170 Hz (open
// flights, recomputed); 68 Hz at 60 a second is the 8 Hz of slow-stream.
func TestFold(t *testing.T) {
	for _, v := range [][3]float64{{270, 505, 235}, {335, 505, 170}, {68, 60, 8}, {68, 400, 68}, {204, 200, 4}, {100, 100, 0}, {149, 100, 49}} {
		if got := fold(v[0], v[1]); math.Abs(got-v[2]) > 1e-9 {
			t.Errorf("%v Hz at %v/s: %v, want %v", v[0], v[1], got, v[2])
		}
		// The samples themselves: two cosines that differ in nothing.
		for k := range 50 {
			a := math.Cos(2 * math.Pi * v[0] * float64(k) / v[1])
			b := math.Cos(2 * math.Pi * v[2] * float64(k) / v[1])
			if math.Abs(a-b) > 1e-9 {
				t.Fatalf("%v Hz at %v/s is not %v Hz", v[0], v[1], v[2])
			}
		}
	}
}

// listen feeds an ear with rows of three values and returns it after each
// segment.
func listen(t *testing.T, hz float64, at []int64, rows [][3]float64, each func(e *lineEar)) {
	t.Helper()
	e := newLineEar(newSpectra())
	s := Stream{Period: 1e6 / hz, Steady: true}
	n := 0
	for i, row := range rows {
		var r [3]Reading
		for k := range r {
			r[k] = Reading{V: row[k], OK: true}
		}
		if e.take(&s, &r, at[i]) {
			e.hear()
			each(e)
			n++
		}
	}
	if n < 3 {
		t.Fatalf("%d segments", n)
	}
}

// TestLineSize: a sinusoid is measured with its size, whatever the segment's
// length: the Hann window's coherent gain is 1/2, and half a bin beside its
// maximum at this padding it loses 0.36 dB at most (F. J. Harris, Proc. IEEE
// 66(1), 1978, table I: 1.42 dB at half a cell; a quarter cell recomputed).
func TestLineSize(t *testing.T) {
	for _, hz := range []float64{50, 100, 200, 400, 1000, 2000} {
		for _, f := range []float64{0.1234, 0.2, 0.31, 0.4} {
			var at []int64
			var rows [][3]float64
			for k := range int(4 * hz) {
				at = append(at, int64(math.Round(float64(k)*1e6/hz)))
				x := 3 * math.Sin(2*math.Pi*f*float64(k))
				rows = append(rows, [3]float64{x, 0, -9.8})
			}
			listen(t, hz, at, rows, func(e *lineEar) {
				_, power, _ := e.near(0, f*hz, e.cell())
				if a := math.Sqrt(power); a > 3.03 || a < 3*math.Pow(10, -0.40/20) {
					t.Errorf("%v/s, %v Hz: %v", hz, f*hz, a)
				}
				if over, _, _ := e.near(1, f*hz, e.cell()); over != 0 {
					t.Errorf("a line on an axis that is still")
				}
			})
		}
	}
}

// TestTrend: the force of an unbalance grows with the square of the speed
// (F = U w^2), and so does g.
func TestTrend(t *testing.T) {
	var l lineLevels
	if _, ok := l.trend(); ok {
		t.Error("a trend of nothing")
	}
	for hz := 20.0; hz < 60; hz *= 1.06 {
		b := int(math.Log(hz) / trendStep)
		l.sum[b] += math.Log(3e-4 * hz * hz)
		l.count[b]++
	}
	if p, ok := l.trend(); !ok || math.Abs(p-2) > 0.15 {
		t.Errorf("power %v, %v", p, ok)
	}
}

// TestRotatingMachine: on an open record of a slowly turning machine (RoSA
// archive, BSD-3) the strongest line of the specific force, which is gravity as
// the turning sensor feels it, stands at the reported speed, within the 2.5 % by
// which the report agrees with the machine's own rate. It is played eight times
// as fast, so that a segment holds as many turns as on a craft.
func TestRotatingMachine(t *testing.T) {
	rows := openData(t, "rotating_machine/healthy_35.csv")[1:]
	// The record is not evenly spaced: put on an even grid of 50 a second by
	// straight lines (the line has twelve samples a turn).
	const pace = 8 * 50.0
	var at []int64
	var v [][3]float64
	rpm := 0.0
	for i, r := range rows {
		rpm += number(t, r[2]) / float64(len(rows))
		if i == 0 {
			continue
		}
		p := rows[i-1]
		from, to := number(t, p[0]), number(t, r[0])
		for next := 20 * float64(len(at)+1); next < to; next = 20 * float64(len(at)+1) {
			share := (next - from) / (to - from)
			y, z := number(t, p[7]), number(t, r[7])
			at = append(at, int64(1000/8*next))
			v = append(v, [3]float64{0, y + share*(z-y), 0})
		}
	}
	n := 0.0
	var power [earMost + 1]float64
	scale := 0.0
	listen(t, pace, at, v, func(e *lineEar) {
		for k := range e.bins {
			power[k] += e.power[1][k]
		}
		scale, n = e.rate/float64(2*e.size), n+1
	})
	best := 2
	for k := 3; float64(k)*scale < 8*8; k++ {
		if power[k] > power[best] {
			best = k
		}
	}
	a, b, c := math.Log(power[best-1]), math.Log(power[best]), math.Log(power[best+1])
	hz := (float64(best) + 0.5*(a-c)/(a-2*b+c)) * scale / 8
	t.Logf("%.3f Hz, reported %.3f, %v segments at %.1f a second", hz, rpm/60, n, pace)
	if math.Abs(hz/(rpm/60)-1) > 0.025 {
		t.Errorf("line at %v Hz, speed %v", hz, rpm/60)
	}
}

// TestFanVibration: an open record of a fan with two weights (UCI
// "Accelerometer"; Sensors 2019, 19, 4342): side by side they shake it more than
// at a right angle, and that more than opposite each other, at full speed and
// at 60 %.
func TestFanVibration(t *testing.T) {
	rows := openData(t, "fan_unbalance/fan_subset.csv")
	for _, speed := range []string{"60", "70", "80", "90", "100"} {
		var g [4]float64
		for config := 1; config <= 3; config++ {
			var at []int64
			var v [][3]float64
			for _, r := range rows[1:] {
				if r[1] == speed && r[0] == strconv.Itoa(config) {
					at = append(at, int64(len(at))*20_000)
					v = append(v, [3]float64{number(t, r[2]), number(t, r[3]), number(t, r[4])})
				}
			}
			n := 0.0
			listen(t, 50, at, v, func(e *lineEar) {
				for axis := range 3 {
					for k := range e.bins {
						g[config] += e.power[axis][k]
					}
				}
				n++
			})
			g[config] = math.Sqrt(g[config] / n / 2)
		}
		t.Logf("%s %%: %.3f %.3f %.3f", speed, g[1], g[2], g[3])
		if g[1] < g[2] || g[2] < g[3] {
			t.Errorf("at %s %%: %v", speed, g[1:])
		}
	}
}

// TestSlowFlightRecordsAreRefused: the open nano-quadrotor records have 101
// lines a second and no rotor speeds: nothing is claimed of them.
func TestSlowFlightRecordsAreRefused(t *testing.T) {
	rows := openData(t, "quad_hover/rates_healthy_A0.csv")
	col := map[string]int{}
	for i, h := range rows[0] {
		col[h] = i
	}
	tr := newTrial(NewRotorLine(), heron)
	for _, r := range rows[1:] {
		v := make([]float64, 3)
		for i, x := range []string{"x", "y", "z"} {
			v[i] = 57.29578 * number(t, r[col["rate_"+x+"_rad_s"]])
		}
		at := int64(1e6 * number(t, r[col["t_s"]]))
		tr.tick(at)
		tr.feed(at, decode.Axes, 101, v)
	}
	tr.silent(t)
	if m := tr.d.Missing(&tr.b); m != "no rotor speeds" {
		t.Error(m)
	}
	// Speeds as such craft have them, 270 to 335 turns a second: over half the pace.
	tr.feed(tr.b.Now, decode.ERPM, 50, all4(300*60*7))
	tr.d.(*RotorLineDetector).fastest = 300 * 7
	watchful(t, tr, false)
}

// nth against a sort of the same values.
func TestNthOfASort(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for n := 1; n < 130; n++ {
		x := make([]float64, n)
		for i := range x {
			x[i] = math.Floor(rng.ExpFloat64() * float64(1+n%40)) // many are alike
		}
		sorted := slices.Clone(x)
		slices.Sort(sorted)
		for k := range sorted {
			if got := nth(slices.Clone(x), k); got != sorted[k] {
				t.Fatalf("%d of %v: %v, not %v", k, x, got, sorted[k])
			}
		}
	}
}
