package detect

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mathext"

	"tetherbell/decode/craft"
)

// atLeast is P(X >= k) for n tries of chance p: the binomial sum itself, term
// by term, which shares nothing with the beta function of the code.
func atLeast(k, n int, p float64) float64 {
	lg := func(x int) float64 { v, _ := math.Lgamma(float64(x) + 1); return v }
	sum := 0.0
	for i := n; i >= k; i-- { // small terms first
		sum += math.Exp(lg(n) - lg(i) - lg(n-i) + float64(i)*math.Log(p) + float64(n-i)*math.Log1p(-p))
	}
	return sum
}

// TestLowerShareIsClopperPearson: the bound is that p at which k or more of n
// come with a chance of one in a thousand (Clopper and Pearson, Biometrika 26,
// 1934). Reference: the definition, by the binomial sum; and two closed forms.
func TestLowerShareIsClopperPearson(t *testing.T) {
	for _, c := range []struct{ k, n int }{{1, 50}, {5, 50}, {20, 250}, {30, 200}, {160, 2000}, {600, 10000}, {249, 250}} {
		got := LowerShare(float64(c.k), float64(c.n), float64(c.k))
		assert.InDelta(t, 0.001, atLeast(c.k, c.n, got), 1e-6, "%d of %d: %v", c.k, c.n, got)
	}
	for _, n := range []float64{1, 7, 250, 10000} {
		assert.InEpsilon(t, math.Pow(0.001, 1/n), LowerShare(n, n, n), 1e-9, "all of %v are bad", n)
		assert.InEpsilon(t, 1-math.Pow(0.999, 1/n), LowerShare(1, n, 1), 1e-6, "one of %v is bad", n)
	}
	// The textbook case, 4 of 20: 95 % interval 0.0573 to 0.4366 (from memory),
	// for the function that the bound stands on.
	assert.InDelta(t, 0.0573, mathext.InvRegIncBeta(4, 17, 0.025), 5e-5)
	assert.InDelta(t, 0.4366, mathext.InvRegIncBeta(5, 16, 0.975), 5e-5)
}

func TestLowerShareOfBursts(t *testing.T) {
	assert.Zero(t, LowerShare(0, 100, 0))
	assert.Zero(t, LowerShare(0, 0, 0))
	one := LowerShare(200, 2000, 200)
	burst := LowerShare(200, 2000, 50)
	assert.Less(t, burst, one)
	assert.Less(t, LowerShare(20, 2000, 1), 0.05, "one short burst proves nothing")
	assert.Equal(t, LowerShare(20, 2000, 1), LowerShare(20, 2000, 0), "a burst that began before the window is one burst")
	assert.Greater(t, LowerShare(400, 2000, 4), 0.05, "four long holes are a fifth of the time")
	// As sure as so many independent lines: 50 runs of 4 with a share of 0.1,
	// and longer runs count as so many of eight.
	assert.InEpsilon(t, LowerShare(200/6.2, 2000/6.2, 200), burst, 1e-9)
	assert.InEpsilon(t, LowerShare(200, 2000, 25), LowerShare(200, 2000, 20), 1e-9)
}

// TestBurstsSpreadTheShare holds the factor that shortens the numbers to the
// spread of drawn chains: their share varies so many times more than that of
// independent lines. Reference: the draw itself.
func TestBurstsSpreadTheShare(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	const n, windows, share, stay = 500, 6000, 0.10, 0.75
	enter := share * (1 - stay) / (1 - share)
	bad, sum, square := false, 0.0, 0.0
	for range windows {
		count := 0.0
		for range n {
			if bad {
				bad = rng.Float64() < stay
			} else {
				bad = rng.Float64() < enter
			}
			if bad {
				count++
			}
		}
		sum += count / n
		square += count / n * count / n
	}
	spread := square/windows - sum/windows*sum/windows
	long := 1 / (1 - stay)
	assert.InEpsilon(t, 2*long*(1-share)-1, spread/(share*(1-share)/n), 0.08)
}

// A wire brings lines to a bad-link detector alone.
type wire struct {
	b      Bench
	d      *BadLinkDetector
	rng    *rand.Rand
	hz     float64
	size   uint64
	next   int64
	due    float64 // microseconds, of the next line
	bad    bool    // the last line
	level  Priority
	raises int
	kinds  []uint8 // cases of the findings that were met, in order of change
	found  []Finding
}

func newWire(hz float64, seed uint64) *wire {
	w := &wire{d: NewBadLink(), rng: rand.New(rand.NewPCG(seed, 5)), hz: hz, size: 40}
	w.b = Bench{Limits: craft.Limits{}.WithDefaults(0), Armed: Yes, LastArmed: Yes, RestartAt: -1}
	return w
}

// run lets lines come for some seconds; each is bad with the chance p, and one
// after a bad one with the chance stay.
func (w *wire) run(seconds, p, stay float64) {
	end := w.b.Now + int64(seconds*1e6)
	for w.due < float64(end) {
		w.b.Now = int64(w.due)
		w.due += 1e6 / w.hz
		chance := p
		if w.bad {
			chance = stay
		}
		bad := w.rng.Float64() < chance
		if bad && !w.bad {
			w.b.Link.Faults++
		}
		w.bad = bad
		if bad {
			w.b.Link.Bad++
		} else {
			w.b.Link.Good++
		}
		w.b.Link.Bytes += w.size
		if w.b.Now >= w.next {
			w.judge()
		}
	}
	w.b.Now = end
}

func (w *wire) judge() {
	w.next = w.b.Now + 10_000
	w.found = w.d.Judge(&w.b, w.found[:0])
	if len(w.found) == 0 {
		w.level = None
		return
	}
	f := w.found[0]
	if f.Level != None && w.level == None {
		w.raises++
		w.level = f.Level
		w.kinds = append(w.kinds, f.Case)
	}
	if f.Level != None && w.kinds[len(w.kinds)-1] != f.Case {
		w.kinds = append(w.kinds, f.Case)
	}
}

// TestSteadyLossStaysSilent: eight hours of 5 % loss, single and in bursts of
// four. The bound is asked all the time, so that chance may ring once in hours;
// it must not be once an hour.
func TestSteadyLossStaysSilent(t *testing.T) {
	const stay = 0.75
	raises := 0
	for _, hz := range []float64{50, 600} {
		for seed := range uint64(2) {
			w := newWire(hz, seed)
			w.run(3600, 0.05, 0.05)
			raises += w.raises
			w = newWire(hz, seed+100)
			w.run(3600, 0.05*(1-stay)/0.95, stay)
			raises += w.raises
		}
	}
	t.Logf("%d false alarms in 8 h", raises)
	assert.LessOrEqual(t, raises, 3)
}

func TestBadLinkRingsAndClears(t *testing.T) {
	for _, hz := range []float64{200, 2000} {
		w := newWire(hz, 9)
		w.run(20, 0.02, 0.02)
		require.Equal(t, None, w.level)
		w.run(20, 0.10, 0.10)
		require.Equal(t, Medium, w.level, "10 %% at %v/s", hz)
		require.Equal(t, 1, w.raises)
		w.run(20, 0.035, 0.035)
		assert.Equal(t, Medium, w.level, "between clear and raise it holds")
		w.run(20, 0.005, 0.005)
		assert.Equal(t, None, w.level, "under 2 %% it is over")
		assert.Equal(t, 1, w.raises)
	}
	w := newWire(2000, 9)
	w.run(30, 0.08, 0.08)
	assert.Equal(t, Medium, w.level, "8 %% of many lines is sure")
}

func TestBadLinkPriority(t *testing.T) {
	for _, c := range []struct {
		armed Tri
		want  Priority
	}{{Yes, Medium}, {Unknown, Medium}, {No, Low}} {
		w := newWire(500, 2)
		w.b.Armed = c.armed
		w.run(10, 0.2, 0.2)
		assert.Equal(t, c.want, w.level)
	}
}

// TestOneBurst: a single hole tells nothing of the share to come; ten of them
// do.
func TestOneBurst(t *testing.T) {
	w := newWire(400, 1)
	w.run(6, 0, 0)
	w.run(0.35, 1, 1)
	w.run(6, 0, 0)
	assert.Zero(t, w.raises)
	for range 60 {
		w.run(0.02, 1, 1)
		w.run(0.06, 0, 0)
	}
	assert.Equal(t, 1, w.raises)
}

// TestBoundFollowsTheWindow: the same number of lines with more bad ones in
// the same number of runs is another bound.
func TestBoundFollowsTheWindow(t *testing.T) {
	d := NewBadLink()
	d.win = LinkCounts{Good: 900, Bad: 100, Faults: 100}
	a := d.lower()
	d.win = LinkCounts{Good: 800, Bad: 200, Faults: 100}
	b := d.lower()
	assert.NotEqual(t, a, b)
	assert.Equal(t, LowerShare(200, 1000, 100), b)
}

// TestLineLoad: bytes a second times ten bits over the baud.
func TestLineLoad(t *testing.T) {
	for _, c := range []struct {
		name string
		load float64
		baud int
		want bool
	}{
		{"half full", 0.50, 115200, false}, {"under the limit", 0.88, 115200, false},
		{"over it", 0.92, 115200, true}, {"full", 1.0, 115200, true},
		{"more than it can: not that baud", 1.15, 115200, false},
		{"baud not known", 1.0, 0, false},
	} {
		w := newWire(115200/10*c.load/40, 3)
		w.b.Baud = c.baud
		w.run(20, 0, 0)
		assert.Equal(t, c.want, w.level == Medium, c.name)
		if c.want {
			assert.Equal(t, []uint8{badLoad}, w.kinds)
			assert.InDelta(t, c.load, w.found[0].Value, 0.01)
			s := w.d.Describe(&w.b, w.found[0])
			assert.NotEmpty(t, s.Text)
			assert.NotEmpty(t, s.Action)
		}
	}
}

// TestFullAndLossyIsOneAlarm: a full line loses lines, with a share that swings
// about the limit. It must not turn from one happening into the other and back.
func TestFullAndLossyIsOneAlarm(t *testing.T) {
	w := newWire(115200/10*0.97/40, 8)
	w.b.Baud = 115200
	w.run(10, 0, 0)
	for range 10 {
		w.run(6, 0.12, 0.12)
		w.run(6, 0.04, 0.04)
	}
	assert.Equal(t, []uint8{badLoad, badShare}, w.kinds)
	assert.Equal(t, 1, w.raises)
}

// TestReachOfAHole: one hole's lines are many, and prove nothing: the distance
// does not say that the limit is passed while no alarm may ring.
func TestReachOfAHole(t *testing.T) {
	for _, c := range []struct {
		name    string
		lost    uint64
		faults  uint64
		over    bool // the share itself
		reached bool
	}{
		{"one hole", 120, 1, true, false},
		{"as many, one by one", 120, 120, true, true},
		{"few", 10, 10, false, false},
	} {
		b, d := &Bench{Limits: craft.Limits{}.WithDefaults(0), Armed: Yes, RestartAt: -1}, NewBadLink()
		for now := int64(0); now <= 5*Second; now += Second / 10 {
			b.Now = now
			b.Link.Good += 20
			if now == 3*Second {
				b.Link.Lost, b.Link.Faults = c.lost, c.faults
			}
			d.Judge(b, nil)
		}
		r := d.Reach(b, nil)
		require.Len(t, r, 1, c.name)
		assert.Equal(t, c.over, d.Share() > b.Limits.BadShare, c.name)
		assert.Equal(t, c.reached, r[0].Share >= 1, c.name)
	}
}
