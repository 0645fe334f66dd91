package detect

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// A shaker is a craft whose rotors shake it: drawn for the tests, by no code of
// the detector. Speeds rise from slow to fast over ten seconds and stay.
type shaker struct {
	poles      int
	slow, fast float64    // turns a second
	off        [4]float64 // of each rotor's speed, share
	size       [3]float64 // deg/s of once, twice and blade pass at fast; they grow with speed squared
	tone       float64    // Hz of a line that stands still, 0 none
	toneSize   float64    // deg/s
	frame      float64    // Hz of a resonance with Q 10, 0 none
	noise      float64    // deg/s
	half       bool       // m3 reports half its speed
	blades     int
	rng        *rand.Rand
}

const shakeUp = 10.0

func (s *shaker) turn(t float64) float64 {
	return s.slow + (s.fast-s.slow)*min(max(t, 0), shakeUp)/shakeUp
}

// angle is the number of turns since the start.
func (s *shaker) angle(t float64) float64 {
	k := (s.fast - s.slow) / shakeUp
	if t < shakeUp {
		return s.slow*t + k*t*t/2
	}
	return s.slow*shakeUp + k*shakeUp*shakeUp/2 + s.fast*(t-shakeUp)
}

func (s *shaker) axes(t float64) []float64 {
	var x float64
	for m := range 4 {
		hz := s.turn(t) * (1 + s.off[m])
		turns := s.angle(t) * (1 + s.off[m])
		for k, order := range [3]float64{1, 2, float64(s.blades)} {
			gain := (hz / s.fast) * (hz / s.fast)
			if s.frame > 0 {
				r := order * hz / s.frame
				gain /= math.Hypot(1-r*r, r/10)
			}
			x += s.size[k] * gain * math.Sin(2*math.Pi*order*turns+float64(m)*1.3+float64(k))
		}
	}
	x += s.toneSize * math.Sin(2*math.Pi*s.tone*t)
	v := make([]float64, 10)
	for i := range 3 {
		v[i] = x*[]float64{1, 0.6, 0.4}[i] + s.noise*s.rng.NormFloat64()
	}
	return v
}

func (s *shaker) erpm(t float64) []float64 {
	v := make([]float64, 4)
	for m := range v {
		v[m] = s.turn(t) * (1 + s.off[m]) * 60 * float64(s.poles) / 2 * (1 + 0.001*s.rng.NormFloat64())
	}
	if s.half {
		v[2] /= 2
	}
	return v
}

// shake runs it for 14 s.
func (s shaker) shake(stated int, hz, jitter, loss float64) *trial {
	c := heron
	c.Poles = stated
	c.Blades = s.blades
	s.rng = rand.New(rand.NewPCG(uint64(s.poles), uint64(stated)))
	t := newTrial(NewRotorLine(), c)
	t.run(0, 14,
		stream{decode.Axes, hz, jitter, loss, s.axes},
		stream{decode.ERPM, 50, 0.1, loss, s.erpm},
		stream{decode.State, 20, 0, 0, steady(state(1, 0, 1, 0.3)...)})
	return t
}

var plainShake = shaker{poles: 14, slow: 20, fast: 70, size: [3]float64{1, 0.3, 0.3}, noise: 0.2, blades: 3, off: [4]float64{0, 0.01, -0.01, 0.02}}

// TestPolesOfDrawnShakes: the count is named whatever makes the lines, and
// nothing is said where the craft has it right.
func TestPolesOfDrawnShakes(t *testing.T) {
	with := func(f func(s *shaker)) shaker { s := plainShake; f(&s); return s }
	tests := []struct {
		name  string
		s     shaker
		rates []float64
	}{
		{"once a turn is the strongest", plainShake, []float64{200, 500}},
		{"once a turn alone", with(func(s *shaker) { s.size = [3]float64{1, 0, 0} }), []float64{200, 400}},
		{"twice is ten times stronger", with(func(s *shaker) { s.size = [3]float64{0.5, 5, 0} }), []float64{500}},
		{"blade pass is ten times stronger", with(func(s *shaker) { s.size = [3]float64{0.5, 0, 5} }), []float64{500}},
		{"twice is three times stronger, folded", with(func(s *shaker) { s.size = [3]float64{0.5, 1.5, 0} }), []float64{200}},
		{"blade pass is three times stronger, folded", with(func(s *shaker) { s.size = [3]float64{0.5, 0, 1.5} }), []float64{200}},
		{"blade pass of two blades", with(func(s *shaker) { s.size, s.blades = [3]float64{0.5, 4, 0}, 2 }), []float64{400}},
		{"blade pass alone", with(func(s *shaker) { s.size = [3]float64{0, 0, 2} }), []float64{1000}},
		{"all three", with(func(s *shaker) { s.size = [3]float64{1, 1, 1} }), []float64{200, 500}},
		{"a strong tone stands still", with(func(s *shaker) { s.tone, s.toneSize = 35, 8 }), []float64{200, 400}},
		{"a tone at half of the last speed", with(func(s *shaker) { s.tone, s.toneSize = 35, 2 }), []float64{200, 400}},
		{"the frame resounds at 60 Hz", with(func(s *shaker) { s.frame = 60 }), []float64{200, 500}},
		{"rotors 3 % apart", with(func(s *shaker) { s.off = [4]float64{0.03, -0.03, 0, 0.015} }), []float64{200, 500}},
		{"a motor reports half its speed", with(func(s *shaker) { s.half = true }), []float64{400}},
	}
	for _, tt := range tests {
		for _, hz := range tt.rates {
			for _, poles := range []int{8, 12, 16, 28} {
				if testing.Short() && poles != 16 || tt.name == "blade pass alone" && poles != 28 {
					continue
				}
				s := tt.s
				s.poles = poles
				for _, stated := range []int{poles, 14, 24} {
					tr := s.shake(stated, hz, 0.1, 0.05)
					at := fmt.Sprintf("%s, %v/s, %d poles, said to be %d", tt.name, hz, poles, stated)
					var r []change
					for _, c := range tr.raised() {
						if !strings.HasPrefix(c.story.Cause, "stream too slow") {
							r = append(r, c)
						}
					}
					if stated == poles {
						if len(r) > 0 {
							t.Errorf("%s:%s", at, tr.list())
						}
						continue
					}
					if len(r) != 1 || r[0].story.More[1].Value != poles || r[0].where != Craft || r[0].level != Low {
						t.Errorf("%s: want %d named once, said:%s", at, poles, tr.list())
					}
				}
			}
		}
	}
}

// TestPolesNotStated: what fits is noted for the journal, and no more.
func TestPolesNotStated(t *testing.T) {
	tr := plainShake.shake(0, 400, 0.1, 0.05)
	c := tr.one(t, Craft, Note, 0, 10)
	if c.story.More[0] != (Fact{"fits_poles", 14}) {
		t.Error(c.story)
	}
	v := tr.d.(*RotorLineDetector).View(&tr.b)
	if v.Poles != 14 || !v.Sure || v.Likelihood < 0.99 || v.Agree != v.Speak || v.Speak < 3 || v.Stated != 0 {
		t.Errorf("%+v", v)
	}
}

// TestNoLineNoClaim: noise, a tone that stands still, or rotors that never
// change their speed name no count.
func TestNoLineNoClaim(t *testing.T) {
	for name, s := range map[string]shaker{
		"noise alone":              {poles: 14, slow: 20, fast: 70, noise: 0.3, blades: 3},
		"a tone that stands still": {poles: 14, slow: 20, fast: 70, noise: 0.3, tone: 40, toneSize: 5, blades: 3},
		"one speed":                {poles: 14, slow: 60, fast: 60.1, noise: 0.1, size: [3]float64{2, 0, 0}, blades: 3},
		"one speed, and a tone where 12 poles would have it": {poles: 14, slow: 60, fast: 60.1, noise: 0.1, tone: 70, toneSize: 2, blades: 3},
	} {
		for _, hz := range []float64{200, 500} {
			tr := s.shake(12, hz, 0.1, 0.05)
			for _, c := range tr.raised() {
				t.Errorf("%s at %v: %s", name, hz, c.story.Text)
			}
		}
	}
}

// TestTooSlowToTell: a stream under 2.5 times the rotors' speed says so. Rotors
// of small fast craft turn 270 to 335 times a second (open flights at 505 lines
// a second; recomputed), far over half of a stream of 101.
func TestTooSlowToTell(t *testing.T) {
	for _, tt := range []struct {
		hz, turn float64
		watched  bool
	}{{101, 300, false}, {505, 300, false}, {170, 70, false}, {180, 70, true}, {1000, 300, true}} {
		s := plainShake
		s.slow, s.fast = tt.turn*0.5, tt.turn
		tr := s.shake(14, tt.hz, 0, 0)
		watchful(t, tr, tt.watched)
		if m := tr.d.Missing(&tr.b); !tt.watched && !strings.Contains(m, fmt.Sprintf("up to %.0f times a second", 10*math.Ceil(s.fast*1.02/10))) {
			t.Error(m)
		}
		for _, c := range tr.raised() {
			if c.where == Craft && c.story.Cause != "stream too slow for the rotors' vibration" {
				t.Errorf("%v: %s", tt, c.story.Text)
			}
		}
	}
}

func TestRotorLineNeeds(t *testing.T) {
	d := NewRotorLine()
	tr := newTrial(d, heron)
	watchful(t, tr, false)
	tr.run(0, 1, stream{decode.ERPM, 50, 0, 0, steady(all4(30000)...)})
	watchful(t, tr, false)
	tr.run(1, 2, stream{decode.ERPM, 50, 0, 0, steady(all4(30000)...)}, stream{decode.Accel, 400, 0, 0, steady(0, 0, -9.8)})
	watchful(t, tr, true)
	tr.run(2, 3, stream{decode.ERPM, 50, 0, 0, steady(no, no, no, no)}, stream{decode.Accel, 400, 0, 0, steady(0, 0, -9.8)})
	watchful(t, tr, false)
	tr.silent(t)
}

// TestRotorLineReset: nothing that was heard outlives a restart.
func TestRotorLineReset(t *testing.T) {
	tr := plainShake.shake(12, 400, 0, 0)
	tr.one(t, Craft, Low, 0, 10)
	tr.d.Reset()
	if f := tr.d.Judge(&tr.b, nil); len(f) != 0 {
		t.Error(f)
	}
	if v := tr.d.(*RotorLineDetector).View(&tr.b); v.Sure || v.Poles != 0 {
		t.Errorf("%+v", v)
	}
}

// TestCountPutRight: a count that is put right ends the alarm.
func TestCountPutRight(t *testing.T) {
	tr := plainShake.shake(12, 400, 0, 0)
	tr.one(t, Craft, Low, 0, 10)
	tr.b.Craft.Poles = 14
	tr.run(14, 16, stream{decode.State, 20, 0, 0, steady(state(1, 0, 1, 0.3)...)})
	if last := tr.said[len(tr.said)-1]; last.word != "cleared" {
		t.Error(tr.list())
	}
}

// TestRotorsApart: 15 % off at the same output, not where the output explains
// it, nor beyond what rotor-lost tells.
func TestRotorsApart(t *testing.T) {
	tests := []struct {
		name       string
		speed, out float64 // of m2 over the others
		rings      bool
	}{
		{"alike", 1, 1, false},
		{"slow, just under", 0.86, 1, false},
		{"slow, just over", 0.84, 1, true},
		{"quick, just under", 1.14, 1, false},
		{"quick, just over", 1.16, 1, true},
		{"slow, with less output", 0.8, 0.7, false},
		{"quick, with more output", 1.25, 1.4, false},
		{"slow, with more output", 0.84, 1.3, true},
		{"far off is a lost rotor's", 0.6, 1, false},
		{"half is a miscount", 0.5, 1, false},
	}
	for _, tt := range tests {
		for _, p := range []struct{ hz, loss float64 }{{10, 0}, {50, 0.05}, {200, 0.05}} {
			tr := newTrial(NewRotorLine(), heron)
			streams := func(armed float64) []stream {
				return []stream{
					{decode.ERPM, p.hz, 0.1, p.loss, steady(28000, 28000*tt.speed, 28000, 28000)},
					{decode.Out, 50, 0.1, p.loss, steady(0.3, 0.3*tt.out, 0.3, 0.3)},
					{decode.State, 20, 0, 0, steady(state(armed, 0, 1, 0.3)...)},
				}
			}
			tr.run(0, 4, streams(1)...)
			if !tt.rings {
				tr.silent(t)
				continue
			}
			c := tr.one(t, M2, Low, 0.9, 1.6)
			if math.Abs(c.value-tt.speed) > 0.01 {
				t.Errorf("%s: %s", tt.name, c)
			}
			tr.run(4, 6, streams(0)...)
			if tr.said[len(tr.said)-1].word != "cleared" {
				t.Errorf("%s disarmed:%s", tt.name, tr.list())
			}
		}
	}
	// Without outputs there is no equal output to go by; a motor that is not
	// measured leaves three.
	tr := newTrial(NewRotorLine(), heron)
	tr.run(0, 4, stream{decode.ERPM, 50, 0, 0, steady(28000, 23000, 28000, 28000)}, stream{decode.State, 20, 0, 0, steady(state(1, 0, 1, 0.3)...)})
	tr.silent(t)
}

// TestFoldIntoTheBand: a line that folds to 8 Hz rings from a tenth of the
// limit for rates on, 6 deg/s; one that folds elsewhere does not.
func TestFoldIntoTheBand(t *testing.T) {
	for _, tt := range []struct {
		hz, size float64
		rings    bool
	}{{60, 7.5, true}, {60, 4.5, false}, {100, 7.5, false}, {400, 7.5, false}} {
		s := shaker{poles: 14, slow: 67.5, fast: 68, size: [3]float64{tt.size / 4, 0, 0}, noise: 0.1, blades: 3}
		// All four rotors are one line: in step, their sizes add up.
		c := heron
		s.rng = rand.New(rand.NewPCG(1, 2))
		tr := newTrial(NewRotorLine(), c)
		one := func(t float64) []float64 {
			v := make([]float64, 10)
			v[0] = tt.size*math.Sin(2*math.Pi*s.angle(t)) + 0.1*s.rng.NormFloat64()
			return v
		}
		tr.run(0, 14, stream{decode.Axes, tt.hz, 0.05, 0.02, one}, stream{decode.ERPM, 50, 0, 0, s.erpm},
			stream{decode.State, 20, 0, 0, steady(state(1, 0, 1, 0.3)...)})
		if !tt.rings {
			tr.silent(t)
			continue
		}
		ch := tr.one(t, Craft, Low, 1.5, 4)
		if math.Abs(ch.value-8.0/68) > 0.01 || ch.story.Cause != "stream too slow for the rotors' vibration" {
			t.Error(ch, ch.story)
		}
	}
}

// TestOtherRate: at the pace that is named, no order of the lines stands in the
// band (by the sampling theorem, worked out here by trying every multiple).
func TestOtherRate(t *testing.T) {
	for low := 15.0; low < 300; low += 7 {
		rate := otherRate(low, low*1.02, [3]float64{1, 2, 3}, 3)
		if rate == 0 {
			continue
		}
		for _, order := range []float64{1, 2, 3} {
			f, least := low*order, math.Inf(1)
			for k := 1.0; k < 10; k++ {
				least = min(least, math.Abs(f-k*rate))
			}
			if f > rate/2 && least < foldHigh {
				t.Errorf("%v Hz at %v/s shows at %v Hz", f, rate, least)
			}
		}
	}
	if got := otherRate(68, 68, [3]float64{1, 2, 3}, 3); got == 0 || got < 170 {
		t.Error(got)
	}
}

// TestRotorLineAllocatesNothing, nor does the view.
func TestRotorLineAllocatesNothing(t *testing.T) {
	d := NewRotorLine()
	tr := newTrial(d, craft.Craft{Motors: 8, Poles: 12, Blades: 3})
	samples := []decode.Sample{
		sampleOf(decode.Axes, []float64{5, 2, 1}), sampleOf(decode.Accel, []float64{1, 2, -9}),
		sampleOf(decode.ERPM, []float64{30000, 30000, 30000, 30000, 30000, 30000, 30000, 30000}),
		sampleOf(decode.Out, []float64{0.3, 0.3, 0.3, 0.3, 0.3, 0.3, 0.3, 0.3}), sampleOf(decode.State, state(1, 0, 1, 0.3)),
	}
	inputs := make([]Input, len(samples))
	found := make([]Finding, 0, 16)
	at := int64(0)
	var v LineView
	if n := testing.AllocsPerRun(3000, func() {
		for i := range samples {
			at += 500
			tr.learn(&samples[i], at, 400)
			tr.b.Now = at
			inputs[i] = Input{S: &samples[i], At: at}
			d.Observe(&tr.b, &inputs[i])
			found = d.Judge(&tr.b, found[:0])
		}
		v = d.View(&tr.b)
	}); n != 0 {
		t.Errorf("allocates %v times", n)
	}
	if v.Motors != 8 {
		t.Error(v)
	}
}

// BenchmarkRotorLine: what a line of axes costs, eight rotors at 400 a second.
func BenchmarkRotorLine(b *testing.B) {
	for _, hz := range []float64{200, 500} {
		b.Run(fmt.Sprint(hz), func(b *testing.B) {
			s := plainShake
			s.rng = rand.New(rand.NewPCG(1, 1))
			d := NewRotorLine()
			tr := newTrial(d, heron)
			tr.run(0, 2, stream{decode.Axes, hz, 0, 0, s.axes}, stream{decode.ERPM, 50, 0, 0, s.erpm})
			line := sampleOf(decode.Axes, s.axes(1))
			turn := sampleOf(decode.ERPM, s.erpm(1))
			in := Input{S: &line}
			spin := Input{S: &turn}
			at, n := tr.b.Now, 0
			for b.Loop() {
				at += int64(1e6 / hz)
				in.At, tr.b.Now = at, at
				if n++; n%int(hz/50) == 0 {
					spin.At = at
					d.Observe(&tr.b, &spin)
				}
				tr.b.Rate[0].V = math.Sin(float64(n))
				d.Observe(&tr.b, &in)
			}
		})
	}
}
