package link

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A stick is a disk that can be pulled out: every file on it then fails for
// ever, and no other can be made until it is back.
type stick struct {
	mu    sync.Mutex
	out   bool
	files []*stickFile
	heads []SessionHeader
}

func (s *stick) is(out bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.out = out
	for _, f := range s.files {
		f.dead = f.dead || out
	}
}

// A stickFile has a cache in memory as systems have: a sync that fails drops
// what it could not write, and the next one knows nothing of it.
type stickFile struct {
	on    *stick
	dead  bool
	cache []byte
	disk  []byte
	dirty [][2]int // of the cache: what the next sync writes

	noSync bool // it takes bytes, and cannot make them safe
}

func (f *stickFile) Write(p []byte) (int, error) {
	f.on.mu.Lock()
	defer f.on.mu.Unlock()
	if f.dead {
		return 0, syscall.EIO
	}
	f.dirty = append(f.dirty, [2]int{len(f.cache), len(f.cache) + len(p)})
	f.cache = append(f.cache, p...)
	return len(p), nil
}

func (f *stickFile) Sync() error {
	f.on.mu.Lock()
	defer f.on.mu.Unlock()
	dirty := f.dirty
	f.dirty = nil
	if f.dead || f.noSync {
		return syscall.EIO
	}
	for _, d := range dirty {
		if n := d[1] - len(f.disk); n > 0 {
			f.disk = append(f.disk, make([]byte, n)...)
		}
		copy(f.disk[d[0]:d[1]], f.cache[d[0]:d[1]])
	}
	return nil
}

func (f *stickFile) Close() error { return nil }

// next makes another file on the stick.
func (s *stick) next(name string, at int64) (*part, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.out {
		return nil, syscall.EIO
	}
	f := &stickFile{on: s}
	s.files = append(s.files, f)
	s.heads = append(s.heads, SessionHeader{Continues: name, ContinuesAt: at})
	return &part{f: f, path: fmt.Sprintf("%d.bell", len(s.files)), head: []byte("#session {}\n")}, nil
}

func (s *stick) record(t *testing.T) *Recorder {
	t.Helper()
	p, err := s.next("", 0)
	require.NoError(t, err)
	r := &Recorder{f: p.f, path: p.path, again: s.next, wake: make(chan struct{}, 1), done: make(chan struct{})}
	require.NoError(t, r.start(SessionHeader{}))
	return r
}

// The stick is pulled out and put in again: what it had synced is safe, all
// else is in the next file, which says where the first one ends.
func TestRecorderStickPulledOut(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &stick{}
		r := s.record(t)
		n := 0
		live := func(d time.Duration) {
			for end := time.Now().Add(d); time.Now().Before(end); n++ {
				r.Line(fmt.Appendf(nil, "line %d", n))
				time.Sleep(time.Millisecond)
			}
		}
		live(3250 * time.Millisecond)
		s.is(true)
		live(700 * time.Millisecond)
		assert.ErrorIs(t, r.Status().Err, syscall.EIO)
		live(5 * time.Second)
		assert.Equal(t, 1, r.Status().Files)
		assert.Greater(t, r.Status().Behind, 5*time.Second)
		s.is(false)
		live(3 * time.Second)
		st := r.Status()
		assert.NoError(t, st.Err)
		assert.Equal(t, 2, st.Files)
		assert.Equal(t, "2.bell", st.Path)
		assert.LessOrEqual(t, st.Behind, SafeAfter)
		require.NoError(t, r.Close([]byte("{}"), time.Second))
		assert.Zero(t, r.Status().Dropped)

		require.Len(t, s.files, 2)
		first, second := s.files[0], s.files[1]
		assert.Equal(t, "1.bell", s.heads[1].Continues)
		at := s.heads[1].ContinuesAt
		require.LessOrEqual(t, at, int64(len(first.disk)), "nothing is left out that was not safe")
		got, _, _ := readAll(t, strings.NewReader(string(first.disk[:at])+string(second.disk)))
		k := 0
		for _, g := range got {
			if g.kind == Wire {
				require.Equal(t, fmt.Sprintf("line %d", k), g.text)
				k++
			}
		}
		assert.Equal(t, n, k, "every line once")
	})
}

// A sync that failed is not believed when it succeeds later: another file has
// what it was to make safe.
func TestRecorderSyncFailsOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &stick{}
		r := s.record(t)
		var want, got strings.Builder
		for n := range 5000 {
			s.mu.Lock()
			s.files[0].noSync = n > 1000 && n < 1800 // the stick itself is there
			if len(s.files) > 1 {
				s.files[1].noSync = n > 3000 && n < 3400
			}
			s.mu.Unlock()
			r.Line(fmt.Appendf(nil, "line %d", n))
			fmt.Fprintf(&want, "line %d\n", n)
			time.Sleep(time.Millisecond)
		}
		assert.NoError(t, r.Status().Err)
		assert.Positive(t, r.Status().Faults)
		require.NoError(t, r.Close([]byte("{}"), time.Second))
		require.Len(t, s.files, 3)
		for i, f := range s.files {
			text := string(f.disk)
			if i+1 < len(s.files) {
				text = text[:s.heads[i+1].ContinuesAt]
			}
			got.WriteString(text[strings.IndexByte(text, '\n')+1:])
		}
		assert.Equal(t, want.String()+"#end {}\n", got.String())
	})
}

// While nothing can be made safe, what may be lost is kept, up to the bound.
func TestRecorderLostForLong(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &stick{}
		r := s.record(t)
		time.Sleep(time.Second)
		s.is(true)
		line := []byte(strings.Repeat("x", 999))
		sent := 0
		for ; r.Status().Dropped < 10; sent++ {
			r.Line(line)
			time.Sleep(time.Millisecond)
		}
		assert.GreaterOrEqual(t, sent, maxQueue/1000-100)
		s.is(false)
		time.Sleep(3 * time.Second)
		dropped := r.Status().Dropped
		require.NoError(t, r.Close([]byte("{}"), time.Second))
		require.Len(t, s.files, 2)
		text := string(s.files[0].disk[:s.heads[1].ContinuesAt]) + string(s.files[1].disk)
		assert.Equal(t, sent-int(dropped), strings.Count(text, string(line)))
		assert.Contains(t, text, fmt.Sprintf("#lost %d\n", dropped))
	})
}

// slowFile syncs slowly.
type slowFile struct {
	memFile
	sync time.Duration
	safe int
}

func (f *slowFile) Sync() error {
	f.mu.Lock()
	n := f.data.Len()
	f.mu.Unlock()
	time.Sleep(f.sync)
	f.mu.Lock()
	f.safe = n
	f.mu.Unlock()
	return nil
}

// How old a line gets before it is safe, with a disk that takes its time to
// sync; and however slow that is, the program's end loses a tenth of a second.
func TestRecorderSlowSync(t *testing.T) {
	for _, c := range []struct{ sync, most time.Duration }{
		{0, 500 * time.Millisecond},
		{200 * time.Millisecond, 700 * time.Millisecond},
		{300 * time.Millisecond, 800 * time.Millisecond},
		{500 * time.Millisecond, 1001 * time.Millisecond},
		{2 * time.Second, 4001 * time.Millisecond},
	} {
		t.Run(c.sync.String(), func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				f := &slowFile{sync: c.sync}
				r := newRecorder(t, f)
				head := 0
				var worst, unwritten, told time.Duration
				var sent []time.Time
				for range 10_000 {
					r.Line([]byte("1234567"))
					sent = append(sent, time.Now())
					time.Sleep(time.Millisecond)
					f.mu.Lock()
					if head == 0 {
						head = strings.IndexByte(f.data.String(), '\n') + 1
					}
					safe, there := max(0, f.safe-head)/8, max(0, f.data.Len()-head)/8
					f.mu.Unlock()
					if safe < len(sent) {
						worst = max(worst, time.Since(sent[safe]))
					}
					if there < len(sent) {
						unwritten = max(unwritten, time.Since(sent[there]))
					}
					told = max(told, r.Status().Behind)
				}
				assert.LessOrEqual(t, worst, c.most, "age of a line that is not safe")
				assert.InDelta(t, worst.Seconds(), told.Seconds(), 0.1, "the status knows it")
				assert.LessOrEqual(t, unwritten, 100*time.Millisecond, "a slow sync holds up no write")
				require.NoError(t, r.Close([]byte("{}"), time.Minute))
			})
		})
	}
}

// The file is removed under a real recorder: it goes on in another, as soon
// as there is a folder for it.
func TestRecorderFileDeleted(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("a file that is open cannot be removed here")
	}
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "stick")
	r, err := Create(dir, time.Now(), SessionHeader{Source: "test"})
	require.NoError(t, err)
	first := r.Status().Path
	line := func(text string) { r.Line([]byte(text)) }
	until := func(what string, ok func(RecordStatus) bool) {
		t.Helper()
		require.Eventually(t, func() bool { return ok(r.Status()) }, time.Minute, 10*time.Millisecond, what)
	}
	line("before")
	until("safe", func(s RecordStatus) bool { return s.Written > 0 && s.Behind == 0 })
	require.NoError(t, os.RemoveAll(dir))
	line("after")
	until("said", func(s RecordStatus) bool { return errors.Is(s.Err, errDeleted) })
	_, err = os.Stat(dir)
	require.ErrorIs(t, err, os.ErrNotExist, "the folder is not made again")
	require.NoError(t, os.Mkdir(dir, 0o755))
	until("goes on", func(s RecordStatus) bool { return s.Err == nil && s.Files == 2 })
	require.NoError(t, r.Close([]byte("{}"), time.Minute))
	data, err := os.ReadFile(r.Status().Path)
	require.NoError(t, err)
	assert.NotEqual(t, first, r.Status().Path)
	assert.Contains(t, string(data), `"continues":"`+filepath.Base(first)+`"`)
	assert.Contains(t, string(data), "\nafter\n#end {}\n")
	list, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, list, 1)
}
