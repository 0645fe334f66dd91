package decode

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
)

// A world has bridges at ports, which begin anew, stand still, are held up on their way
// and have their cables swapped, as chance has it.
type world struct {
	rng   *rand.Rand
	lines [][]heardLine // of each bridge, as they come; port is where
	swaps []int64       // when the first two were swapped, us
}

// newWorld makes one. Restarts are one bridge's, or all bridges' by one supply; what is
// late is held up for less than late ms, and still a bridge talks at its port.
func newWorld(seed uint64, bridges int, late int64, swaps bool) *world {
	w := &world{rng: rand.New(rand.NewPCG(seed, 7)), lines: make([][]heardLine, bridges)}
	const end = 60_000
	port := func(bridge int, at int64) int {
		n := 0
		for _, s := range w.swaps {
			if at*1000 >= s {
				n++
			}
		}
		if n%2 == 1 && bridge < 2 {
			return 2 - bridge
		}
		return bridge + 1
	}
	var anew []int64 // restarts of the supply
	for range w.rng.IntN(4) {
		anew = append(anew, 3000+w.rng.Int64N(end))
	}
	away := func(int64) bool { return false }
	if swaps {
		for at := 5000 + w.rng.Int64N(8000); at < end-5000; at += 4000 + w.rng.Int64N(20_000) {
			w.swaps = append(w.swaps, at*1000)
		}
		anew = nil
		gap := 300 + w.rng.Int64N(900)
		away = func(at int64) bool {
			return slices.ContainsFunc(w.swaps, func(s int64) bool { return at*1000 < s && at*1000 >= s-gap*1000 })
		}
	}
	for b := range bridges {
		mine := slices.Clone(anew)
		for range w.rng.IntN(4) {
			if !swaps {
				mine = append(mine, 3000+w.rng.Int64N(end))
			}
		}
		slices.Sort(mine)
		zero, boots := -w.rng.Int64N(1<<22), int64(2000)
		if seed%3 == 0 { // they go round meanwhile, and are there again at once: see patience
			zero, boots = w.rng.Int64N(end)-1<<32/1000, 1
		}
		if swaps { // they can be told from each other
			zero = -int64(b)*800_000 - w.rng.Int64N(700_000)
		}
		each, mute, held := 5+w.rng.Int64N(45), int64(0), int64(0)
		for at := w.rng.Int64N(50); at < end; at += each {
			for len(mine) > 0 && at >= mine[0] {
				zero, mute = mine[0], mine[0]+w.rng.Int64N(boots)
				mine = mine[1:]
			}
			if at < mute || away(at) && b < 2 {
				continue
			}
			if held < at && w.rng.IntN(400) == 0 {
				held = at + w.rng.Int64N(late)
				if i := slices.IndexFunc(w.swaps, func(s int64) bool { return at*1000 < s }); i >= 0 {
					held = min(held, w.swaps[i]/1000-200)
				}
			}
			w.lines[b] = append(w.lines[b], heardLine{port(b, at), Axes + Tag(b), max(at, held) * 1000, uint32((at - zero) * 1000)})
		}
	}
	return w
}

// Whatever begins anew, and is held up for a while: nobody is told to be elsewhere,
// and what is taken is taken from whose it is, each line but a few that are held.
func TestWorldsWithoutSwaps(t *testing.T) {
	for seed := range uint64(worlds()) {
		for _, bridges := range []int{2, 3, 4} {
			var o Owners
			held := 0
			for _, l := range inOrder(newWorld(seed, bridges, 240, false).lines) {
				s := Sample{Tag: l.tag, Time: l.time}
				news, _ := o.Take(l.port, l.host, &s)
				if s.Held {
					held++
				} else if s.Tag != l.tag || news != NoNews {
					t.Fatalf("world %d of %d: %+v: news %d, tag %d", seed, bridges, l, news, s.Tag)
				}
			}
			assert.Less(t, held, 100, "world %d of %d", seed, bridges)
		}
	}
}

// Where cables are swapped, each line is taken from whose it is, from the first on or
// soon.
func TestWorldsWithSwaps(t *testing.T) {
	for seed := range uint64(worlds()) {
		for _, bridges := range []int{2, 3, 4} {
			var o Owners
			moved, held := 0, 0
			w := newWorld(seed, bridges, 200, true)
			for _, l := range inOrder(w.lines) {
				s := Sample{Tag: l.tag, Time: l.time}
				news, _ := o.Take(l.port, l.host, &s)
				if news == Moved {
					moved++
				}
				if s.Held { // one that talks seldom, and was held up, is given more time
					held++
					continue
				}
				if s.Tag != l.tag || news == Shared || news == Passed {
					t.Fatalf("world %d of %d: %+v: news %d, tag %d", seed, bridges, l, news, s.Tag)
				}
			}
			assert.LessOrEqual(t, held, 20, "world %d of %d", seed, bridges)
			assert.Equal(t, 2*len(w.swaps), moved, "world %d of %d", seed, bridges)
		}
	}
}

// worlds is how many are tried.
func worlds() int {
	if testing.Short() {
		return 10
	}
	return 100
}
