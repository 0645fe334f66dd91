package hearing

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// transition is the loop's matrix, found by letting it step from each unit
// state.
func transition(l *loop) *mat.Dense {
	n := statePast + l.delay
	a := mat.NewDense(n, n, nil)
	for col := range n {
		m := *l
		m.past, m.head = make([]float64, l.delay), 0
		m.y, m.m, m.g, m.i = 0, 0, 0, 0
		switch col {
		case stateY:
			m.y = 1
		case stateM:
			m.m = 1
		case stateG:
			m.g = 1
		case stateI:
			m.i = 1
		default:
			m.past[(l.delay-(col-statePast))%l.delay] = 1
		}
		m.step(0, 0, 0)
		for row, v := range []float64{m.y, m.m, m.g, m.i} {
			a.Set(row, col, v)
		}
		for j := range l.delay {
			a.Set(statePast+j, col, m.past[((m.head-j)%l.delay+l.delay)%l.delay])
		}
	}
	return a
}

// TestLoopPoles holds the drawn loops against gonum's eigenvalues of their
// transition matrix: one pair grows as asked, all others die away.
func TestLoopPoles(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 60 {
		f := 3 * math.Pow(50.0/3, rng.Float64())
		growth := 0.3 * math.Pow(5/0.3, rng.Float64())
		l := drawLoop(rng, f, growth, 1.0/2000)
		var eig mat.Eigen
		require.True(t, eig.Factorize(transition(l), mat.EigenNone))
		out := 0
		for _, v := range eig.Values(nil) {
			s := cmplx.Log(v) / complex(l.h, 0)
			if real(s) > -0.02*2*math.Pi*f {
				out++
				assert.InDelta(t, growth, real(s), 1e-6*2*math.Pi*f)
				assert.InDelta(t, 2*math.Pi*f, math.Abs(imag(s)), 1e-6*2*math.Pi*f)
			}
		}
		assert.Equal(t, 2, out)
	}
}

// TestLoopMode: the projected amplitude grows by exactly exp(growth h) a step
// while nothing comes in, and it is the output's amplitude once it alone is
// left.
func TestLoopMode(t *testing.T) {
	l := drawLoop(rand.New(rand.NewPCG(3, 4)), 8, 1.5, 1.0/2000)
	l.y = 1
	a, _ := l.mode(0, 0)
	for range 4000 {
		l.step(0, 0, 0)
		b, _ := l.mode(0, 0)
		require.InEpsilon(t, a*math.Exp(1.5/2000), b, 1e-9)
		a = b
	}
	for range 250 {
		u := l.step(0, 0, 0)
		amplitude, phase := l.mode(0, 0)
		require.InDelta(t, amplitude*math.Cos(phase), u, 1e-3*amplitude)
	}
}
