package sound

import (
	"context"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"tetherbell/alarms/detect"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// A bench is a player inside a bubble of fake time, with a device that keeps
// what it pulled, and a bell that notes its strokes.
type bench struct {
	*Player
	t     *testing.T
	start time.Time
	seq   uint64
	names []Naming

	mu      sync.Mutex
	heard   []int16
	strokes []time.Duration
	opens   int

	openErr atomic.Pointer[error]  // what opening gives
	frozen  atomic.Bool            // the device does not pull
	mute    atomic.Pointer[string] // what the device says of itself
	gone    chan error
}

func newBench(t *testing.T, mode Mode) *bench {
	b := &bench{t: t, start: time.Now(), gone: make(chan error, 1)}
	b.mute.Store(new(string))
	b.Player = New(t.Context(), Options{Mode: mode, Bell: b.strike, open: b.open})
	return b
}

func (b *bench) open(_ context.Context, v *voice) (*device, error) {
	b.mu.Lock()
	b.opens++
	b.mu.Unlock()
	if err := b.openErr.Load(); err != nil {
		return nil, *err
	}
	stop := make(chan struct{})
	go func() {
		tick := time.NewTicker(10 * time.Millisecond)
		defer tick.Stop()
		for {
			select {
			case <-stop:
				return
			case <-tick.C:
			}
			if b.frozen.Load() {
				continue
			}
			part := make([]int16, Rate/100)
			v.fill(part)
			b.mu.Lock()
			b.heard = append(b.heard, part...)
			b.mu.Unlock()
		}
	}()
	return &device{
		name: "test device", gone: b.gone, close: func() { close(stop) },
		mute: func() string { return *b.mute.Load() },
	}, nil
}

func (b *bench) strike() {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.strokes = append(b.strokes, time.Since(b.start).Round(time.Millisecond))
}

// alarm is a new alarm of a priority.
func (b *bench) alarm(p detect.Priority) {
	b.seq++
	b.Want(p, b.seq)
}

// still changes the wanted priority with no new alarm.
func (b *bench) still(p detect.Priority) { b.Want(p, b.seq) }

// warn adds an alarm to those that words tell of, as a caller lists them: the
// worst first, of equals the oldest.
func (b *bench) warn(text string, p detect.Priority) {
	b.names = append(b.names, Naming{ID: uint64(len(b.names) + 1), Priority: p, Text: text})
	slices.SortStableFunc(b.names, func(x, y Naming) int { return int(y.Priority) - int(x.Priority) })
	b.Name(b.names)
}

// after lets time pass.
func (b *bench) after(d time.Duration) {
	time.Sleep(d)
	synctest.Wait()
}

// A burst is one that was found in what the device pulled.
type burst struct {
	Priority detect.Priority
	At       time.Duration // in samples pulled, as time
	Whole    bool
}

// bursts finds the patterns in what was pulled, from 10 ms into each, where a
// cross-fade is over, and looks how far they go on. All pulses of a pattern
// are alike, so the search goes on after what was found.
func (b *bench) bursts() []burst {
	b.mu.Lock()
	defer b.mu.Unlock()
	const from, size = Rate / 100, Rate / 100
	var out []burst
	for i := 0; i < len(b.heard)-size; i++ {
		for _, p := range patterns {
			want := bursts()[p.Priority][from:]
			n := 0
			for n < len(want) && i+n < len(b.heard) && b.heard[i+n] == want[n] {
				n++
			}
			if n < size {
				continue
			}
			out = append(out, burst{p.Priority, time.Duration(i-from) * time.Second / Rate, n == len(want)})
			i += n - 1
			break
		}
	}
	return out
}

func (b *bench) bell() []time.Duration {
	b.mu.Lock()
	defer b.mu.Unlock()
	return slices.Clone(b.strokes)
}

// run gives a test a bench in fake time and closes it at the end.
func run(t *testing.T, mode Mode, f func(b *bench)) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t, mode)
		f(b)
		require.NoError(t, b.Close())
	})
}

// wantBursts compares with what was heard. The device pulls every 10 ms, so a
// burst begins up to that much after the moment given.
func (b *bench) wantBursts(want ...burst) {
	b.t.Helper()
	got := b.bursts()
	require.Len(b.t, got, len(want), "%v", got)
	for i := range want {
		assert.Equal(b.t, want[i].Priority, got[i].Priority, "burst %d", i)
		assert.Equal(b.t, want[i].Whole, got[i].Whole, "burst %d is whole", i)
		assert.InDelta(b.t, want[i].At.Seconds(), got[i].At.Seconds(), 0.021, "burst %d begins", i)
	}
}

const ms = time.Millisecond

func lengthOf(p detect.Priority) time.Duration {
	pat, _ := PatternOf(p)
	return pat.Length()
}
