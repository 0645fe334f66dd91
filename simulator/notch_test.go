package simulator

import (
	"math"
	"math/cmplx"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const notchRate = 1e6 / tickUS // samples a second

// passed drives a filter with a sine until it has settled and returns what it
// passes of it, by size and phase (correlation with the sine over whole turns
// of it: frequencies are whole hertz).
func passed(filter func(x float64) float64, hz float64) complex128 {
	var sum complex128
	for k := range 4000 {
		angle := 2 * math.Pi * math.Mod(hz*float64(k)/notchRate, 1)
		y := filter(math.Cos(angle))
		if k >= 3000 {
			sum += complex(2*y/1000, 0) * cmplx.Exp(complex(0, -angle))
		}
	}
	return sum
}

// The notch's response, sine by sine, is that of the analogue notch
// (s^2 + 1)/(s^2 + s/Q + 1) where the bilinear transform puts it, s = j tan(pi
// f/fs)/tan(pi f0/fs) (any text on digital filters; from memory): nought at
// its centre, unity far away.
func TestNotchResponse(t *testing.T) {
	for _, tt := range []struct{ centre, q float64 }{{100, 3}, {100, 1}, {40, 3}, {220, 5}, {410, 3}, {60, 20}} {
		var n notch
		n.tune(tt.centre/notchRate, tt.q)
		response := func(hz float64) complex128 {
			var m memory
			return passed(func(x float64) float64 { return n.filter(&m, x) }, hz)
		}
		for hz := 1.0; hz < 500; hz += 7 {
			s := complex(0, math.Tan(math.Pi*hz/notchRate)/math.Tan(math.Pi*tt.centre/notchRate))
			want := (s*s + 1) / (s*s + s/complex(tt.q, 0) + 1)
			require.Less(t, cmplx.Abs(want-response(hz)), 1e-6, "%v Hz past a notch at %v, Q %v", hz, tt.centre, tt.q)
		}
		assert.Less(t, cmplx.Abs(response(tt.centre)), 1e-6, "nothing at its centre")
		assert.InDelta(t, 1, cmplx.Abs(response(1)), 0.01)
		assert.InDelta(t, 1, cmplx.Abs(response(499)), 0.01)
	}
}

// It takes half the power away at two frequencies that lie f/Q apart, as tan(pi
// f/fs) measures them. In hertz that narrows, for a slim notch by sin(w)/w
// with w = 2 pi f/fs (the slope of that scale; worked out).
func TestNotchWidth(t *testing.T) {
	for _, tt := range []struct{ centre, q, within float64 }{{40, 3, 0.001}, {100, 3, 0.005}, {100, 1, 0.03}, {60, 10, 0.001}, {200, 3, 0.01}} {
		var n notch
		n.tune(tt.centre/notchRate, tt.q)
		edge := func(inside, outside float64) float64 {
			for range 60 {
				mid := (inside + outside) / 2
				// Its own coefficients, as any text has the response of a filter.
				z := cmplx.Exp(complex(0, -2*math.Pi*mid/notchRate))
				b0, b1, a2 := complex(n.b0, 0), complex(n.b1, 0), complex(n.a2, 0)
				if cmplx.Abs((b0+b1*z+b0*z*z)/(1+b1*z+a2*z*z)) < math.Sqrt(0.5) {
					inside = mid
				} else {
					outside = mid
				}
			}
			return inside
		}
		low, high := edge(tt.centre, 0.01), edge(tt.centre, 499.99)
		warp := func(hz float64) float64 { return math.Tan(math.Pi * hz / notchRate) }
		assert.InEpsilon(t, warp(tt.centre)/tt.q, warp(high)-warp(low), 1e-9)
		assert.InEpsilon(t, warp(tt.centre), math.Sqrt(warp(high)*warp(low)), 1e-9, "the centre is the edges' geometric mean")
		w := 2 * math.Pi * tt.centre / notchRate
		assert.InEpsilon(t, tt.centre/tt.q*math.Sin(w)/w, high-low, tt.within)
		t.Logf("%v Hz, Q %v: %.3f to %.3f Hz, %.3f apart, f/Q %.3f", tt.centre, tt.q, low, high, high-low, tt.centre/tt.q)
	}
}

// The notches follow the rotors by their electrical speed: with the magnet
// poles counted wrongly the centre lies beside the line, at true poles over
// counted ones of it (definition of electrical speed), and the line passes.
func TestNotchFollowsTheRotor(t *testing.T) {
	tests := []struct {
		name            string
		poles, reckoned int
		n, centre       float64 // rev/s, Hz
		countBy         float64
	}{
		{"as built", 14, 0, 120, 120, 1},
		{"right count", 14, 14, 120, 120, 1},
		{"12 for 14", 14, 12, 120, 140, 1},
		{"14 for 12", 12, 14, 140, 120, 1},
		{"half of the poles", 14, 28, 120, 60, 1},
		{"the drive counts a tenth too much", 14, 14, 120, 132, 1.1},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			sc := Default()
			sc.Craft.Poles, sc.Loop.NotchPoles, sc.Loop.Notch = tt.poles, tt.reckoned, true
			all := newNotches(&sc)
			rotors := make([]rotor, 4)
			rotors[1].n, rotors[1].countBy = tt.n, tt.countBy
			for range 4 {
				all.follow(rotors)
			}
			least, at := 1.0, 0.0
			for hz := 20.0; hz < 450; hz += 2 {
				each := all // with a memory of its own
				if got := cmplx.Abs(passed(func(x float64) float64 { return each.filter(0, x) }, hz)); got < least {
					least, at = got, hz
				}
			}
			assert.Equal(t, tt.centre, at)
			assert.Less(t, least, 1e-6)
			line := cmplx.Abs(passed(func(x float64) float64 { return all.filter(1, x) }, tt.n))
			t.Logf("centre at %v Hz, of the line at %v Hz it passes %.4f", at, tt.n, line)
			if tt.centre == tt.n {
				assert.Less(t, line, 1e-6)
			} else {
				assert.Greater(t, line, 0.4)
			}
		})
	}
}
