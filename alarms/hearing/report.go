package hearing

import (
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"sort"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"
)

// Run makes the measurement, writes its tables to w in markdown and, where dir
// is not empty, its pictures into dir.
func (s *Study) Run(w io.Writer, dir string) error {
	note := s.Note
	if note == nil {
		note = func(string) {}
	}
	stretch := s.Stretch
	if stretch == 0 {
		stretch = 120
	}
	p := &page{w: w}
	p.printf("Seeds from %d on. Amplitudes are peaks of the controller output, as shares of full output; the limit is %.2f. The gyro's noise is %.3f deg/s/sqrt(Hz), sampled by loops of %d steps a second.\n", s.Seed, Limit, GyroDensity, stepsASecond)
	thresholds, allowed, fair := fairThresholds(s.Fair, stretch, s.Seed+seedsFair)
	note("thresholds of the baselines")
	backgrounds := [][]GrowthRun{}
	for i, disturbed := range []bool{false, true} {
		benches := make([]Bench, s.Growing)
		for k := range benches {
			benches[k] = GrowthBench(s.Seed+seedsGrowing+uint64(i*100_000+k), disturbed)
		}
		backgrounds = append(backgrounds, grow(benches, thresholds))
		note("growing: " + backgrounds[i][0].Name)
	}
	rough := make([]Bench, max(1, s.Growing/4))
	for k := range rough {
		rough[k] = RoughBench(s.Seed + seedsRough + uint64(k))
	}
	backgrounds = append(backgrounds, grow(rough, thresholds))
	p.growing(backgrounds)
	p.byGrowth(backgrounds[:2])
	p.forecasts(backgrounds)
	p.baselines(backgrounds, thresholds, allowed, fair)
	slow := make([]Bench, max(1, s.Growing/2))
	for k := range slow {
		slow[k] = SlowBench(s.Seed + seedsSlow + uint64(k))
	}
	p.slow(grow(slow, nil))
	note("slow streams")
	var removed []Bench
	for _, runs := range backgrounds[:2] {
		for _, r := range runs {
			removed = append(removed, r.Bench)
		}
	}
	hours, rang := healthy(removed)
	note("causes removed")
	p.falseAlarms(falseAlarms(s.Hours, stretch, s.Classes, s.Seed+seedsFalse, note), hours, rang)
	p.estimates(s.Fits, s.Seed)
	if dir != "" && p.err == nil {
		p.err = pictures(dir, backgrounds[:2])
	}
	return p.err
}

// page writes tables and keeps the first error.
type page struct {
	w   io.Writer
	err error
}

func (p *page) printf(format string, v ...any) {
	if p.err == nil {
		_, p.err = fmt.Fprintf(p.w, format, v...)
	}
}

// quantile of a sample: the smallest value that at least this share of it does
// not exceed.
func quantile(x []float64, share float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	y := append([]float64(nil), x...)
	sort.Float64s(y)
	return y[max(int(math.Ceil(share*float64(len(y))))-1, 0)]
}

// atMost is the share that k of n runs leave possible at 95 % (C. J. Clopper and
// E. S. Pearson, Biometrika 26, 1934, 404-413): a quantile of the beta
// distribution.
func atMost(k, n int) float64 {
	if k >= n {
		return 1
	}
	return distuv.Beta{Alpha: float64(k + 1), Beta: float64(n - k)}.Quantile(0.95)
}

// mostEvents is the expectation that k events of chance leave possible at 95 %
// (F. Garwood, Biometrika 28, 1936, 437-442; from memory): a quantile of the
// gamma distribution.
func mostEvents(k int) float64 {
	return distuv.Gamma{Alpha: float64(k + 1), Beta: 1}.Quantile(0.95)
}

// ours lists the amplitudes at the alarm of the runs that keep tells.
func ours(runs []GrowthRun, keep func(g *GrowthRun) bool) (x []float64) {
	for i := range runs {
		if keep(&runs[i]) {
			x = append(x, runs[i].Ours)
		}
	}
	return x
}

func (p *page) growing(backgrounds [][]GrowthRun) {
	p.printf("\n## Growing oscillation\n\n| background | runs | passed in silence (at 95 %% under) | output rms before | amplitude at the alarm: median, growth to 1 /s | median, growth 1 to 5 /s | 95th percentile | median delay after the amplitude passes 0.01, over 6 cycles or 0.3 s if longer | right axis | rang before the cause |\n|---|---|---|---|---|---|---|---|---|---|\n")
	for _, runs := range backgrounds {
		missed, right, heard, early := 0, 0, 0, 0
		var noise, delay []float64
		for i := range runs {
			g := &runs[i]
			noise = append(noise, math.Sqrt(g.Power))
			said, ok := g.Heard()
			if !ok {
				missed++
				delay = append(delay, math.Inf(1))
				continue
			}
			heard++
			if said.Axis == g.Axis() {
				right++
			}
			if said.T < g.Begin {
				early++
			}
			late := 0.0
			if g.Passed > 0 {
				late = max(said.T-g.Passed, 0)
			}
			delay = append(delay, late/max(6/g.Hz, 0.3))
		}
		slow := ours(runs, func(g *GrowthRun) bool { return g.Growth <= 1 })
		fast := ours(runs, func(g *GrowthRun) bool { return g.Growth > 1 })
		all := ours(runs, func(*GrowthRun) bool { return true })
		p.printf("| %s | %d | %d (%.2f %%) | %.4f | %.4f | %.4f | %.4f | %.2f | %.2f %% | %d |\n", runs[0].Name, len(runs), missed, 100*atMost(missed, len(runs)), quantile(noise, 0.5),
			quantile(slow, 0.5), quantile(fast, 0.5), quantile(all, 0.95), quantile(delay, 0.5), 100*float64(right)/float64(max(heard, 1)), early)
	}
	for _, runs := range backgrounds {
		shown := 0
		for i := range runs {
			if g := &runs[i]; g.Missed() && shown < 12 {
				shown++
				p.printf("\nmissed: %v, over at %.2f s", g.Bench, g.Over)
			}
		}
	}
	p.printf("\n")
}

// growthEdges bound the classes of growth, 1/s.
var growthEdges = []float64{0.3, 0.6, 1, 1.7, 3, 5}

func (p *page) byGrowth(backgrounds [][]GrowthRun) {
	p.printf("\n## By stream and growth: median and 90th percentile of the amplitude at the alarm\n\n| background | lines /s |")
	for k := range len(growthEdges) - 1 {
		p.printf(" %g to %g /s |", growthEdges[k], growthEdges[k+1])
	}
	p.printf("\n|---|---|%s\n", strings.Repeat("---|", len(growthEdges)-1))
	for _, runs := range backgrounds {
		for _, rate := range []float64{200, 400, 1000} {
			p.printf("| %s | %.0f |", runs[0].Name, rate)
			for k := range len(growthEdges) - 1 {
				x := ours(runs, func(g *GrowthRun) bool {
					return g.Rate == rate && g.Growth > growthEdges[k] && g.Growth <= growthEdges[k+1]
				})
				p.printf(" %.4f %.4f |", quantile(x, 0.5), quantile(x, 0.9))
			}
			p.printf("\n")
		}
	}
}

// forecasts holds the time to the limit against what came.
func (p *page) forecasts(backgrounds [][]GrowthRun) {
	p.printf("\n## Time to the limit\n\n| background | alarms | 90 %% interval held the true time | it was less | it was more | within 25 %% one second before, of runs | the same with growth and amplitude known exactly |\n|---|---|---|---|---|---|---|\n")
	for _, runs := range backgrounds {
		n, in, below, above := 0, 0, 0, 0
		near, good, best := 0, 0, 0
		for i := range runs {
			g := &runs[i]
			said, ok := g.Heard()
			if !ok || g.Over == 0 {
				continue
			}
			if low, told := said.Facts["time_to_limit_low_s"]; told {
				n++
				switch left := g.Over - said.T; {
				case left < low:
					below++
				case left > said.Facts["time_to_limit_high_s"]:
					above++
				default:
					in++
				}
			}
			at := g.Over - 1
			if at < g.Begin || said.T > at {
				continue
			}
			near++
			told, truth := 0.0, 0.0
			for _, f := range g.Forecasts {
				if f.T <= at && f.T > at-0.2 {
					told, truth = f.Left-(at-f.T), f.Truth
				}
			}
			if math.Abs(told-1) <= 0.25 {
				good++
			}
			if truth > 0 && math.Abs(math.Log(Limit/truth)/g.Growth-1) <= 0.25 {
				best++
			}
		}
		share := func(k, n int) float64 { return 100 * float64(k) / float64(max(n, 1)) }
		p.printf("| %s | %d | %.1f %% | %.1f %% | %.1f %% | %.1f %% of %d | %.1f %% |\n", runs[0].Name, n, share(in, n), share(below, n), share(above, n), share(good, near), near, share(best, near))
	}
}

func (p *page) baselines(backgrounds [][]GrowthRun, thresholds []float64, allowed int, hours float64) {
	p.printf("\n## Beside published detectors, their thresholds set to %d false alarms in %.1f hours of the same classes\n\n| detector | threshold |", allowed, hours)
	for _, runs := range backgrounds {
		p.printf(" %s: missed | median amplitude |", runs[0].Name)
	}
	p.printf("\n|---|---|%s\n", strings.Repeat("---|---|", len(backgrounds)))
	names, _ := each(nil, nil)
	for k, name := range names {
		p.printf("| %s |", name)
		if k == 0 {
			p.printf(" as built |")
		} else {
			p.printf(" %.4f |", thresholds[k-1])
		}
		for _, runs := range backgrounds {
			_, amplitudes := each(runs, func(*GrowthRun) bool { return true })
			missed := 0
			for _, a := range amplitudes[k] {
				if a >= Limit {
					missed++
				}
			}
			p.printf(" %.1f %% | %.4f |", 100*float64(missed)/float64(len(runs)), quantile(amplitudes[k], 0.5))
		}
		p.printf("\n")
	}
}

func (p *page) slow(runs []GrowthRun) {
	p.printf("\n## Slow streams, quiet\n\n| lines /s | lines a cycle | hertz | runs | heard | median amplitude | 90th percentile |\n|---|---|---|---|---|---|---|\n")
	for _, rate := range []float64{50, 100} {
		for _, per := range []float64{4, 5, 6, 8} {
			next := map[float64]float64{4: 5, 5: 6, 6: 8, 8: 10}[per]
			in := func(g *GrowthRun) bool { return g.Rate == rate && g.Rate/g.Hz >= per && g.Rate/g.Hz < next }
			all := ours(runs, in)
			if len(all) == 0 {
				continue
			}
			missed := ours(runs, func(g *GrowthRun) bool { return in(g) && g.Missed() })
			p.printf("| %.0f | %.0f to %.0f | %.1f to %.1f | %d | %.1f %% | %.4f | %.4f |\n", rate, per, next, rate/next, rate/per, len(all),
				100-100*float64(len(missed))/float64(max(len(all), 1)), quantile(all, 0.5), quantile(all, 0.9))
		}
	}
}

func (p *page) falseAlarms(classes []FalseClass, hours float64, rang []Bench) {
	p.printf("\n## Medium and high alarms without cause\n\n| class | hours | output rms | rang |\n|---|---|---|---|\n")
	all, total := 0.0, 0
	for _, c := range classes {
		p.printf("| %s | %.2f | %.4f | %d |\n", c.Name, c.Hours, math.Sqrt(c.Power), len(c.Rang))
		all, total = all+c.Hours, total+len(c.Rang)
	}
	p.printf("| the growing runs, their cause removed | %.2f | | %d |\n| together | %.2f | | %d |\n", hours, len(rang), all+hours, total+len(rang))
	p.printf("\nAt 95 %% fewer than one in %.0f hours.\n", (all+hours)/mostEvents(total+len(rang)))
	for _, c := range classes {
		for i, s := range c.Rang {
			p.printf("\nwithout cause: %v at %.2f s, %s: %s", c.Runs[i], s.T, s.Priority, s.Text)
		}
	}
	for _, b := range rang {
		p.printf("\nwithout cause: %v, gain not raised", b)
	}
	p.printf("\n")
}

func (p *page) estimates(runs int, seed uint64) {
	p.printf("\n## The fit against the Cramér-Rao bound\n\n")
	if p.err == nil {
		p.err = WriteEstimates(p.w, Estimates(runs, seed))
	}
	p.printf("\nIn coloured noise:\n\n")
	if p.err == nil {
		p.err = WriteEstimates(p.w, ColouredEstimates(runs, seed+1))
	}
}

// pictures writes the pictures of quiet and disturbed benches.
func pictures(dir string, backgrounds [][]GrowthRun) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fmt.Errorf("making the folder of the pictures: %w", err)
	}
	for _, runs := range backgrounds {
		name := runs[0].Name
		for _, pic := range []struct {
			file   string
			title  string
			draw   func(io.Writer, string, []Curve) error
			curves []Curve
		}{
			{"detection-" + name + ".svg", "Heard by the time the oscillation is so large, " + name + " bench", DetectionPicture, detectionCurves(runs)},
			{"amplitude-" + name + ".svg", "Amplitude at the alarm, " + name + " bench", AmplitudePicture, amplitudeCurves(runs)},
		} {
			f, err := os.Create(filepath.Join(dir, pic.file))
			if err != nil {
				return fmt.Errorf("writing a picture: %w", err)
			}
			err = pic.draw(f, pic.title, pic.curves)
			if e := f.Close(); err == nil {
				err = e
			}
			if err != nil {
				return fmt.Errorf("writing %s: %w", pic.file, err)
			}
		}
	}
	return nil
}

// each gives every detector's amplitudes of the runs that keep tells.
func each(runs []GrowthRun, keep func(g *GrowthRun) bool) (names []string, amplitudes [][]float64) {
	names = []string{"ours"}
	for _, b := range Baselines() {
		names = append(names, b.Name())
	}
	amplitudes = make([][]float64, len(names))
	for i := range runs {
		g := &runs[i]
		if !keep(g) {
			continue
		}
		amplitudes[0] = append(amplitudes[0], g.Ours)
		for k, a := range g.Baselines {
			amplitudes[k+1] = append(amplitudes[k+1], a)
		}
	}
	return names, amplitudes
}

func detectionCurves(runs []GrowthRun) (curves []Curve) {
	names, amplitudes := each(runs, func(*GrowthRun) bool { return true })
	for k, name := range names {
		c := Curve{Name: name, Ours: k == 0}
		for i := range 21 {
			x := 0.002 * math.Pow(Limit/0.002, float64(i)/20)
			heard := 0
			for _, a := range amplitudes[k] {
				if a < Limit && a <= x {
					heard++
				}
			}
			c.X, c.Y = append(c.X, x), append(c.Y, float64(heard)/float64(len(amplitudes[k])))
		}
		curves = append(curves, c)
	}
	return curves
}

func amplitudeCurves(runs []GrowthRun) (curves []Curve) {
	for k := range len(growthEdges) - 1 {
		lo, hi := growthEdges[k], growthEdges[k+1]
		names, amplitudes := each(runs, func(g *GrowthRun) bool { return g.Growth > lo && g.Growth <= hi })
		for j, name := range names {
			if k == 0 {
				curves = append(curves, Curve{Name: name, Ours: j == 0})
			}
			c := &curves[j]
			median := quantile(amplitudes[j], 0.5)
			if median >= Limit {
				median = math.NaN()
			}
			c.X, c.Y = append(c.X, math.Sqrt(lo*hi)), append(c.Y, median)
			if j == 0 {
				c.Low, c.High = append(c.Low, quantile(amplitudes[j], 0.05)), append(c.High, quantile(amplitudes[j], 0.95))
			}
		}
	}
	return curves
}
