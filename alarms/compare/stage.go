package compare

import (
	"cmp"
	"math"
	"slices"
)

const (
	// stageSpan is the most by which the throttle of one stage's blocks differs.
	stageSpan = 0.02
	// reach is the most by which the throttles of two stages differ that are
	// compared.
	reach = 0.03
	// leastBlocks: a stage of fewer has no spread to speak of.
	leastBlocks = 4
	// leastTold: and fewer than this in all carry no verdict, on any measure. A
	// craft that rocks at idle rocks on for seconds, which fewer seconds cannot show.
	leastTold = 10

	// LeastTelling is that in seconds: what was held for less has figures, and no
	// verdict of its own.
	LeastTelling = leastTold * float64(blockTime) / 1e6
)

// A stage is the blocks of one session at one throttle, of one hold or of
// several, in the order of time.
type stage struct {
	idle   bool
	by     basis
	level  float64 // collective throttle, or mean output
	blocks []block
}

// A basis says by what stages are matched.
type basis uint8

const (
	byThrottle basis = iota // the collective throttle
	byOutput                // the motors' mean output
)

// level is where a block stands. Armed idle is known by its outputs wherever
// they are told: its collective throttle is nought, however fast it idles.
func (w basis) level(b *block) float64 {
	if (b.idle || w == byOutput) && !math.IsNaN(b.out) {
		return b.out
	}
	return b.thr
}

// basisOf chooses what both sessions tell.
func basisOf(a, b *Run) basis {
	has := func(r *Run) bool {
		return slices.ContainsFunc(r.blocks, func(k block) bool { return !math.IsNaN(k.thr) })
	}
	if has(a) && has(b) {
		return byThrottle
	}
	return byOutput
}

// stages sorts the blocks of a session by throttle. Blocks of no known level
// are left out.
func (r *Run) stages(w basis) (all []stage) {
	for _, idle := range []bool{true, false} {
		var of []block
		for _, b := range r.blocks {
			if b.idle == idle && !math.IsNaN(w.level(&b)) {
				of = append(of, b)
			}
		}
		slices.SortStableFunc(of, func(a, b block) int {
			return cmp.Or(cmp.Compare(w.level(&a), w.level(&b)), cmp.Compare(a.at, b.at))
		})
		for i := 0; i < len(of); {
			end := i + 1
			for end < len(of) && w.level(&of[end])-w.level(&of[i]) <= stageSpan {
				end++
			}
			s := stage{idle: idle, by: w, blocks: slices.Clone(of[i:end])}
			for k := range s.blocks {
				s.level += w.level(&s.blocks[k]) / float64(end-i)
			}
			slices.SortFunc(s.blocks, func(a, b block) int { return cmp.Compare(a.at, b.at) })
			all = append(all, s)
			i = end
		}
	}
	return all
}

// A match is a stage that both sessions have.
type match struct{ a, b *stage }

// matched pairs the stages that are each other's nearest, and returns what has
// no partner.
func matched(a, b []stage) (pairs []match, onlyA, onlyB []*stage) {
	nearest := func(s *stage, among []stage) int {
		best, least := -1, reach
		for i := range among {
			// The first of two as near is the lower one, from either side.
			if d := math.Abs(among[i].level - s.level); among[i].idle == s.idle && d <= least && (best < 0 || d < least) {
				best, least = i, d
			}
		}
		return best
	}
	met := make([]bool, len(b))
	for i := range a {
		j := nearest(&a[i], b)
		if j < 0 || nearest(&b[j], a) != i {
			onlyA = append(onlyA, &a[i])
			continue
		}
		met[j] = true
		pairs = append(pairs, match{&a[i], &b[j]})
	}
	for j := range b {
		if !met[j] {
			onlyB = append(onlyB, &b[j])
		}
	}
	return pairs, onlyA, onlyB
}
