package compare

import (
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/simulator"
)

// How many pairs of sessions the studies play, and from which seed on:
// TETHERBELL_COMPARE=100 TETHERBELL_COMPARE_SEED=1 are the figures of
// README.md, a quarter of an hour of two cores. Whoever changes the method works
// with seeds from 100000 on, as these do by themselves.
func study(t *testing.T, usual int) (pairs int, seed uint64) {
	pairs, seed = usual, 100000
	if testing.Short() {
		pairs = 1
	}
	for name, set := range map[string]func(int){
		"TETHERBELL_COMPARE":      func(v int) { pairs = v },
		"TETHERBELL_COMPARE_SEED": func(v int) { seed = uint64(v) },
	} {
		if text := os.Getenv(name); text != "" {
			v, err := strconv.Atoi(text)
			require.NoError(t, err)
			set(v)
		}
	}
	return pairs, seed
}

// kept are runs that were played, by scenario and seed: several studies compare
// the same ones.
var kept sync.Map

// playOnce plays a session unless it was played before.
func playOnce(text string, sc simulator.Scenario, seed uint64) *Run {
	key := fmt.Sprint(text, " ", seed)
	if r, ok := kept.Load(key); ok {
		return r.(*Run)
	}
	r := play(sc, seed)
	r.blocks = slices.Clone(r.blocks) // without the room for an hour
	kept.Store(key, r)
	return r
}

// A maker makes sessions by seed.
type maker func(seed uint64) *Run

// played plays pairs of sessions, two at a time, and hands the results over.
// Pair i has the seeds seed+i and seed+pairs+i.
func played(t *testing.T, before, after maker, pairs int, seed uint64) []*Result {
	t.Helper()
	all := make([]*Result, pairs)
	var group sync.WaitGroup
	for w := range 2 {
		group.Add(1)
		go func() {
			defer group.Done()
			for i := w; i < pairs; i += 2 {
				a, b := seed+uint64(i), seed+uint64(pairs+i)
				all[i] = Between(before(a), after(b))
			}
		}()
	}
	group.Wait()
	return all
}

// told counts verdicts, and what measures were told.
func told(all []*Result) (overall map[Word]int, measures map[string]int) {
	overall, measures = map[Word]int{}, map[string]int{}
	for _, r := range all {
		overall[r.Verdict]++
		for _, f := range r.Measures {
			if f.Verdict != CannotTell && f.Verdict != Same {
				measures[f.Measure+" "+string(f.Verdict)]++
			}
		}
	}
	return overall, measures
}

// line is a row of the tables in README.md.
func line(what string, overall map[Word]int, measures map[string]int) string {
	var words, parts []string
	for _, w := range []Word{Better, Worse, Mixed, CannotTell} {
		words = append(words, strconv.Itoa(overall[w]))
	}
	for m, n := range measures {
		parts = append(parts, fmt.Sprintf("%s %d", m, n))
	}
	slices.Sort(parts)
	return fmt.Sprintf("| %s | %s | %s |", what, strings.Join(words, " | "), strings.Join(parts, ", "))
}

// same are scenarios of which two runs are compared.
var same = []string{
	"calm", "by-the-card", "first-run", "first-run-3", "first-run-5", "nose-heavy", "gains-high", "gains-halved", "near-margin",
	"filter-open", "unbalanced", "hexa", "tri", "stand", "weak-motor", "windup", "noisy-link", "slow-stream",
}

// onAnotherDay are those of which two days are compared.
var onAnotherDay = []string{"calm", "by-the-card", "near-margin", "nose-heavy", "unbalanced", "filter-open"}

// TestTwoRunsOfTheSame: nobody is told of a difference where there is none.
func TestTwoRunsOfTheSame(t *testing.T) {
	pairs, seed := study(t, 1)
	for _, name := range same {
		sc := scenario(t, name)
		of := func(s uint64) *Run { return playOnce(name, sc, s) }
		t.Run(name, func(t *testing.T) { sameAgain(t, name, of, pairs, seed) })
	}
	for _, name := range onAnotherDay {
		sc := scenario(t, name)
		what := name + ", another day"
		of := func(s uint64) *Run { return playOnce(what, anotherDay(t, sc, s), s) }
		t.Run(what, func(t *testing.T) { sameAgain(t, what, of, pairs, seed) })
	}
}

// sameAgain plays pairs of which nothing can be told, but for one in twenty.
func sameAgain(t *testing.T, what string, of maker, pairs int, seed uint64) {
	t.Helper()
	if raceOn && what != "calm" {
		t.Skip("the figures are the same without the race detector, and take a tenth of the time")
	}
	all := played(t, of, of, pairs, seed)
	overall, measures := told(all)
	t.Log(line(what, overall, measures))
	for _, r := range all {
		if r.Verdict != CannotTell {
			t.Log(print(r))
		}
	}
	assert.GreaterOrEqual(t, overall[CannotTell], pairs-pairs*5/100, what)
}

// changes are what is done between two sessions, and what is to be told of it.
var changes = []struct {
	before, after string
	want          Word
	measure       string // that must be told, "" any
	told          Word
}{
	{"gains-high", "gains-high gains.scale=0.5", Better, "", Better},
	{"gains-high", "gains-halved", Better, "", Better},
	{"near-margin", "near-margin gains.scale=0.5", Better, "control_roll", Better},
	{"filter-open", "calm", Better, "control", Better},
	{"calm", "calm gains.scale=0.5", Better, "", Better},
	{"by-the-card", "by-the-card gains.scale=0.5", Better, "control", Better},
	{"calm", "calm gains.scale=2", Worse, "", Worse},
	{"by-the-card", "by-the-card gains.scale=2", Worse, "control", Worse},
	{"nose-heavy craft.cg_forward_mm=5", "nose-heavy craft.cg_forward_mm=15", Worse, "balance", Worse},
	{"nose-heavy", "nose-heavy craft.cg_forward_mm=0", Better, "balance", Better},
	{"unbalanced", "unbalanced motor.3.unbalance_gmm=50", Worse, "vibration", Worse},
	{"calm", "unbalanced", Worse, "vibration", Worse},
}

// TestChanges: what was changed is told, and as what it is.
func TestChanges(t *testing.T) {
	pairs, seed := study(t, 1)
	for _, c := range changes {
		what := c.before + " -> " + c.after
		parts := func(text string) maker {
			name, sets := split(text)
			sc := scenario(t, name, sets...)
			return func(seed uint64) *Run { return playOnce(text, sc, seed) }
		}
		t.Run(what, func(t *testing.T) {
			if raceOn && c.after != "calm gains.scale=0.5" {
				t.Skip("the figures are the same without the race detector, and take a tenth of the time")
			}
			overall, measures := told(played(t, parts(c.before), parts(c.after), pairs, seed))
			t.Log(line(what, overall, measures))
			assert.GreaterOrEqual(t, overall[c.want], pairs-pairs*2/100, what)
			if c.measure != "" {
				assert.GreaterOrEqual(t, measures[c.measure+" "+string(c.told)], pairs-pairs*2/100, what)
			}
		})
	}
}

// TestSettingsBesideWhatTheyDid: the table of what was changed.
func TestSettingsBesideWhatTheyDid(t *testing.T) {
	r := Between(play(scenario(t, "gains-high"), 100000), play(scenario(t, "gains-halved"), 100001))
	var got []string
	for _, s := range r.Settings {
		got = append(got, fmt.Sprintf("%s %.2f", s.Name, *s.Ratio))
	}
	assert.Equal(t, []string{"rate_d_pitch 0.50", "rate_d_roll 0.50", "rate_i_pitch 0.50", "rate_i_roll 0.50", "rate_p_pitch 0.50", "rate_p_roll 0.50"}, got)
	assert.Empty(t, r.Craft)
	assert.Empty(t, r.Missing)
	back := Between(play(scenario(t, "gains-halved"), 100001), play(scenario(t, "gains-high"), 100000))
	mirrored(t, r, back)
}

// anotherDay draws what differs between two runs of one craft on one bench,
// its settings the same: how full the pack is, the weather, the wind about the
// bench. The ranges are common practice with no source.
func anotherDay(t testing.TB, sc simulator.Scenario, seed uint64) simulator.Scenario {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 7))
	sc.Craft.RestV += -0.08 + 0.1*rng.Float64()
	sc.Air.Pascal += 2000 * (rng.Float64() - 0.5)
	sc.Air.Celsius += 8 * (rng.Float64() - 0.5)
	sc.Air.Gust *= 0.9 + 0.2*rng.Float64()
	require.NoError(t, sc.Check())
	return sc
}
