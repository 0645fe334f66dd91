package hearing

import (
	"math"
	"math/rand/v2"
)

// MostACycle is the growth a cycle beyond which an oscillation is tip-over's.
const MostACycle = 0.35

// GrowthBench draws a bench with one axis that goes unstable: 3 to 50 Hz at
// ten lines a cycle or more, growth 0.3 to 5 a second and at most MostACycle.
// A disturbed one has stick moves, throttle ramps and strong rotor lines in
// every mixture.
func GrowthBench(seed uint64, disturbed bool) Bench {
	rng := rand.New(rand.NewPCG(seed, 0x90))
	b := Bench{Name: "quiet", Seed: seed, Loss: 0.03 * rng.Float64(), Begin: 6 + 2*rng.Float64()}
	if rng.IntN(4) == 0 {
		b.Begin = 0.2 + rng.Float64() // armed with gains too high
	}
	b.Rate = []float64{200, 400, 1000}[rng.IntN(3)]
	b.Hz = 3 * math.Pow(min(50, b.Rate/10)/3, rng.Float64())
	b.Growth = 0.3 * math.Pow(min(5, MostACycle*b.Hz)/0.3, rng.Float64())
	b.Wash = 1
	b.Seconds = b.Begin + math.Log(1e4)/b.Growth
	if disturbed {
		b.Name = "disturbed"
		mix := 1 + rng.IntN(7)
		b.Sticks, b.Ramps = mix&1 != 0, mix&2 != 0
		if mix&4 != 0 {
			b.Lines = 0.003 + 0.009*rng.Float64()
		}
		b.Wash = 1 + rng.Float64()
		b.NoSpeeds = rng.IntN(2) == 0
		b.Drift = rng.IntN(2) == 0
	}
	return b
}
