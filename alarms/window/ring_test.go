package window

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat"
)

func fill(capacity int, at []int64, v []float64) *Ring {
	r := New(capacity)
	for i := range at {
		r.Push(at[i], v[i])
	}
	return r
}

// near fails the test where got lies further than within from want.
func near(t *testing.T, what string, want, got, within float64) {
	t.Helper()
	if math.IsNaN(got) || math.Abs(want-got) > within {
		t.Errorf("%s: got %v, want %v within %v", what, got, want, within)
	}
}

func TestRing(t *testing.T) {
	tests := []struct {
		name            string
		capacity        int
		at              []int64
		v               []float64
		drop            int64
		count           int
		span            int64
		mean, low, high float64
	}{
		{"empty", 4, nil, nil, 0, 0, 0, 0, 0, 0},
		{"one", 4, []int64{5}, []float64{2}, 0, 1, 0, 2, 2, 2},
		{"not full", 4, []int64{0, 10, 20}, []float64{1, -2, 4}, 0, 3, 20, 1, -2, 4},
		{"just full", 3, []int64{0, 10, 20}, []float64{1, -2, 4}, 0, 3, 20, 1, -2, 4},
		{"wraps: the oldest goes", 3, []int64{0, 10, 20, 30, 40}, []float64{9, 9, 1, 2, 3}, 0, 3, 20, 2, 1, 3},
		{"drops older than", 8, []int64{0, 10, 20, 30}, []float64{9, 9, 1, 3}, 20, 2, 10, 2, 1, 3},
		{"drops all", 8, []int64{0, 10}, []float64{9, 9}, 11, 0, 0, 0, 0, 0},
		{"drops after a wrap", 3, []int64{0, 10, 20, 30}, []float64{9, 8, 7, 5}, 15, 2, 10, 6, 5, 7},
		{"refuses to go back", 8, []int64{0, 10, 9, 20}, []float64{1, 2, 99, 3}, 0, 3, 20, 2, 1, 3},
		{"two of one time", 8, []int64{5, 5}, []float64{1, 3}, 0, 2, 0, 2, 1, 3},
		{"capacity under one", 0, []int64{1, 2}, []float64{1, 3}, 0, 1, 0, 3, 3, 3},
	}
	for _, c := range tests {
		t.Run(c.name, func(t *testing.T) {
			r := fill(c.capacity, c.at, c.v)
			r.DropBefore(c.drop)
			near(t, "count", float64(c.count), float64(r.Count()), 0)
			near(t, "span", float64(c.span), float64(r.Span()), 0)
			near(t, "mean", c.mean, r.Mean(), 0)
			near(t, "min", c.low, r.Min(), 0)
			near(t, "max", c.high, r.Max(), 0)
			near(t, "spread", c.high-c.low, r.Spread(), 0)
		})
	}
}

func TestAtAndClear(t *testing.T) {
	r := fill(3, []int64{1, 2, 3, 4}, []float64{10, 20, 30, 40})
	for i, want := range []float64{20, 30, 40} {
		at, v := r.At(i)
		near(t, "value", want, v, 0)
		near(t, "time", want/10, float64(at), 0)
	}
	r.Clear()
	near(t, "count after a clear", 0, float64(r.Count()), 0)
	if !r.Push(0, 7) {
		t.Error("after a clear time may start anew")
	}
	near(t, "mean after a clear", 7, r.Mean(), 0)
}

// A line is found again exactly; a cloud of points is compared with gonum's
// regression and mean, a general reference library.
func TestSlopeAgainstGonum(t *testing.T) {
	r := New(8)
	for i := range 5 {
		r.Push(int64(i)*250_000, 1+3*float64(i)*0.25)
	}
	near(t, "a line of 3 a second", 3, r.Slope(), 1e-12)

	rng := rand.New(rand.NewPCG(1, 2))
	for range 50 {
		n := 2 + rng.IntN(200)
		ring := New(64) // shorter than most clouds: wraps
		var x, y []float64
		at := int64(rng.IntN(1_000_000_000))
		for range n {
			at += int64(1 + rng.IntN(40_000))
			v := rng.NormFloat64()
			ring.Push(at, v)
			x, y = append(x, float64(at)/1e6), append(y, v)
		}
		if len(x) > 64 {
			x, y = x[len(x)-64:], y[len(y)-64:]
		}
		_, slope := stat.LinearRegression(x, y, nil, false)
		near(t, "slope", slope, ring.Slope(), 1e-6*max(1, math.Abs(slope)))
		near(t, "mean", stat.Mean(y, nil), ring.Mean(), 1e-12)
	}
}

func TestSlopeWithoutTime(t *testing.T) {
	near(t, "empty", 0, New(3).Slope(), 0)
	near(t, "one value", 0, fill(3, []int64{4}, []float64{1}).Slope(), 0)
	near(t, "two values of one time", 0, fill(3, []int64{4, 4}, []float64{1, 2}).Slope(), 0)
}

func TestAllocatesNothing(t *testing.T) {
	r := New(50)
	at, sink := int64(0), 0.0
	allocs := testing.AllocsPerRun(1000, func() {
		at += 1000
		r.Push(at, float64(at))
		r.DropBefore(at - 40_000)
		sink += r.Mean() + r.Spread() + r.Slope()
	})
	near(t, "allocations", 0, allocs, 0)
	if sink == 0 {
		t.Error("nothing was computed")
	}
}

func BenchmarkPush(b *testing.B) {
	r := New(1000)
	b.ReportAllocs()
	for i := range b.N {
		r.Push(int64(i), float64(i))
	}
}

func BenchmarkMeanOf50(b *testing.B) {
	r := New(50)
	for i := range 50 {
		r.Push(int64(i), float64(i))
	}
	b.ReportAllocs()
	sink := 0.0
	for b.Loop() {
		sink += r.Mean()
	}
	_ = sink
}
