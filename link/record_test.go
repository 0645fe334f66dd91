package link

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// memFile is a file in memory. It takes room bytes more (all when room is
// nil) and then fails as a full disk does: with a part written.
type memFile struct {
	mu     sync.Mutex
	data   bytes.Buffer
	room   *int
	noSync error
	hold   chan struct{} // a write waits until it is closed
	writes []time.Time
	syncs  []time.Time
	closed bool
}

func (m *memFile) Write(p []byte) (int, error) {
	m.mu.Lock()
	hold := m.hold
	m.mu.Unlock()
	if hold != nil {
		<-hold
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	m.writes = append(m.writes, time.Now())
	n := len(p)
	if m.room != nil {
		n = min(n, *m.room)
		*m.room -= n
	}
	m.data.Write(p[:n])
	if n < len(p) {
		return n, syscall.ENOSPC
	}
	return n, nil
}

func (m *memFile) Sync() error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.noSync != nil {
		return m.noSync
	}
	m.syncs = append(m.syncs, time.Now())
	return nil
}

func (m *memFile) Close() error { m.closed = true; return nil }

func (m *memFile) text() string {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.data.String()
}

func newRecorder(t *testing.T, f File) *Recorder {
	t.Helper()
	r, err := NewRecorder(f, "x.bell", SessionHeader{Tool: "tetherbell", Source: "test", Baud: 9600})
	require.NoError(t, err)
	return r
}

func TestRecorderWritesWhatItIsGiven(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := &memFile{}
		r := newRecorder(t, f)
		r.Line([]byte("a*1\r"))
		r.At(12340)
		r.Line([]byte("#posing as host"))
		r.Line(nil)
		r.Ack("tip-over", "roll")
		r.Mark("two\nlines")
		r.Note("the engine\nstood still")
		r.Pause(30500)
		r.Alarm([]byte(`{"t":1}`))
		require.NoError(t, r.Close([]byte(`{"lines":1}`), time.Second))
		want := `#session {"tool":"tetherbell","version":"","start_utc":"","source":"test","baud":9600}` + "\n" +
			"a*1\r\n#at 12.340\n#wire #posing as host\n\n#ack tip-over roll\n#mark two lines\n#note the engine stood still\n#pause 30.500\n" +
			`#alarm {"t":1}` + "\n" + `#end {"lines":1}` + "\n"
		assert.Equal(t, want, f.text())
		var it Item
		ParseItem([]byte("#note the engine stood still"), &it)
		assert.Equal(t, Item{Kind: Note, Line: []byte("the engine stood still")}, it)
		assert.True(t, f.closed)
		s := r.Status()
		assert.EqualValues(t, len(want), s.Written)
		assert.Zero(t, s.Waiting)
	})
}

func TestRecorderPaces(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := &memFile{}
		r := newRecorder(t, f)
		began := time.Now()
		var behind time.Duration
		for range 300 { // three seconds of lines
			r.Line([]byte("a"))
			time.Sleep(10 * time.Millisecond)
			s := r.Status()
			behind = max(behind, s.Behind)
		}
		synctest.Wait()
		last := began
		for _, w := range f.writes {
			assert.LessOrEqual(t, w.Sub(last), 100*time.Millisecond)
			last = w
		}
		last = began
		for _, s := range f.syncs {
			assert.LessOrEqual(t, s.Sub(last), 500*time.Millisecond)
			last = s
		}
		assert.GreaterOrEqual(t, len(f.syncs), 6)
		assert.Positive(t, behind)
		assert.LessOrEqual(t, behind, 500*time.Millisecond)
		require.NoError(t, r.Close([]byte("{}"), time.Second))
	})
}

func TestRecorderFullDisk(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		room := 150
		f := &memFile{room: &room}
		r := newRecorder(t, f)
		for range 50 {
			r.Line([]byte("line of text"))
		}
		time.Sleep(time.Second)
		s := r.Status()
		assert.ErrorIs(t, s.Err, syscall.ENOSPC)
		assert.False(t, strings.HasSuffix(f.text(), "\n"), "the disk cut a line in two")
		assert.Positive(t, s.Waiting)
		r.At(1000) // life goes on
		f.mu.Lock()
		room = 1 << 20
		f.mu.Unlock()
		time.Sleep(time.Second)
		s = r.Status()
		assert.NoError(t, s.Err)
		assert.Positive(t, s.Faults)
		assert.Zero(t, s.Missing(), "all of it has been written since")
		require.NoError(t, r.Close([]byte("{}"), time.Second))
		got, _, _ := readAll(t, strings.NewReader(f.text()))
		require.Len(t, got, 1+50+1+1)
		for _, g := range got[1:51] {
			assert.Equal(t, seen{Wire, "line of text"}, g)
		}
	})
}

func TestRecorderStaysFull(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		room := 100
		f := &memFile{room: &room}
		r := newRecorder(t, f)
		r.Line([]byte("never on the disk"))
		time.Sleep(3 * time.Second)
		synctest.Wait()
		assert.LessOrEqual(t, len(f.writes), 8, "a full disk is not hammered")
		for range 40 { // they move to the writer, and wait in the queue
			r.Line([]byte("nor is this"))
			time.Sleep(100 * time.Millisecond)
		}
		s := r.Status()
		assert.Zero(t, s.Dropped, "there is room to wait")
		assert.EqualValues(t, 41, s.Missing(), "the first was cut in two, and nothing after it is in the file")
		err := r.Close([]byte("{}"), time.Second)
		assert.ErrorIs(t, err, syscall.ENOSPC)
		assert.ErrorContains(t, err, "; 42 lines are not in it")
		s = r.Status()
		assert.EqualValues(t, 42, s.Missing())
		assert.True(t, f.closed)
	})
}

func TestRecorderSyncFails(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := &memFile{noSync: syscall.EIO}
		r := newRecorder(t, f)
		for range 100 {
			r.Line([]byte("a"))
			time.Sleep(10 * time.Millisecond)
		}
		assert.ErrorIs(t, r.Status().Err, syscall.EIO, "said until a sync succeeds")
		f.mu.Lock()
		f.noSync = nil
		f.mu.Unlock()
		time.Sleep(1100 * time.Millisecond)
		assert.NoError(t, r.Status().Err)
		require.NoError(t, r.Close([]byte("{}"), time.Second))
		assert.Equal(t, 100, strings.Count(f.text(), "a\n"), "every line once")
	})
}

// A disk that does not answer: the caller never waits, lines are dropped
// whole and counted, and the recording says where.
func TestRecorderNeverBlocks(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := &memFile{hold: make(chan struct{})}
		r := newRecorder(t, f)
		began := time.Now()
		line := bytes.Repeat([]byte("x"), 199)
		sent := 0
		for ; r.Status().Dropped < 1000; sent++ {
			r.Line(line)
		}
		time.Sleep(time.Second)
		for ; r.Status().Dropped < 2000; sent++ { // the queue had moved once
			r.Line(line)
		}
		assert.Less(t, time.Since(began), 2*time.Second, "no line waited")
		assert.LessOrEqual(t, r.Status().Waiting, 2*maxQueue)
		close(f.hold)
		f.mu.Lock()
		f.hold = nil
		f.mu.Unlock()
		time.Sleep(time.Second)
		r.Line([]byte("after"))
		dropped := r.Status().Dropped
		require.NoError(t, r.Close([]byte("{}"), time.Second))

		var kept, lost uint64
		got, _, _ := readAll(t, strings.NewReader(f.text()))
		for _, g := range got {
			switch g.kind {
			case Wire:
				if g.text == "after" {
					assert.Equal(t, dropped, lost, "the loss is marked before what follows it")
					continue
				}
				require.Equal(t, string(line), g.text, "whole lines only")
				kept++
			case Lost:
				n, ok := parseWhole([]byte(g.text))
				require.True(t, ok)
				lost += uint64(n)
			}
		}
		assert.EqualValues(t, sent, kept+lost)
	})
}

func TestRecorderCloseGivesUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := &memFile{hold: make(chan struct{})}
		r := newRecorder(t, f)
		r.Line([]byte("a"))
		began := time.Now()
		assert.ErrorContains(t, r.Close([]byte("{}"), 2*time.Second), "the disk does not answer; 3 lines are not in it")
		assert.Equal(t, 2*time.Second, time.Since(began))
		close(f.hold) // let the writer end
	})
}

func TestCreateNames(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "bench", "day")
	at := time.Date(2026, 11, 25, 7, 41, 11, 0, time.FixedZone("", 3600))
	for _, want := range []string{"20261125T064111Z_000.bell", "20261125T064111Z_001.bell", "20261125T064111Z_002.bell"} {
		r, err := Create(dir, at, SessionHeader{Tool: "tetherbell"})
		require.NoError(t, err)
		require.NoError(t, r.Close([]byte("{}"), time.Minute))
		assert.Equal(t, filepath.Join(dir, want), r.Status().Path)
		data, err := os.ReadFile(r.Status().Path)
		require.NoError(t, err)
		assert.Contains(t, string(data), `"start_utc":"2026-11-25T06:41:11Z"`)
	}
	file := filepath.Join(dir, "20261125T064111Z_000.bell")
	_, err := Create(file, at, SessionHeader{})
	assert.Error(t, err, "a file is no folder")
}

func BenchmarkRecorderLine(b *testing.B) {
	f, err := os.Create(filepath.Join(b.TempDir(), "x.bell"))
	if err != nil {
		b.Fatal(err)
	}
	r, err := NewRecorder(f, "x", SessionHeader{})
	if err != nil {
		b.Fatal(err)
	}
	line := []byte("axes,2,1040,-0.4,1.2,0.1,0.0,0.0,0.0,0.0012,-0.0030,0.0004,0.131*E939220D")
	b.ReportAllocs()
	for b.Loop() {
		r.Line(line)
	}
	if err := r.Close([]byte("{}"), time.Minute); err != nil && !errors.Is(err, syscall.ENOSPC) {
		b.Fatal(err)
	}
}
