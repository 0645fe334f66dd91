package link

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Names in the order of their bytes are in the order of time, compressed or
// not, also beside the older form, which knew no milliseconds.
func TestNamesSortByTime(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		type named struct {
			ms   int64 // since an epoch
			old  int   // the older form: how many began in that second; 0: the form of today
			name string
		}
		base := time.Date(2026, 12, 31, 23, 59, 58, 0, time.UTC)
		draw := rapid.Custom(func(r *rapid.T) named {
			n := named{ms: rapid.Int64Range(0, 4000).Draw(r, "ms"), old: rapid.IntRange(0, 1).Draw(r, "old")}
			at := base.Add(time.Duration(n.ms) * time.Millisecond)
			n.name = Name(at)
			if n.old > 0 {
				n.ms = n.ms / 1000 * 1000 // all that its name tells
				n.name = at.Format("20060102T150405Z") + Ext
			}
			if rapid.Bool().Draw(r, "squeezed") {
				n.name += ".zst"
			}
			return n
		})
		all := rapid.SliceOfN(draw, 2, 20).Draw(r, "all")
		sort.SliceStable(all, func(i, j int) bool { return all[i].name < all[j].name })
		for i := 1; i < len(all); i++ {
			a, b := all[i-1], all[i]
			if a.ms > b.ms || a.ms == b.ms && a.old < b.old && a.name != b.name {
				r.Fatalf("%s sorts before %s", a.name, b.name)
			}
		}
	})
	// The older form's own numbers come before today's names of that second.
	at := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	for _, old := range []string{"20260101T000000Z.bell", "20260101T000000Z-2.bell", "20260101T000000Z-10.bell"} {
		assert.Less(t, old, Name(at))
		assert.Less(t, Name(at.Add(-time.Millisecond)), old)
	}
}

// Monitors that start together never share a file, and take no name that a
// compressed recording has.
func TestCreateTogether(t *testing.T) {
	dir := t.TempDir()
	at := time.Date(2026, 11, 25, 6, 41, 11, 998_000_000, time.UTC)
	taken := filepath.Join(dir, "20261125T064111Z_999.bell.zst")
	require.NoError(t, os.WriteFile(taken, []byte("of another"), 0o600))
	const monitors = 20
	paths := make([]string, monitors)
	var all sync.WaitGroup
	for i := range monitors {
		all.Go(func() {
			r, err := Create(dir, at, SessionHeader{Source: fmt.Sprint(i)})
			if assert.NoError(t, err) {
				r.Line([]byte(fmt.Sprint("line of ", i)))
				assert.NoError(t, r.Close([]byte("{}"), time.Minute))
				paths[i] = r.Status().Path
			}
		})
	}
	all.Wait()
	for i, p := range paths {
		data, err := os.ReadFile(p)
		require.NoError(t, err)
		assert.Contains(t, string(data), fmt.Sprintf("\nline of %d\n#end {}\n", i))
		assert.NotEqual(t, "20261125T064111Z_999.bell", filepath.Base(p))
	}
	slices.Sort(paths)
	assert.Len(t, slices.Compact(paths), monitors)
	data, err := os.ReadFile(taken)
	require.NoError(t, err)
	assert.Equal(t, "of another", string(data))
}
