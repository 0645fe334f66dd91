package main

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/simulator"
)

// A faulty is a session with one cause, and what of medium or high priority it
// must ring: those and, beside them, at most the rest. The names are those of
// the alarms; what a scenario is made to teach stands in simulator/scenarios.
type faulty struct {
	scenario string
	must     string
	may      string
}

var faulties = []faulty{
	{"gains-high", "rising-oscillation high roll", "rising-oscillation medium roll"},
	{"weak-motor", "output-imbalance medium m3", ""},
	{"restart", "stale-link high link", ""},
	{"blade-breaks", "vibration-step high craft", ""},
	{"stop-late", "late-stop high m2", ""},
	{"motor-wakes", "spin-disarmed high m4", ""},
	{"propeller-off", "rotor-lost high m3", ""},
	{"control-lost", "control-lost high craft", ""},
	{"old-pack", "pack-sag medium pack", ""},
	{"stick-up", "stick-high high craft", ""},
	{"noisy-link", "bad-link medium link", "stale-link high link"},
	{"height-kept", "runaway high craft", "near-lift medium craft, near-lift high craft"},
}

// scene loads one. A restart of the bridge with the craft armed has no scenario.
func (f faulty) scene(t testing.TB) simulator.Scenario {
	if f.scenario == "restart" {
		sc, err := simulator.Load("calm")
		require.NoError(t, err)
		sc.Events = append(sc.Events, simulator.Event{At: 19, Do: "restart", Seconds: 0.8})
		atKilohertz(&sc)
		return sc
	}
	sc, err := simulator.Load(f.scenario)
	require.NoError(t, err)
	atKilohertz(&sc)
	return sc
}

// causeChapter is the chapters of the run with causes: a sound craft between
// any two of them.
func causeChapter(t testing.TB) func(n int) simulator.Scenario {
	return func(n int) simulator.Scenario {
		if n%2 == 0 {
			return spinUps(n, 1.3)
		}
		return faulties[n/2%len(faulties)].scene(t)
	}
}

// TestEndureCauses is TestEndure with a known list of causes at known times,
// over and over, a sound craft between any two: what rings at medium or high
// rings for its cause while that is there, and each cause rings each time. The
// engine that has heard hours of it says what a new one says.
func TestEndureCauses(t *testing.T) {
	chapter := causeChapter(t)
	all, _, whole := endureTime(t)
	if !whole {
		all = 0
		for n := range 8 { // four of the causes, and between
			all += time.Duration(chapter(n).Seconds*1e9) + betweenUS*time.Microsecond
		}
	}
	e := newEndured(t, 0, chapter)
	at, told := int64(0), map[string]int{}
	var late []time.Duration // behind a new engine, of each cause
	for n := 0; e.hostUS < all.Microseconds(); n++ {
		sc := chapter(n)
		at += int64(sc.Seconds * 1e6)
		e.rang = e.rang[:0]
		e.run(hostUS(at))
		got := names(loud(e.rang))
		if n%2 == 0 {
			assert.Empty(t, got, "chapter %d, a sound craft, at %.1f s", n, float64(at)/1e6)
		} else {
			f := faulties[n/2%len(faulties)]
			f.check(t, n, got)
			if d, ok := f.behindNew(t, n, chapter, loud(e.rang), hostUS(at-int64(sc.Seconds*1e6))); ok {
				late = append(late, d)
			}
			told[f.scenario]++
		}
		at += betweenUS
		e.run(hostUS(at))
		e.l.desk.acknowledgeAll()
	}
	var list []string
	for name, n := range told {
		list = append(list, fmt.Sprintf("%s %d", name, n))
	}
	slices.Sort(list)
	t.Logf("%.2f h, each cause so many times: %s", float64(e.hostUS)/3.6e9, strings.Join(list, ", "))
	checkLate(t, late)
}

// loud are the alarms of medium and high priority.
func loud(rang []rung) (all []rung) {
	for _, r := range rang {
		if !strings.Contains(r.name, " low ") && !strings.Contains(r.name, " note ") {
			all = append(all, r)
		}
	}
	return all
}

// names names each once.
func names(rang []rung) (all []string) {
	for _, r := range rang {
		if !slices.Contains(all, r.name) {
			all = append(all, r.name)
		}
	}
	return all
}

// behindNew has an engine that has heard nothing yet judge a chapter too, and tells
// how much later than it the old one rang for the cause.
func (f faulty) behindNew(t *testing.T, n int, chapter func(int) simulator.Scenario, got []rung, begun int64) (late time.Duration, ok bool) {
	t.Helper()
	e := newEndured(t, n, chapter)
	defer e.close()
	e.run(int64(chapter(n).Seconds * 1e6))
	is := func(r rung) bool { return r.name == f.must }
	k, m := slices.IndexFunc(got, is), slices.IndexFunc(e.rang, is)
	if !assert.GreaterOrEqual(t, k, 0) || !assert.GreaterOrEqual(t, m, 0, "a new engine, %s", f.scenario) {
		return 0, false
	}
	late = time.Duration(got[k].at-begun-e.rang[m].at) * time.Microsecond
	if late.Abs() > muchLater {
		t.Logf("chapter %d: %v later than a new engine: %s", n, late.Round(time.Millisecond), got[k].text)
	}
	return late, true
}

// muchLater is more than the time of an alarm may differ by in general: the
// instants of judging lie otherwise.
const muchLater = 500 * time.Millisecond

// checkLate wants that hours of it have made the engine neither deaf nor jumpy: it
// rings for a cause when a new one does. Where a swing is barely more than noise,
// chance decides at which second it is first called one (a new engine begun a
// chapter earlier is as far from a new one): so one in fifty may lie apart, but not
// to one side, by three standard deviations of a coin's.
func checkLate(t *testing.T, late []time.Duration) {
	t.Helper()
	require.NotEmpty(t, late)
	later, earlier := 0, 0
	for _, d := range late {
		switch {
		case d > muchLater:
			later++
		case d < -muchLater:
			earlier++
		}
	}
	n := later + earlier
	t.Logf("of %d causes %d rang over %v later than in a new engine, %d earlier; in the middle %v later", len(late), later, muchLater, earlier, median(late))
	assert.LessOrEqual(t, n, len(late)/50)
	assert.LessOrEqual(t, math.Abs(float64(later-earlier)), 3*math.Sqrt(float64(n)))
	assert.Less(t, median(late).Abs(), 20*time.Millisecond)
	assert.Less(t, median(late[len(late)/2:]).Abs(), 20*time.Millisecond, "the second half")
}

func (f faulty) check(t *testing.T, n int, got []string) {
	t.Helper()
	assert.Contains(t, got, f.must, "chapter %d, %s", n, f.scenario)
	for _, name := range got {
		if name != f.must && !slices.Contains(strings.Split(f.may, ", "), name) {
			t.Errorf("chapter %d, %s: rang without a cause: %s", n, f.scenario, name)
		}
	}
}

func median(d []time.Duration) time.Duration {
	s := slices.Sorted(slices.Values(d))
	return s[len(s)/2].Round(100 * time.Microsecond)
}
