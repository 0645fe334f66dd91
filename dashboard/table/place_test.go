package table

import (
	"errors"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tetherbell/decode"
)

func TestEscape(t *testing.T) {
	for name, want := range map[string]string{
		"20261125T074111Z": "20261125T074111Z", "20261125T074111Z-2": "20261125T074111Z-2", "a b": "a%20b",
		"a=b/c:d%": "a%3Db%2Fc%3Ad%25", "Überflug": "Überflug", "v1.2.": "v1.2%2E", "..": ".%2E", "a\x00\xffb": "a%00%FFb",
		"": "__HIVE_DEFAULT_PARTITION__", "\uFFFD": "\uFFFD", `"'*?\{[]^|<>`: "%22%27%2A%3F%5C%7B%5B%5D%5E%7C%3C%3E",
	} {
		assert.Equal(t, want, Escape(name))
	}
	rapid.Check(t, func(t *rapid.T) { // the standard library undoes it
		name := string(rapid.SliceOfN(rapid.Byte(), 1, 20).Draw(t, "name"))
		esc := Escape(name)
		back, err := url.PathUnescape(esc)
		require.NoError(t, err)
		assert.Equal(t, name, back)
		assert.NotContains(t, esc, "/")
		assert.False(t, strings.HasSuffix(esc, "."), esc)
	})
}

func writeBook(t *testing.T, p Place, info Info, force bool, tags ...decode.Tag) error {
	t.Helper()
	receipt, err := p.Receipt()
	require.NoError(t, err)
	book, err := Open(p, info, receipt, force)
	if err != nil {
		return err
	}
	for _, tag := range tags {
		require.NoError(t, book.Sample(7, &decode.Sample{Tag: tag}))
	}
	_, err = book.Close(info)
	return err
}

// A further run replaces its own session and leaves the others alone; a table
// that it no longer has goes.
func TestRunAgain(t *testing.T) {
	for _, f := range Formats() {
		dir := t.TempDir()
		a, b := Place{Dir: dir, Format: f, Session: "a"}, Place{Dir: dir, Format: f, Session: "b"}
		require.NoError(t, writeBook(t, a, testInfo(), false, decode.Axes, decode.Load))
		require.NoError(t, writeBook(t, b, testInfo(), false, decode.Axes, decode.Load))
		before := files(t, dir)
		other, err := os.ReadFile(b.path(b.table("axes")))
		require.NoError(t, err)

		require.NoError(t, writeBook(t, a, testInfo(), false, decode.Axes))
		gone := a.table("load")
		assert.Equal(t, slices.DeleteFunc(before, func(n string) bool { return n == gone }), files(t, dir))
		_, err = os.Stat(dir + "/load/session=a")
		assert.ErrorIs(t, err, os.ErrNotExist)
		again, err := os.ReadFile(b.path(b.table("axes")))
		require.NoError(t, err)
		assert.Equal(t, other, again)
	}
}

// Both formats fit into one folder.
func TestBothFormats(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, writeBook(t, Place{Dir: dir, Format: CSV}, testInfo(), false, decode.Axes))
	require.NoError(t, writeBook(t, Place{Dir: dir, Format: Parquet}, testInfo(), false, decode.Axes))
	require.NoError(t, writeBook(t, Place{Dir: dir, Format: CSV}, testInfo(), false, decode.Axes))
	assert.Contains(t, files(t, dir), "axes.csv")
	assert.Contains(t, files(t, dir), "axes.parquet")
}

// A file of somebody else stays, and nothing is written beside it.
func TestTaken(t *testing.T) {
	p := Place{Dir: t.TempDir(), Format: CSV}
	theirs := p.path("load.csv")
	require.NoError(t, os.WriteFile(theirs, []byte("mine"), 0o600))
	var taken *TakenError
	require.ErrorAs(t, writeBook(t, p, testInfo(), false, decode.Load), &taken)
	assert.Equal(t, theirs, taken.Path)
	assert.Equal(t, []string{"load.csv"}, files(t, p.Dir))
	text, err := os.ReadFile(theirs)
	require.NoError(t, err)
	assert.Equal(t, "mine", string(text))

	require.NoError(t, writeBook(t, p, testInfo(), true, decode.Load))
	assert.Len(t, read(t, p, OfTag(decode.Load)), 1)
}

// A receipt that somebody wrote makes us remove nothing but tables.
func TestForgedReceipt(t *testing.T) {
	p := Place{Dir: t.TempDir() + "/in", Format: CSV}
	require.NoError(t, writeBook(t, p, testInfo(), false, decode.Load))
	victim := p.path("../precious")
	require.NoError(t, os.WriteFile(victim, nil, 0o600))
	require.NoError(t, os.WriteFile(p.path(p.receipt()), []byte(`{"sha256":"ab12","files":["../precious","load.csv","axes.csv","alarms.csv","marks.csv","recording.csv","csv-metadata.json"]}`), 0o600))
	require.NoError(t, writeBook(t, p, testInfo(), false))
	_, err := os.Stat(victim)
	assert.NoError(t, err)
	assert.NotContains(t, files(t, p.Dir), "load.csv")

	require.NoError(t, os.WriteFile(p.path(p.receipt()), []byte("[]"), 0o600))
	_, err = p.Receipt()
	assert.ErrorAs(t, err, new(*TakenError))
}

// A fullFile is a file on a disk with so many bytes left.
type fullFile struct {
	*os.File
	left *int
}

func (f fullFile) Write(p []byte) (int, error) {
	if *f.left -= len(p); *f.left < 0 {
		return 0, &os.PathError{Op: "write", Path: f.Name(), Err: syscall.ENOSPC}
	}
	return f.File.Write(p)
}

// On a full disk the error names the table by its own name; what lay there
// before stays whole, and nothing half written is left.
func TestFullDisk(t *testing.T) {
	for _, f := range Formats() {
		p := Place{Dir: t.TempDir() + "/new", Format: f, Session: "s"}
		for left := 0; ; left += 700 {
			s := newShelf(p)
			room := left
			s.create = func(dir, pattern string) (file, error) {
				f, err := os.CreateTemp(dir, pattern)
				return fullFile{f, &room}, err
			}
			err := fillFull(p, s)
			if err == nil {
				require.Greater(t, left, 1400, "the disk was never full")
				break
			}
			require.ErrorIs(t, err, syscall.ENOSPC)
			assert.Regexp(t, `^write .*(session=s.part-0\.(csv|parquet)|\.json): no space left`, err.Error())
			_, err = os.Stat(p.Dir)
			if !errors.Is(err, os.ErrNotExist) {
				t.Fatalf("left behind: %v", files(t, p.Dir))
			}
		}
		assert.Len(t, read(t, p, OfTag(decode.Axes)), 3000)
	}
}

func fillFull(p Place, s *shelf) error {
	b, err := open(p, testInfo(), Receipt{}, s)
	if err != nil {
		return err
	}
	for i := range 3000 {
		sample := decode.Sample{Tag: decode.Axes}
		sample.Put(decode.RateRoll, float64(i))
		if err := b.Sample(int64(i), &sample); err != nil {
			b.Drop()
			return err
		}
	}
	_, err = b.Close(testInfo())
	return err
}

// What a killed run left of a table goes with the next one, once it is old; a
// run that works beside us is left alone, and so is what is not ours.
func TestLeftoversAreSwept(t *testing.T) {
	p := Place{Dir: filepath.Join(t.TempDir(), "a[b]"), Format: CSV}
	require.NoError(t, os.MkdirAll(p.Dir, 0o755))
	old := time.Now().Add(-2 * deadAfter)
	put := func(name string, at time.Time) string {
		path := filepath.Join(p.Dir, name)
		require.NoError(t, os.WriteFile(path, nil, 0o600))
		require.NoError(t, os.Chtimes(path, at, at))
		return path
	}
	dead, young, other := put(".alarms.csv.123.tmp", old), put(".alarms.csv.124.tmp", time.Now()), put(".mine.csv.1.tmp", old)
	book, err := Open(p, testInfo(), Receipt{}, false)
	require.NoError(t, err)
	_, err = book.Close(testInfo())
	require.NoError(t, err)
	assert.NoFileExists(t, dead)
	assert.FileExists(t, young)
	assert.FileExists(t, other)
}
