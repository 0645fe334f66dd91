package hearing

import (
	"math"
	"math/rand/v2"
)

// A Class is a kind of disturbance without any loop that goes unstable.
type Class struct {
	Name string
	make func(b *Bench, rng *rand.Rand)
}

// Classes are the disturbances that must not ring.
var Classes = []Class{
	{"noise", func(b *Bench, rng *rand.Rand) { b.Noise, b.Wash = 1+3*rng.Float64(), 1+7*rng.Float64() }},
	{"sticks", func(b *Bench, rng *rand.Rand) { b.Sticks, b.NoDemand = true, rng.IntN(4) == 0 }},
	{"taps", func(b *Bench, _ *rand.Rand) { b.Taps = true }},
	{"ramps", func(b *Bench, rng *rand.Rand) { b.Ramps, b.Lines, b.NoSpeeds = true, someLines(rng), rng.IntN(2) == 0 }},
	{"rotor lines", func(b *Bench, rng *rand.Rand) { b.Lines, b.NoSpeeds = 2*someLines(rng), rng.IntN(2) == 0 }},
	{"aliases", func(b *Bench, rng *rand.Rand) {
		b.Rate = []float64{50, 100, 150, 200}[rng.IntN(4)]
		b.Lines, b.Ramps, b.NoSpeeds = someLines(rng), rng.IntN(2) == 0, rng.IntN(2) == 0
	}},
	{"bad lines", func(b *Bench, rng *rand.Rand) { b.Loss, b.Sticks, b.Ramps, b.Lines = 0.05, true, true, someLines(rng) }},
	{"drift", func(b *Bench, rng *rand.Rand) { b.Drift, b.Ramps = true, rng.IntN(2) == 0 }},
	{"coarse", func(b *Bench, rng *rand.Rand) { b.Coarse, b.Sticks = true, rng.IntN(2) == 0 }},
	{"low margin", func(b *Bench, rng *rand.Rand) {
		b.Damping, b.Noise, b.Wash = 0.01*math.Pow(5, rng.Float64()), 1+2*rng.Float64(), 1+3*rng.Float64()
		b.Nearing = rng.IntN(2) == 0
	}},
	{"all", func(b *Bench, rng *rand.Rand) {
		b.Noise, b.Wash, b.Loss = 1+rng.Float64(), 1+3*rng.Float64(), 0.05
		b.Sticks, b.Ramps, b.Taps, b.Lines, b.Drift = true, true, true, someLines(rng), true
		b.NoSpeeds = rng.IntN(2) == 0
	}},
}

func someLines(rng *rand.Rand) float64 { return 0.003 + 0.009*rng.Float64() }

// FalseBench draws a bench of a class: three healthy loops for some seconds.
func FalseBench(class int, seed uint64, seconds float64) Bench {
	rng := rand.New(rand.NewPCG(seed, 0xfa15e))
	b := Bench{Name: Classes[class].Name, Seed: seed, Seconds: seconds, Loss: 0.02 * rng.Float64(), Wash: 1 + rng.Float64()}
	b.Rate = []float64{200, 400, 1000}[rng.IntN(3)]
	Classes[class].make(&b, rng)
	return b
}
