package hearing

import (
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
)

// A Study is the whole measurement: what is drawn, how much of it, and from
// which seeds.
type Study struct {
	Growing int      // runs of each background
	Hours   float64  // of benches without cause
	Classes []string // which of them, by name; none stands for all
	Stretch float64  // length of such a bench, seconds; 0 stands for 120
	Fair    float64  // hours from which the baselines' thresholds are set
	Fits    int      // runs of each row of the estimator
	Seed    uint64   // the first; each part takes its own million above it
	Note    func(string)
}

// Each part of a study draws from its own seeds.
const (
	seedsGrowing = 0
	seedsSlow    = 1_000_000
	seedsFalse   = 2_000_000
	seedsFair    = 3_000_000
	seedsRough   = 4_000_000
)

// A GrowthRun is one growing bench and what came of it: the true amplitude at
// which each detector rang, Limit where none did before it.
type GrowthRun struct {
	Bench
	Outcome
	Ours      float64
	Baselines []float64
}

// Missed reports whether the limit was passed in silence.
func (g *GrowthRun) Missed() bool { return len(g.Said) == 0 }

// grow runs benches up to the limit, every detector on the same frames.
func grow(benches []Bench, thresholds []float64) []GrowthRun {
	out := make([]GrowthRun, len(benches))
	parallel(len(benches), func(i int, w *worker) {
		b := benches[i]
		g := GrowthRun{Bench: b, Ours: Limit}
		for range thresholds {
			g.Baselines = append(g.Baselines, Limit)
		}
		for _, d := range w.baselines {
			d.Reset(b.Rate)
		}
		r := Runner{Ahead: true}
		quiet := make([]bool, len(thresholds))
		if thresholds != nil {
			r.Each = func(d *Drawing, f *Frame) {
				for k, base := range w.baselines {
					base.Take(f)
					score := max(base.Score(0), base.Score(1), base.Score(2))
					switch {
					case f.T < b.Begin || g.Baselines[k] < Limit:
					case score < thresholds[k]:
						quiet[k] = true
					case quiet[k]: // one that rang all along says nothing new
						g.Baselines[k] = min(d.Truth(), Limit)
					}
				}
			}
		}
		g.Outcome = r.Run(b)
		if s, ok := g.Heard(); ok {
			g.Ours = s.Truth
		}
		out[i] = g
	})
	return out
}

// worker is what one goroutine reuses.
type worker struct{ baselines []Baseline }

// parallel runs n jobs on all cores; the results do not depend on their
// number.
func parallel(n int, job func(i int, w *worker)) {
	next := make(chan int)
	done := make(chan struct{})
	workers := runtime.GOMAXPROCS(0)
	for range workers {
		go func() {
			defer func() { done <- struct{}{} }()
			w := worker{baselines: Baselines()}
			for i := range next {
				job(i, &w)
			}
		}()
	}
	for i := range n {
		next <- i
	}
	close(next)
	for range workers {
		<-done
	}
}

// SlowBench draws a growing bench on a slow stream: 50 or 100 lines a second,
// four to ten to a cycle.
func SlowBench(seed uint64) Bench {
	rng := rand.New(rand.NewPCG(seed, 0x510))
	b := Bench{Name: "slow", Seed: seed, Loss: 0.03 * rng.Float64(), Begin: 6, Wash: 1}
	b.Rate = []float64{50, 100}[rng.IntN(2)]
	b.Hz = b.Rate / (4 + 6*rng.Float64())
	b.Growth = 0.3 * math.Pow(min(5, MostACycle*b.Hz)/0.3, rng.Float64())
	b.Seconds = b.Begin + math.Log(1e4)/b.Growth
	return b
}

// RoughBench is a disturbed bench with three times the gyro's noise and four
// times the wash: beyond what the figures are promised for.
func RoughBench(seed uint64) Bench {
	b := GrowthBench(seed, true)
	b.Name, b.Noise, b.Wash = "rough", 3, 4
	return b
}

// A FalseClass is what rang in one class without cause.
type FalseClass struct {
	Name  string
	Hours float64
	Rang  []Said
	Runs  []Bench // that they rang in
	Power float64 // mean square of the outputs
}

// falseAlarms lets the engine listen to hours of benches without cause, the
// same number of each class.
func falseAlarms(hours, stretch float64, only []string, seed uint64, note func(string)) []FalseClass {
	var out []FalseClass
	count := len(Classes)
	if len(only) > 0 {
		count = len(only)
	}
	each := max(1, int(math.Ceil(hours*3600/stretch/float64(count))))
	for c := range Classes {
		if len(only) > 0 && !slices.Contains(only, Classes[c].Name) {
			continue
		}
		results := make([]Outcome, each)
		bench := func(i int) Bench { return FalseBench(c, seed+uint64(c*100_000+i), stretch) }
		parallel(each, func(i int, _ *worker) {
			r := Runner{On: true}
			results[i] = r.Run(bench(i))
		})
		var f FalseClass
		f.Name, f.Hours = Classes[c].Name, float64(each)*stretch/3600
		for i, o := range results {
			f.Power += o.Power / float64(each)
			for _, s := range o.Said {
				f.Rang, f.Runs = append(f.Rang, s), append(f.Runs, bench(i))
			}
		}
		out = append(out, f)
		note(fmt.Sprintf("without cause: %s, %.1f h, %d rang", f.Name, f.Hours, len(f.Rang)))
	}
	return out
}

// healthy runs the growing benches with the cause removed, for as long.
func healthy(benches []Bench) (hours float64, rang []Bench) {
	silent := make([]bool, len(benches))
	parallel(len(benches), func(i int, _ *worker) {
		b := benches[i]
		b.Healthy = true
		b.Seconds = min(b.Seconds, b.Begin+20)
		r := Runner{On: true}
		silent[i] = len(r.Run(b).Said) == 0
	})
	for i, b := range benches {
		hours += min(b.Seconds, b.Begin+20) / 3600
		if !silent[i] {
			rang = append(rang, b)
		}
	}
	return hours, rang
}

// fairBlock is the stretch in which a baseline rings at most once, seconds.
const fairBlock = 10

// fairThresholds sets every baseline to one false alarm an hour, over the same
// classes: an alarm is a stretch of ten seconds in which the score passes the
// threshold after one in which it did not.
func fairThresholds(hours, stretch float64, seed uint64) (thresholds []float64, allowed int, fair float64) {
	each := max(1, int(math.Ceil(hours*3600/stretch/float64(len(Classes)))))
	n := each * len(Classes)
	names := Baselines()
	peaks := make([][][]float64, n) // run, baseline, block
	parallel(n, func(i int, w *worker) {
		b := FalseBench(i%len(Classes), seed+uint64(i), stretch)
		d := NewDrawing(b)
		peaks[i] = make([][]float64, len(names))
		for k, base := range w.baselines {
			base.Reset(b.Rate)
			peaks[i][k] = make([]float64, int(stretch/fairBlock)+1)
		}
		var f Frame
		for d.Next(&f) {
			for k, base := range w.baselines {
				base.Take(&f)
				p := &peaks[i][k][int(f.T/fairBlock)]
				for axis := range 3 {
					*p = max(*p, base.Score(axis))
				}
			}
		}
	})
	fair = float64(n) * stretch / 3600
	allowed = int(math.Round(fair))
	out := make([]float64, len(names))
	for k := range names {
		out[k] = leastThreshold(peaks, k, allowed)
	}
	return out, allowed, fair
}

// leastThreshold is the lowest at which no more than the allowed alarms ring.
func leastThreshold(peaks [][][]float64, k, allowed int) float64 {
	alarms := func(threshold float64) int {
		n := 0
		for _, run := range peaks {
			was := false
			for _, p := range run[k] {
				if p >= threshold && !was {
					n++
				}
				was = p >= threshold
			}
		}
		return n
	}
	lo, hi := 0.0, 0.0
	for _, run := range peaks {
		for _, p := range run[k] {
			hi = max(hi, p)
		}
	}
	hi *= 1.001
	for range 60 {
		if mid := (lo + hi) / 2; alarms(mid) > allowed {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}
