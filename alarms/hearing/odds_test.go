package hearing

import (
	"fmt"
	"os"
	"testing"
)

func TestOdds(t *testing.T) {
	if os.Getenv("ODDS") == "" {
		t.Skip()
	}
	for _, dis := range []bool{false, true} {
		var bs []Bench
		for i := range 300 {
			bs = append(bs, GrowthBench(uint64(100000+i), dis))
		}
		var odds, amp []float64
		for _, g := range grow(bs, nil) {
			if s, ok := g.Heard(); ok {
				if o, ok := s.Facts["growth_odds"]; ok {
					odds = append(odds, o)
				}
			}
			amp = append(amp, g.Ours)
		}
		fmt.Printf("dis %v amp %.4f n %d odds 5%% %.2f 10%% %.2f 25%% %.2f 50%% %.2f\n", dis, quantile(amp, .5), len(odds), quantile(odds, .05), quantile(odds, .1), quantile(odds, .25), quantile(odds, .5))
	}
	n := 60
	res := make([]Outcome, n)
	c := 0
	for i := range Classes {
		if Classes[i].Name == "low margin" {
			c = i
		}
	}
	parallel(n, func(i int, _ *worker) {
		r := Runner{On: true}
		res[i] = r.Run(FalseBench(c, uint64(200000+i), 120))
	})
	var odds []float64
	k := 0
	for i, o := range res {
		for _, s := range o.Said {
			k++
			odds = append(odds, s.Facts["growth_odds"])
			if k < 15 {
				b := FalseBench(c, uint64(200000+i), 120)
				fmt.Printf("%v zeta %.3f rms %.4f %s odds %.1f value %.4f %s\n", b, b.Damping, o.Power, s.Priority, s.Facts["growth_odds"], s.Value, s.Text)
			}
		}
	}
	fmt.Printf("low margin: %d in 2 h; odds 50%% %.2f 75%% %.2f 95%% %.2f max %.2f\n", k, quantile(odds, .5), quantile(odds, .75), quantile(odds, .95), quantile(odds, .999))
}
