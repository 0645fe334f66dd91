package compare

import "math"

// The band in which a loop that rings is heard. Under it lie the person's
// stick, rocking on soft pads and the drift of integrators; over it the lines
// of the rotors (both common practice, no source).
const (
	bandLow  = 1.9 // Hz
	bandHigh = 60  // Hz
)

// Two equal first-order sections meet -3 dB where each alone has -1.5 dB: a
// low-pass at f needs sections at f/pair, a high-pass sections at f*pair.
// pair = sqrt(2^(1/2) - 1): |H|^4 = 1/2 of one section 1/(1+(f/fc)^2).
var pair = math.Sqrt(math.Sqrt2 - 1)

// A step is what the sections of a band need to know of the time since the
// last sample. It is worked out once for all that a line carries.
type step struct{ low, high float64 }

// stepOf is exact for a value that stands between samples, whatever the time
// between them: streams lose lines and their pace trembles.
func stepOf(seconds float64) step {
	return step{
		low:  -math.Expm1(-2 * math.Pi * bandLow * pair * seconds),
		high: -math.Expm1(-2 * math.Pi * bandHigh / pair * seconds),
	}
}

// A band lets bandLow to bandHigh pass, second order at each end. First-order
// sections are stable for any time step. The zero value begins at rest.
type band struct {
	begun      bool
	low1, low2 float64
	top1, top2 float64
}

// take returns the part of x that lies in the band.
func (b *band) take(x float64, k step) float64 {
	if !b.begun {
		*b = band{begun: true, low1: x}
		return 0
	}
	b.low1 += k.low * (x - b.low1)
	y := x - b.low1
	b.low2 += k.low * (y - b.low2)
	y -= b.low2
	b.top1 += k.high * (y - b.top1)
	b.top2 += k.high * (b.top1 - b.top2)
	return b.top2
}
