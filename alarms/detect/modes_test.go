package detect

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"tetherbell/decode/craft"
)

var layouts = []string{"quad-x", "quad-plus", "hex-x", "octo-x", "tri"}

// Where the motors sit: x forward, y right (ISO 1151-1; as the protocol cites
// it, standard not seen), clockwise seen from above, m1 the first one right of
// the nose.
func TestAirframes(t *testing.T) {
	for _, c := range []struct {
		layout string
		motor  int
		x, y   float64
	}{
		{"quad-x", 0, math.Sqrt2 / 2, math.Sqrt2 / 2}, {"quad-x", 1, -math.Sqrt2 / 2, math.Sqrt2 / 2},
		{"quad-x", 2, -math.Sqrt2 / 2, -math.Sqrt2 / 2}, {"quad-x", 3, math.Sqrt2 / 2, -math.Sqrt2 / 2},
		{"quad-plus", 0, 0, 1}, {"quad-plus", 1, -1, 0}, {"quad-plus", 3, 1, 0},
		{"hex-x", 0, math.Sqrt(3) / 2, 0.5}, {"hex-x", 1, 0, 1}, {"hex-x", 5, math.Sqrt(3) / 2, -0.5},
		{"tri", 0, 0.5, math.Sqrt(3) / 2}, {"tri", 1, -1, 0}, {"tri", 2, 0.5, -math.Sqrt(3) / 2},
	} {
		f, ok := airframeOf(&craft.Craft{Layout: c.layout})
		if !ok {
			t.Fatal(c.layout)
		}
		near(t, c.layout+" x", c.x, f.arms[c.motor].x, 1e-12)
		near(t, c.layout+" y", c.y, f.arms[c.motor].y, 1e-12)
	}
	for _, w := range []string{"custom", "", "hex-y"} {
		if _, ok := airframeOf(&craft.Craft{Layout: w}); ok {
			t.Errorf("%q has no known places", w)
		}
	}
}

// By hand: the front two of a quad-x lift 1.2, the rear two 0.8. The nose
// goes up: pitch moment per arm 0.2/cos 45 = 0.2828; the centre of thrust lies
// 0.2*cos 45 = 0.1414 arms forward. The same left and right: right motors
// stronger push the left side down, so roll is negative and weight is right.
func TestModesByHand(t *testing.T) {
	f, _ := airframeOf(&craft.Craft{Layout: "quad-x"})
	m := f.split([]float64{1.2, 0.8, 0.8, 1.2})
	near(t, "pitch", 0.2*math.Sqrt2, m.pitch, 1e-12)
	near(t, "forward", 0.1*math.Sqrt2, m.forward, 1e-12)
	near(t, "roll", 0, m.roll, 1e-12)
	near(t, "yaw", 0, m.yaw, 1e-12)
	near(t, "rest", 0, m.rest, 1e-7)
	m = f.split([]float64{1.2, 1.2, 0.8, 0.8})
	near(t, "roll", -0.2*math.Sqrt2, m.roll, 1e-12)
	near(t, "right", 0.1*math.Sqrt2, m.right, 1e-12)
	m = f.split([]float64{1.1, 0.9, 1.1, 0.9})
	near(t, "yaw", 0.1, m.yaw, 1e-12)
	m = f.split([]float64{0, 0, 0, 0})
	if m != (modes{}) {
		t.Error("no thrust has modes")
	}
}

// The general least squares of gonum/mat, a reference library, on the matrix
// of mean, roll, pitch and yaw.
func TestModesAgainstLeastSquares(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for _, name := range layouts {
		f, _ := airframeOf(&craft.Craft{Layout: name})
		cols := 3
		if f.twist {
			cols = 4
		}
		for range 50 {
			thrust := make([]float64, f.count)
			mean := 0.0
			for i := range thrust {
				thrust[i] = 0.5 + rng.Float64()
				mean += thrust[i] / float64(f.count)
			}
			a := mat.NewDense(f.count, cols, nil)
			y := mat.NewVecDense(f.count, nil)
			for i := range thrust {
				row := []float64{1, -f.arms[i].y, f.arms[i].x, f.arms[i].turn}
				a.SetRow(i, row[:cols])
				y.SetVec(i, thrust[i]/mean-1)
			}
			var x, r mat.VecDense
			if err := x.SolveVec(a, y); err != nil {
				t.Fatal(err)
			}
			r.MulVec(a, &x)
			r.SubVec(y, &r)
			m := f.split(thrust)
			near(t, name+" mean", 0, x.AtVec(0), 1e-12)
			near(t, name+" roll", x.AtVec(1), m.roll, 1e-12)
			near(t, name+" pitch", x.AtVec(2), m.pitch, 1e-12)
			if f.twist {
				near(t, name+" yaw", x.AtVec(3), m.yaw, 1e-12)
			}
			near(t, name+" rest", r.Norm(2)/math.Sqrt(float64(f.count)), m.rest, 1e-7)
		}
	}
}

// Random layouts of one's own against gonum's QR factors and, where columns
// depend on each other, its singular values: what is left is the same, whatever
// weights a solver picks.
func TestCustomModesAgainstLeastSquares(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	for trial := range 300 {
		n := 3 + rng.IntN(6)
		c := craft.Craft{Layout: "custom"}
		bearing := 0.0
		for range n {
			bearing += 5 + rng.Float64()*(340/float64(n)-5)
			c.Arms = append(c.Arms, craft.Arm{BearingDeg: bearing, LengthMM: 60 + 300*rng.Float64(), Clockwise: trial%5 == 0 || rng.IntN(2) == 0})
		}
		f, ok := airframeOf(&c)
		require.True(t, ok)
		thrust := make([]float64, n)
		for i := range thrust {
			thrust[i] = 0.5 + rng.Float64()
		}
		e, _ := differences(thrust)
		cols := f.columns()
		a := mat.NewDense(n, len(cols), nil)
		for i := range n {
			for k := range cols {
				a.Set(i, k, cols[k][i])
			}
		}
		y := mat.NewVecDense(n, e[:n])
		m := f.split(thrust)
		var svd mat.SVD
		require.True(t, svd.Factorize(a, mat.SVDThin))
		rank := 0
		values := svd.Values(nil)
		for _, v := range values {
			if v > 1e-9*values[0] {
				rank++
			}
		}
		var x mat.VecDense
		svd.SolveVecTo(&x, y, rank)
		var r mat.VecDense
		r.MulVec(a, &x)
		r.SubVec(y, &r)
		near(t, "rest", r.Norm(2)/math.Sqrt(float64(n)), m.rest, 1e-7)
		if rank < len(cols) || n < len(cols) {
			continue
		}
		var qr mat.QR
		qr.Factorize(a)
		require.NoError(t, qr.SolveVecTo(&x, false, y))
		near(t, "roll", x.AtVec(1), m.roll, 1e-9)
		near(t, "pitch", x.AtVec(2), m.pitch, 1e-9)
		if f.twist {
			near(t, "yaw", x.AtVec(3), m.yaw, 1e-9)
		}
	}
}

// A custom layout that stands as quad-x does is quad-x; and one whose front
// arms are longer has its middle ahead of where they meet: by hand, arms of 200
// at 45 and 315 degrees and of 100 at 135 and 225: 141.42 and -70.71 mm, their
// middle at 35.36 mm.
func TestCustomAirframe(t *testing.T) {
	arms := func(front, rear float64) []craft.Arm {
		return []craft.Arm{{BearingDeg: 45, LengthMM: front}, {BearingDeg: 135, LengthMM: rear, Clockwise: true},
			{BearingDeg: 225, LengthMM: rear}, {BearingDeg: 315, LengthMM: front, Clockwise: true}}
	}
	same, ok := airframeOf(&craft.Craft{Layout: "custom", Arms: arms(157.5, 157.5)})
	require.True(t, ok)
	want, _ := airframeOf(&craft.Craft{Layout: "quad-x", ArmMM: 157.5})
	for i := range 4 {
		near(t, "x", want.arms[i].x, same.arms[i].x, 1e-12)
		near(t, "y", want.arms[i].y, same.arms[i].y, 1e-12)
		near(t, "turn", want.arms[i].turn, same.arms[i].turn, 0)
	}
	near(t, "arm", 157.5, same.mm, 1e-9)
	long, _ := airframeOf(&craft.Craft{Layout: "custom", Arms: arms(200, 100)})
	near(t, "ahead", (141.4214-35.3553)/150, long.arms[0].x, 1e-6)
	near(t, "behind", (-70.7107-35.3553)/150, long.arms[1].x, 1e-6)
	m := long.split([]float64{1, 1, 1, 1})
	near(t, "all alike: nothing off centre", 0, math.Hypot(m.forward, m.right), 1e-12)
	one, _ := airframeOf(&craft.Craft{Layout: "custom", Arms: []craft.Arm{{BearingDeg: 60, LengthMM: 100}, {BearingDeg: 180, LengthMM: 100}, {BearingDeg: 300, LengthMM: 100}}})
	if one.twist {
		t.Error("propellers that all turn one way have no yaw mode")
	}
}

// Pure causes leave nothing when they are taken out, and others leave much.
func TestUnexplained(t *testing.T) {
	for _, name := range layouts {
		f, _ := airframeOf(&craft.Craft{Layout: name})
		centred, twisted, alone := make([]float64, f.count), make([]float64, f.count), make([]float64, f.count)
		for i := range f.count {
			centred[i] = 1 + 0.2*(0.8*f.arms[i].x+0.3*f.arms[i].y)
			twisted[i] = 1 + 0.2*f.arms[i].turn
			alone[i] = 1
		}
		alone[2] = 1.4
		c, tw, o := f.unexplained(centred, 0)
		near(t, name+" centre", 0, c, 1e-12)
		if f.twist && (tw < 0.9 || o < 0.2) {
			t.Errorf("%s: a weight off centre is taken for another: %v %v", name, tw, o)
		}
		if f.twist {
			c, tw, _ = f.unexplained(twisted, 0)
			near(t, name+" twist", 0, tw, 1e-12)
			near(t, name+" centre of a twist", 1, c, 1e-12)
		}
		c, _, o = f.unexplained(alone, 2)
		near(t, name+" one motor", 0, o, 1e-12)
		if f.count > 3 && c < causeLeft {
			t.Errorf("%s: one motor is taken for a weight: %v", name, c)
		}
		c, tw, o = f.unexplained(make([]float64, f.count), 0)
		if c != 1 || tw != 1 || o != 1 {
			t.Error("motors that do not lift have a cause")
		}
	}
}
