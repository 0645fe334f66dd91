package compare

import (
	"fmt"
	"math"
	"os"
	"testing"
)

func TestExplore(t *testing.T) {
	for _, text := range []string{"calm", "calm gains.scale=0.5", "calm gains.scale=2", "by-the-card", "first-run", "first-run-5", "nose-heavy", "gains-high", "gains-halved", "near-margin", "filter-open", "unbalanced", "hexa", "stand"} {
		name, sets := split(text)
		if w := os.Getenv("ONLY"); w != "" && w != name {
			continue
		}
		sc := scenario(t, name, sets...)
		n := 6
		type key struct{ st string }
		vals := map[string][measureCount][]float64{}
		sds := map[string][measureCount][]float64{}
		order := []string{}
		for seed := range n {
			r := play(sc, uint64(100000+seed))
			for _, s := range r.stages(byThrottle) {
				k := fmt.Sprintf("%v %.2f", s.idle, s.level)
				v, ok := vals[k]
				if !ok {
					order = append(order, k)
				}
				d := sds[k]
				for m := range measureCount {
					var mm mean
					for _, b := range s.blocks {
						if !math.IsNaN(b.v[m]) {
							mm.add(measures[m].onScale(b.v[m]))
						}
					}
					if mm.n < 2 {
						continue
					}
					v[m] = append(v[m], mm.of(1))
					d[m] = append(d[m], math.Sqrt(mm.variance(1)))
					if m == 0 {
						d[11] = append(d[11], float64(mm.n))
					}
				}
				vals[k], sds[k] = v, d
			}
		}
		for _, k := range order {
			fmt.Printf("%-24s %s n=%.0f:", text, k, avg(sds[k][11]))
			for m := range measureCount - 1 {
				var mm mean
				for _, x := range vals[k][m] {
					mm.add(x)
				}
				if mm.n == 0 {
					continue
				}
				fmt.Printf(" %s %.4g(%.3f/%.3f)", measures[m].key[:3]+measures[m].key[len(measures[m].key)-2:], measures[m].offScale(mm.of(1)), math.Sqrt(mm.variance(2)), avg(sds[k][m]))
			}
			fmt.Println()
		}
	}
}
func avg(x []float64) float64 {
	s := 0.0
	for _, v := range x {
		s += v
	}
	return s / float64(len(x))
}
