package hearing

import (
	"math"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// A Said is one raised or worsened medium or high rising-oscillation.
type Said struct {
	T        float64
	Axis     int
	Priority detect.Priority
	Truth    float64 // then
	Facts    map[string]float64
	Text     string
}

// An Outcome is what came of a run.
type Outcome struct {
	Said   []Said  // in order; the first alone where the run stops there
	Over   float64 // when the truth passed the limit, 0 never
	Passed float64 // when the truth passed 0.01 for good, 0 never
	Power  float64 // mean square of the three outputs before Begin
	// Forecasts of the time to the limit, with their times, where asked for.
	Forecasts []Forecast
}

// A Forecast is the time to the limit that the engine told, and the truth.
type Forecast struct{ T, Left, Truth float64 }

// Heard reports whether an alarm came before the limit, and the first.
func (o *Outcome) Heard() (Said, bool) {
	if len(o.Said) == 0 {
		return Said{}, false
	}
	return o.Said[0], true
}

// A Runner feeds drawings to an engine.
type Runner struct {
	engine *alarms.Engine
	s      decode.Sample
	seq    uint16
	// Each is called at every frame, before the engine has it.
	Each func(d *Drawing, f *Frame)
	// On keeps the run going past the first alarm and past the limit.
	On bool
	// Ahead keeps it going up to the limit, and notes what is forecast.
	Ahead bool
	snap  alarms.Snapshot
}

// Run draws the bench and lets the engine listen until the first alarm, the
// limit, or the end.
func (r *Runner) Run(b Bench) Outcome {
	d := NewDrawing(b)
	r.engine = alarms.New(craft.Craft{Motors: 4, Poles: 14, Blades: int(d.blades), DiameterMM: 178, MassG: 655}, alarms.Options{})
	r.seq = 0
	var o Outcome
	var f Frame
	stateAt, outAt := 0.0, 0.0
	power, n := 0.0, 0
	for d.Next(&f) {
		if r.Each != nil {
			r.Each(d, &f)
		}
		truth := d.Truth()
		if truth < 0.01 {
			o.Passed = 0
		} else if o.Passed == 0 {
			o.Passed = f.T
		}
		if truth >= Limit && o.Over == 0 {
			o.Over = f.T
			if !r.On {
				break
			}
		}
		if f.T < b.Begin || b.Growth == 0 {
			for _, u := range f.Output {
				power, n = power+u*u, n+1
			}
		}
		if f.T >= stateAt {
			stateAt = f.T + 0.05
			r.state(d, f.T, &o)
		}
		if f.T >= outAt {
			outAt = f.T + 0.02
			r.take(decode.Out, d, f.T, &o, func(s *decode.Sample) {
				for m := range 4 {
					s.Put(m, math.Round(d.throttle*1e3)/1e3)
				}
			})
		}
		r.take(decode.Axes, d, f.T, &o, func(s *decode.Sample) { d.put(&f, s) })
		if len(o.Said) > 0 && !r.On && !r.Ahead {
			break
		}
		if r.Ahead {
			r.engine.Snapshot(&r.snap)
			if a := &r.snap.Axes[b.Axis()]; a.TimeToLimitS > 0 && truth > 0 {
				o.Forecasts = append(o.Forecasts, Forecast{f.T, a.TimeToLimitS, truth})
			}
		}
	}
	o.Power = power / float64(max(n, 1))
	return o
}

func (r *Runner) state(d *Drawing, at float64, o *Outcome) {
	r.take(decode.State, d, at, o, func(s *decode.Sample) {
		stick := func(i int) float64 { return math.Round(d.axes[i].demand/200*1e3) / 1e3 }
		for i, v := range [...]float64{1, 0, 1, d.throttle, stick(0), stick(1), stick(2), 1} {
			s.Put(i, v)
		}
	})
	if d.NoSpeeds {
		return
	}
	r.take(decode.ERPM, d, at, o, func(s *decode.Sample) {
		for m, hz := range d.Speeds() {
			s.Put(m, math.Round(7*60*hz))
		}
	})
}

// take hands one sample to the engine and notes what it says.
func (r *Runner) take(tag decode.Tag, d *Drawing, t float64, o *Outcome, fill func(*decode.Sample)) {
	us := int64(math.Round(t * 1e6))
	r.s = decode.Sample{Tag: tag, Seq: r.seq, Time: uint32(us)}
	r.seq++
	fill(&r.s)
	r.engine.Sample(&r.s, 80)
	for _, ev := range r.engine.Events() {
		if ev.Kind != detect.RisingOscillation || ev.Change != alarms.Raised && ev.Change != alarms.Worsened {
			continue
		}
		if ev.Priority < detect.Medium {
			continue
		}
		said := Said{T: t, Priority: ev.Priority, Truth: d.Truth(), Facts: map[string]float64{}, Text: ev.Story.Text}
		for i := range 3 {
			if detect.Axis(i) == ev.Where {
				said.Axis = i
			}
		}
		for _, m := range ev.Story.More {
			if v, ok := m.Value.(float64); ok {
				said.Facts[m.Name] = v
			}
		}
		o.Said = append(o.Said, said)
	}
}
