package hearing

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// A ringSaid is one low-margin finding that began.
type ringSaid struct {
	t       float64
	axis    int
	damping float64
	facts   map[string]float64
	text    string
}

// hearMargin feeds a bench to the detector of low-margin alone, and returns
// what it began to say. An alarm that comes back within a second is the same.
func hearMargin(b Bench, each ...func(d *Drawing)) (said []ringSaid, d *Drawing) {
	d = NewDrawing(b)
	det := detect.NewLowMargin()
	c := craft.Craft{Motors: 4, Poles: 14, Blades: int(d.blades), DiameterMM: 178, MassG: 655}
	k := detect.Bench{Craft: c, Limits: c.Limits.WithDefaults(178), Motors: 4, OutAt: -1, RPMAt: -1, RestartAt: -1}
	var f Frame
	var s decode.Sample
	var found []detect.Finding
	up := [3]float64{-9, -9, -9}
	stateAt, outAt := 0.0, 0.0
	give := func(tag decode.Tag) {
		st := &k.Streams[tag]
		st.Count, st.Last = st.Count+1, k.Now
		if tag == decode.Axes && st.Count > 9 {
			st.Period, st.Steady = 1e6/b.Rate, true
		}
		s.Tag = tag
		det.Observe(&k, &detect.Input{S: &s, At: k.Now})
	}
	for d.Next(&f) {
		k.Now = int64(math.Round(f.T * 1e6))
		for _, e := range each {
			e(d)
		}
		r := func(v float64) detect.Reading { return detect.Reading{V: v, OK: true, At: k.Now} }
		if f.T >= stateAt {
			stateAt = f.T + 0.05
			k.Armed, k.LastArmed, k.Ground = detect.Yes, detect.Yes, detect.Yes
			k.Stick[0] = r(d.throttle)
			for i := range 3 {
				k.Stick[1+i] = r(math.Round(d.axes[i].demand/200*1e3) / 1e3)
			}
			give(decode.State)
			if !d.NoSpeeds {
				for m, hz := range d.Speeds() {
					k.RPM[m] = r(math.Round(7*60*hz) / 7)
				}
				give(decode.ERPM)
			}
		}
		if f.T >= outAt {
			outAt = f.T + 0.02
			for m := range 4 {
				k.Out[m] = r(math.Round(d.throttle*1e3) / 1e3)
			}
			k.OutAt = k.Now
			give(decode.Out)
		}
		for i := range 3 {
			k.Rate[i], k.Demand[i], k.Ctrl[i] = r(f.Rate[i]), r(f.Demand[i]), r(f.Output[i])
			k.Rate[i].OK, k.Demand[i].OK, k.Ctrl[i].OK = !d.NoRate, !d.NoDemand, !d.NoOutput
		}
		k.Thr = r(d.throttle)
		give(decode.Axes)
		found = det.Judge(&k, found[:0])
		for _, x := range found {
			for i := range 3 {
				if x.Where != detect.Axis(i) {
					continue
				}
				if f.T-up[i] > 1 && x.Level > detect.None {
					story := det.Describe(&k, x)
					n := ringSaid{t: f.T, axis: i, damping: x.Value, facts: map[string]float64{}, text: story.Text}
					for _, m := range story.More {
						if v, ok := m.Value.(float64); ok {
							n.facts[m.Name] = v
						}
					}
					said = append(said, n)
				}
				if f.T-up[i] <= 1 || x.Level > detect.None {
					up[i] = f.T
				}
			}
		}
	}
	return said, d
}

// TestLowMarginIsFound: loops near their margin that ring by more than a
// quarter over what matters are told within 40 s, with a damping ratio that is
// right within what it says of its error; rotor lines in half of them.
// LOWMARGIN sets the number of benches, three loops each; PLAIN leaves the lines
// out, RAMPS, STICKS and TAPS add those.
func TestLowMarginIsFound(t *testing.T) {
	n := sweepSize("LOWMARGIN", 8)
	for _, zeta := range []float64{0.005, 0.01, 0.02, 0.03} {
		material, found := 0, 0
		var ratio, norm, when []float64
		for seed := range n {
			rng := rand.New(rand.NewPCG(uint64(seed), 77))
			b := Bench{Name: "ring", Seed: uint64(seed + 1), Seconds: 40, Loss: 0.02 * rng.Float64(), Damping: zeta, Wash: 2 + 14*rng.Float64()}
			b.Rate = []float64{200, 400, 1000}[rng.IntN(3)]
			b.NoSpeeds = rng.IntN(2) == 0
			if rng.IntN(2) == 0 && os.Getenv("PLAIN") == "" {
				b.Lines = someLines(rng)
			}
			b.Ramps = os.Getenv("RAMPS") != ""
			b.Sticks = os.Getenv("STICKS") != ""
			b.Taps = os.Getenv("TAPS") != ""
			rms, said, d := hearRinging(b)
			for i := range 3 {
				pole := cmplx.Log(d.axes[i].pole)
				hz := imag(pole) / d.h / 2 / math.Pi
				if rms[i] < 0.0025 || hz > 0.9*b.Rate/4 {
					continue
				}
				material++
				for _, s := range said {
					if s.axis != i || math.Abs(s.facts["frequency_hz"]/hz-1) > 0.05 {
						continue
					}
					found++
					ratio, when = append(ratio, s.damping/zeta), append(when, s.t)
					norm = append(norm, math.Abs(s.damping-zeta)/s.facts["damping_error"])
					break
				}
			}
		}
		t.Logf("damping %.3f: found %d of %d; told/true 10%% %.2f median %.2f 90%% %.2f; error over told 68%% %.2f; at %.1f s, 90%% %.1f s", zeta,
			found, material, quantile(ratio, .1), quantile(ratio, .5), quantile(ratio, .9), quantile(norm, .68), quantile(when, .5), quantile(when, .9))
		assert.Greater(t, float64(found), 0.6*float64(material), "damping %.3f", zeta)
		assert.InDelta(t, 1, quantile(ratio, .5), 0.35)
	}
}

// hearRinging also tells the true rms of each loop's pole pair.
func hearRinging(b Bench) (rms [3]float64, said []ringSaid, d *Drawing) {
	count := 0.0
	said, d = hearMargin(b, func(d *Drawing) {
		count++
		for i := range 3 {
			amplitude, _ := d.axes[i].mode(d.axes[i].torque, d.axes[i].demand)
			rms[i] += amplitude * amplitude / 2
		}
	})
	for i := range rms {
		rms[i] = math.Sqrt(rms[i] / count)
	}
	return rms, said, d
}

// TestLowMarginIsNotSaidOfOthers: the disturbances of well damped loops, less
// than one low alarm an hour. LOWFALSE sets the number of benches of a class,
// two minutes each.
func TestLowMarginIsNotSaidOfOthers(t *testing.T) {
	n := sweepSize("LOWFALSE", 4)
	count, hours := 0, 0.0
	for c := range Classes {
		if Classes[c].Name == "low margin" {
			continue
		}
		in := 0
		for seed := range n {
			b := FalseBench(c, uint64(5001+seed), 120)
			said, _ := hearMargin(b)
			for _, s := range said {
				t.Log(b, "lines", b.Lines, "no speeds", b.NoSpeeds, s.t, s.text)
			}
			in += len(said)
			hours += b.Seconds / 3600
		}
		count += in
		t.Logf("%-12s %d in %.1f h", Classes[c].Name, in, float64(n)/30)
	}
	t.Logf("%d in %.1f h", count, hours)
	assert.LessOrEqual(t, float64(count), max(1, hours))
}

func sweepSize(name string, small int) int {
	if n, err := strconv.Atoi(os.Getenv(name)); err == nil && n > 0 {
		return n
	}
	return small
}
