package sound

import (
	"math"
	"sync"
	"time"

	"tetherbell/alarms/detect"
)

// Rate is the number of samples a second, one channel.
const Rate = 48000

// peak is the largest sample, of 1: 3 dB are left for devices that resample.
const peak = 0.7

// The flanks of a pulse are half periods of a cosine: no step in the envelope
// or in its slope, so no click. Such a flank of length 1 passes 10 % at
// acos(0.8)/pi and 90 % at 1 - acos(0.8)/pi.
var (
	pass10 = math.Acos(0.8) / math.Pi
	pass90 = 1 - pass10
)

// flank is the length of the whole flank that takes d from 10 to 90 %.
func flank(d time.Duration) float64 { return d.Seconds() / (pass90 - pass10) }

// attack is the time from the first sound to the 90 % point.
func (p Pattern) attack() time.Duration { return seconds(flank(p.Rise) * pass90) }

// release is the time from the 90 % point to the last sound.
func (p Pattern) release() time.Duration { return seconds(flank(p.Fall) * pass90) }

func seconds(s float64) time.Duration { return time.Duration(math.Round(s * 1e9)) }

// Samples returns one burst, -1 to 1, at Rate. It is a pure function of the
// pattern.
func (p Pattern) Samples() []float32 {
	out := make([]float32, int(math.Ceil(p.Length().Seconds()*Rate))+1)
	tone := p.tone()
	begin := p.attack() // the 90 % point of the next pulse
	for i := range p.Pulses() {
		p.pulse(out, begin, tone)
		begin += p.Pulse
		if i < len(p.Gaps) {
			begin += p.Gaps[i]
		}
	}
	return out
}

// pulse adds one pulse whose first 90 % point is at begin.
func (p Pattern) pulse(out []float32, begin time.Duration, tone func(t float64) float64) {
	up, down := flank(p.Rise), flank(p.Fall)
	start := begin.Seconds() - up*pass90
	stop := (begin + p.Pulse).Seconds() + down*pass90
	first, last := max(0, int(math.Ceil(start*Rate))), min(len(out)-1, int(stop*Rate))
	for n := first; n <= last; n++ {
		t := float64(n) / Rate
		out[n] += float32(peak * ramp((t-start)/up) * ramp((stop-t)/down) * tone(t-start))
	}
}

// ramp rises from 0 at 0 to 1 at 1 as half a period of a cosine.
func ramp(x float64) float64 {
	switch {
	case x <= 0:
		return 0
	case x >= 1:
		return 1
	}
	return (1 - math.Cos(math.Pi*x)) / 2
}

// tone returns the sum of the harmonics with a peak of 1. Their phases are
// those of Schroeder's low-crest-factor rule, -pi k (k-1) / K: the same
// loudness with a lower peak than phases of zero give.
func (p Pattern) tone() func(t float64) float64 {
	levels := append([]float64{0}, p.Harmonics...)
	amps := make([]float64, len(levels))
	phases := make([]float64, len(levels))
	for i, db := range levels {
		amps[i] = math.Pow(10, db/20)
		phases[i] = -math.Pi * float64(i) * float64(i+1) / float64(len(levels))
	}
	sum := func(turns float64) float64 {
		var s float64
		for i, a := range amps {
			s += a * math.Sin(2*math.Pi*float64(i+1)*turns+phases[i])
		}
		return s
	}
	var top float64
	for i := range 4096 {
		top = max(top, math.Abs(sum(float64(i)/4096)))
	}
	return func(t float64) float64 { return sum(t*p.Fundamental) / top }
}

// int16s turns samples of -1 to 1 into the whole numbers devices take.
func int16s(samples []float32) []int16 {
	out := make([]int16, len(samples))
	for i, s := range samples {
		out[i] = int16(math.Round(float64(s) * math.MaxInt16))
	}
	return out
}

// bursts holds each pattern's samples, made at the first call.
var bursts = sync.OnceValue(func() map[detect.Priority][]int16 {
	m := make(map[detect.Priority][]int16, len(patterns))
	for _, p := range patterns {
		m[p.Priority] = int16s(p.Samples())
	}
	return m
})
