package bridge

import (
	"bytes"
	"errors"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"tetherbell/decode"
)

// A queue that fills up takes lines whole or not at all; what waits behind a
// quarter of it is urgent.
func TestQueueFillsUp(t *testing.T) {
	q := NewQueue(1000)
	now := clock{}
	w := NewWriter(q, Config{Now: now.read})
	sent, refused := map[string]int{}, map[string]int{}
	tell := func(what string, err error) {
		if err == nil {
			sent[what]++
			return
		}
		require.ErrorIs(t, err, ErrFull)
		refused[what]++
	}
	for range 60 {
		tell("temp", w.Temp(0, []float64{31, 32}))
		tell("load", w.Load(0, 4.213))
	}
	require.Positive(t, sent["temp"])
	require.Greater(t, sent["load"], 2*sent["temp"])
	require.Positive(t, refused["load"])
	var port bytes.Buffer
	require.NoError(t, q.Close())
	require.NoError(t, q.Run(&port))
	require.LessOrEqual(t, port.Len(), 1000)
	require.Greater(t, port.Len(), 960, "urgent lines use all of it")
	require.Len(t, parse(t, port.String()), sent["temp"]+sent["load"]+1)
	_, err := q.Write([]byte("x"))
	require.Error(t, err, "closed")
}

// slow takes a tenth of a millisecond for a byte.
type slow struct{ bytes.Buffer }

func (s *slow) Write(p []byte) (int, error) {
	time.Sleep(time.Duration(len(p)) * 100 * time.Microsecond)
	return s.Buffer.Write(p)
}

// Twice as much as the port carries, for a while: nobody waits, every line that
// comes is whole, and the gaps are the lines that were dropped.
func TestQueueOnASlowPort(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		q := NewQueue(1024)
		port := &slow{}
		done := make(chan error, 1)
		go func() { done <- q.Run(port) }()
		start := time.Now()
		w := NewWriter(q, Config{Now: func() time.Duration { return time.Since(start) }})
		for range 2000 {
			before := time.Now()
			_ = w.Load(w.Now(), 4.213)
			require.Zero(t, time.Since(before), "a writer waits for no port")
			time.Sleep(1700 * time.Microsecond)
		}
		require.NoError(t, q.Close())
		require.NoError(t, <-done)
		samples := parse(t, port.String())
		lost := uint64(0)
		for i := 1; i < len(samples); i++ {
			lost += uint64(samples[i].Seq - samples[i-1].Seq - 1)
		}
		counts := w.Counts()
		require.EqualValues(t, len(samples), counts.Lines)
		require.Greater(t, lost, uint64(500))
		require.LessOrEqual(t, lost, counts.Dropped, "those behind the last line are not seen")
		require.Less(t, counts.Dropped-lost, uint64(50))
	})
}

type broken struct{}

func (broken) Write([]byte) (int, error) { return 0, errors.New("unplugged") }

func TestQueueOfABrokenPort(t *testing.T) {
	q := NewQueue(0)
	_, err := q.Write([]byte(strings.Repeat("a", decode.MaxLine)))
	require.NoError(t, err, "the least queue holds a line")
	require.ErrorContains(t, q.Run(broken{}), "unplugged")
	_, err = q.Write([]byte("x"))
	require.ErrorContains(t, err, "unplugged")
}

// brittle fails the third write, after a part of it.
type brittle struct {
	bytes.Buffer
	writes int
}

func (b *brittle) Write(p []byte) (int, error) {
	if b.writes++; b.writes == 3 {
		n, _ := b.Buffer.Write(p[:len(p)/2])
		return n, errors.New("unplugged")
	}
	return b.Buffer.Write(p)
}

// A port that failed a write and is opened again gets lines again, whole ones and
// none of those that waited; a bridge on a gadget port would stay mute once its
// host was unplugged.
func TestQueueRunsAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		q, port := NewQueue(4096), &brittle{}
		done := make(chan error, 1)
		start := func() { done <- q.Run(port) }
		w := NewWriter(q, Config{Now: (&clock{}).read})
		go start()
		for i := range 6 {
			err := w.Load(0, float64(i))
			if synctest.Wait(); i > 2 {
				require.ErrorContains(t, err, "unplugged")
			}
		}
		require.ErrorContains(t, <-done, "unplugged")
		q.err = nil // as if one had come between the failing write and its end
		require.NoError(t, w.Load(0, 6))
		q.err = errors.New("unplugged")
		go start()
		synctest.Wait()
		require.NoError(t, w.Load(0, 7))
		require.NoError(t, q.Close())
		require.NoError(t, <-done)
		lines := strings.Split(strings.TrimSuffix(port.String(), "\n"), "\n")
		torn := lines[len(lines)-2]
		require.NotContains(t, torn, "*", "torn, and closed by a line end")
		last := parse(t, lines[len(lines)-1]+"\n")
		v, _ := last[0].Get(decode.LoadN)
		require.EqualValues(t, 7, v, "what waited is dropped")
		require.EqualValues(t, 8, last[0].Seq, "and seen to be missing")
	})
}

// One that fails again at once tells so, and takes nothing.
func TestQueueFailsAgain(t *testing.T) {
	q := NewQueue(0)
	_, err := q.Write([]byte("x\n"))
	require.NoError(t, err)
	for range 3 {
		require.ErrorContains(t, q.Run(broken{}), "unplugged")
		_, err = q.Write([]byte("x\n"))
		require.ErrorContains(t, err, "unplugged")
	}
}

// What is not urgent leaves half of the queue free, but where nothing else waits.
func TestQueueKeepsHalfFree(t *testing.T) {
	q := NewQueue(600)
	for _, c := range []struct {
		used, length int
		want         bool
	}{{0, 400, true}, {1, 299, true}, {1, 300, false}, {250, 130, false}} {
		q.used = c.used
		require.Equal(t, c.want, q.quiet(c.length), "%+v", c)
	}
}
