package hearing

import (
	"fmt"
	"math"
	"os"
	"sort"
	"strconv"
	"testing"
	"time"
)

func q(x []float64, p float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	y := append([]float64(nil), x...)
	sort.Float64s(y)
	return y[min(int(p*float64(len(y))), len(y)-1)]
}

func TestExploreGrowth(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("N"))
	if n == 0 {
		t.Skip()
	}
	first, _ := strconv.Atoi(os.Getenv("S"))
	for _, dis := range []bool{false, true} {
		var bs []Bench
		for i := range n {
			bs = append(bs, GrowthBench(uint64(first+i), dis))
		}
		from := time.Now()
		out := All(bs, 2, func(b Bench) Outcome { r := &Runner{}; return r.Run(b) })
		type key struct{ g, r int }
		amps := map[key][]float64{}
		var all, slow, fast []float64
		miss, wrong, early := 0, 0, 0
		var noise []float64
		for i, o := range out {
			b := bs[i]
			noise = append(noise, math.Sqrt(o.Power))
			s, ok := o.Heard()
			if !ok {
				miss++
				fmt.Printf("MISS %v over %.2f lines %.4f drift %v sticks %v ramps %v noise %.1f rms %.4f speeds %v\n", b, o.Over, b.Lines, b.Drift, b.Sticks, b.Ramps, b.Noise, math.Sqrt(o.Power), !b.NoSpeeds)
				all = append(all, 0.11)
				if b.Growth <= 1 {
					slow = append(slow, .11)
				} else {
					fast = append(fast, .11)
				}
				continue
			}
			if s.T < b.Begin {
				early++
				fmt.Printf("EARLY %v at %.2f: %s\n", b, s.T, s.Text)
				continue
			}
			if s.Axis != b.Axis() {
				wrong++
				fmt.Printf("WRONG %v at %.2f truth %.4f: %s\n", b, s.T, s.Truth, s.Text)
			}
			if s.Truth < 0.0025 {
				fmt.Printf("TINY %v at %.2f truth %.4f: %s\n", b, s.T, s.Truth, s.Text)
			}
			all = append(all, s.Truth)
			if b.Growth <= 1 {
				slow = append(slow, s.Truth)
			} else {
				fast = append(fast, s.Truth)
			}
			g := 0
			if b.Growth > 1 {
				g = 1
			}
			if b.Growth > 2.2 {
				g = 2
			}
			amps[key{g, int(b.Rate)}] = append(amps[key{g, int(b.Rate)}], s.Truth)
		}
		fmt.Printf("disturbed %v: miss %d wrong %d early %d; slow median %.4f, fast median %.4f, all 90%% %.4f 95%% %.4f; noise rms %.4f .. %.4f .. %.4f  %v\n", dis, miss, wrong, early,
			q(slow, .5), q(fast, .5), q(all, .9), q(all, .95), q(noise, .1), q(noise, .5), q(noise, .9), time.Since(from))
		for _, r := range []int{200, 400, 1000} {
			for g := range 3 {
				x := amps[key{g, r}]
				fmt.Printf("  rate %4d growth class %d: n %3d median %.4f 90%% %.4f\n", r, g, len(x), q(x, .5), q(x, .9))
			}
		}
	}
}

func TestExploreFalse(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("F"))
	if n == 0 {
		t.Skip()
	}
	first, _ := strconv.Atoi(os.Getenv("S"))
	total := 0
	for c := range Classes {
		if k := os.Getenv("CLASS"); k != "" && k != Classes[c].Name {
			continue
		}
		var bs []Bench
		for i := range n {
			bs = append(bs, FalseBench(c, uint64(first+i), 120))
		}
		from := time.Now()
		out := All(bs, 2, func(b Bench) Outcome { r := &Runner{On: true}; return r.Run(b) })
		said, low := 0, 0
		for i, o := range out {
			low += o.Low
			for _, s := range o.Said {
				said++
				if said < 12 {
					fmt.Printf("  FALSE %v lines %.4f speeds %v noise %.1f rms %.4f t %.2f %s %.4f hz %.1f: %s growth %.2f+-%.2f\n", bs[i], bs[i].Lines, !bs[i].NoSpeeds, bs[i].Noise, math.Sqrt(o.Power), s.T, s.Priority, s.Value, s.Facts["frequency_hz"], s.Text, s.Facts["growth_per_s"], s.Facts["growth_error_per_s"])
				}
			}
		}
		total += said
		fmt.Printf("%-12s %.1f h: %d false, %d low, %v\n", Classes[c].Name, float64(n)*120/3600, said, low, time.Since(from))
	}
	fmt.Println("total", total)
}

func TestExploreAhead(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("A"))
	if n == 0 {
		t.Skip()
	}
	first, _ := strconv.Atoi(os.Getenv("S"))
	for _, dis := range []bool{false, true} {
		var bs []Bench
		for i := range n {
			bs = append(bs, GrowthBench(uint64(first+i), dis))
		}
		out := All(bs, 2, func(b Bench) Outcome { r := &Runner{Ahead: true}; return r.Run(b) })
		in, below, above, open, all := 0, 0, 0, 0, 0
		near, none, good := 0, 0, 0
		tally := [40][3]int{}
		var ratio, rel []float64
		for i, o := range out {
			s, ok := o.Heard()
			if !ok || o.Over == 0 {
				continue
			}
			lo, has := s.Facts["time_to_limit_low_s"]
			if has {
				all++
				left := o.Over - s.T
				hi, b := s.Facts["time_to_limit_high_s"]
				if !b {
					open++
					hi = math.Inf(1)
				}
				pc := int(math.Log2(bs[i].Growth/bs[i].Hz/0.01)) + 3
				tally[pc][0]++
				if left < lo {
					tally[pc][1]++
				}
				if left > hi {
					tally[pc][2]++
				}
				fc := int(math.Log2(bs[i].Hz / 3))
				tally[fc+20][0]++
				if left < lo {
					tally[fc+20][1]++
				}
				if left > hi {
					tally[fc+20][2]++
				}
				switch {
				case left < lo:
					below++
				case left > hi:
					above++
				default:
					in++
				}
				ratio = append(ratio, s.Facts["time_to_limit_s"]/left)
				_ = i
			}
			// one second before the limit
			at := o.Over - 1
			if at < bs[i].Begin || s.T > at {
				continue
			}
			near++
			got := 0.0
			for _, f := range o.Forecasts {
				if f[0] <= at && f[0] > at-0.2 {
					got = f[1] - (at - f[0])
				}
			}
			if got == 0 {
				none++
				continue
			}
			rel = append(rel, got)
			if math.Abs(got-1) <= 0.25 {
				good++
			}
		}
		fmt.Printf("disturbed %v: interval n %d in %.3f below %.3f above %.3f open %.3f; ratio predicted/true 5%% %.2f median %.2f 95%% %.2f\n", dis, all, float64(in)/float64(all), float64(below)/float64(all), float64(above)/float64(all), float64(open)/float64(all), q(ratio, .05), q(ratio, .5), q(ratio, .95))
		fmt.Println(tally)
		fmt.Printf("  1 s before: n %d none %d within 25%%: %.3f; predicted 5%% %.2f 25%% %.2f median %.2f 75%% %.2f 95%% %.2f\n", near, none, float64(good)/float64(near), q(rel, .05), q(rel, .25), q(rel, .5), q(rel, .75), q(rel, .95))
	}
}
