package simulator

import "math/rand/v2"

// A noise is one seeded stream of random numbers. Each user of chance has a
// stream of its own, so that neither a lost line nor another pace
// of the streams changes what the craft does.
type noise struct{ pcg *rand.PCG }

// The streams of chance. The numbers are part of what a seed means.
const (
	streamAir    = 0x9E3779B97F4A7C15
	streamSensor = 0xBF58476D1CE4E5B9
	streamLink   = 0x94D049BB133111EB
	streamParts  = 0xD6E8FEB86659FD93
	streamLines  = 0xA0761D6478BD642F
)

func newNoise(seed, stream uint64) noise { return noise{rand.NewPCG(seed, stream)} }

// uniform returns a number in [0, 1). Every value is exact.
func (n *noise) uniform() float64 { return float64(n.pcg.Uint64()>>11) / (1 << 53) }

// spread is the standard deviation of the sum of eight 16-bit numbers:
// sqrt(8 * (2^32 - 1) / 12).
const spread = 53509.91992144966

// normal returns a number of mean 0 and standard deviation 1 whose
// distribution is close to normal (the sum of eight uniform numbers, so none
// lies beyond 4.9). The library's own normal numbers call math.Log and
// math.Exp, which differ between processors in the last digit.
func (n *noise) normal() float64 {
	a, b := n.pcg.Uint64(), n.pcg.Uint64()
	sum := a&0xFFFF + a>>16&0xFFFF + a>>32&0xFFFF + a>>48 +
		b&0xFFFF + b>>16&0xFFFF + b>>32&0xFFFF + b>>48
	return (float64(sum) - 8*32767.5) / spread
}
