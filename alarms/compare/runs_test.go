package compare

import (
	"fmt"
	"math"
	"os"
	"strconv"
	"sync"
	"testing"
)

func TestRunSpread(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("N"))
	if n == 0 {
		t.Skip()
	}
	for _, text := range []string{"calm seconds=120", "calm", "by-the-card", "nose-heavy", "near-margin"} {
		name, sets := split(text)
		sc := scenario(t, name, sets...)
		if len(sets) > 0 {
			e := sc.Events[:0]
			for _, v := range sc.Events {
				if v.Do != "roll" && v.Do != "pitch" && v.Do != "yaw" {
					if v.At > 20 {
						v.At += 80
					}
					e = append(e, v)
				}
			}
			sc.Events = e
		}
		type cell struct {
			means  mean
			within mean
			n      mean
		}
		cells := map[string]*[measureCount]cell{}
		var mu sync.Mutex
		var wg sync.WaitGroup
		for w := range 2 {
			wg.Add(1)
			go func() {
				defer wg.Done()
				for i := w; i < n; i += 2 {
					s := sc
					if os.Getenv("DAY") != "" {
						s = anotherDay(t, sc, uint64(200000+i))
					}
					r := play(s, uint64(200000+i))
					for _, s := range r.stages(byThrottle) {
						st := Stage{Compared: true, Idle: s.idle, pair: match{&s, &s}}
						mu.Lock()
						key := fmt.Sprintf("%v %.2f", s.idle, s.level)
						c := cells[key]
						if c == nil {
							c = new([measureCount]cell)
							cells[key] = c
						}
						for k := range measures {
							for _, p := range measures[k].pairings(k, []Stage{st}) {
								c[k].means.add(p.a.mean)
								if os.Getenv("RAW") != "" {
									c[k].within.add(p.a.squares / float64(p.a.n-2) / float64(p.a.n))
								} else {
									c[k].within.add(p.a.variance + p.a.trend*p.a.trend)
								}
								c[k].n.add(float64(p.a.n))
							}
						}
						mu.Unlock()
					}
				}
			}()
		}
		wg.Wait()
		for key, c := range cells {
			if c[controlAll].n.n < n/2 {
				continue
			}
			fmt.Printf("%-14s %s n=%.0f:", text, key, c[controlAll].n.of(1))
			for k := range measures {
				if c[k].means.n < 3 {
					continue
				}
				v, w := c[k].means.variance(3), c[k].within.of(1)
				fmt.Printf(" %s %.3f/%.3f=>%.3f", measures[k].key, math.Sqrt(v), math.Sqrt(w), math.Copysign(math.Sqrt(math.Abs(v-w)), v-w))
			}
			fmt.Println()
		}
	}
}
