package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/decode/craft"
	"tetherbell/link"
	"tetherbell/simulator"
)

// played is a recording of a scenario with some settings of its own. It has no
// header, as when a bridge's lines were kept by hand.
func played(t *testing.T, dir, name string, seed uint64, sets ...string) string {
	t.Helper()
	sc, err := simulator.Load(name)
	require.NoError(t, err)
	for _, s := range sets {
		require.NoError(t, sc.Set(s))
	}
	b := simulator.New(sc, seed)
	var text []byte
	for done := false; !done; {
		text, _, done = b.Next(text)
	}
	path := filepath.Join(dir, fmt.Sprintf("%s%d.bell", name, seed))
	require.NoError(t, os.WriteFile(path, text, 0o600))
	return path
}

// told runs a command and returns its code and what it told.
func told(args ...string) (code int, out, errs string) {
	var o, e bytes.Buffer
	code = run(context.Background(), args, strings.NewReader(""), &o, &e)
	return code, o.String(), e.String()
}

// ownFolder gives the test a configuration folder of its own.
func ownFolder(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	switch runtime.GOOS {
	case "windows":
		t.Setenv("AppData", dir)
	case "darwin":
		t.Setenv("HOME", dir)
	default:
		t.Setenv("XDG_CONFIG_HOME", dir)
	}
	conf, err := os.UserConfigDir()
	require.NoError(t, err)
	return filepath.Join(conf, "tetherbell", "baselines")
}

// Three sessions of one craft, kept by its name: from then on a motor that has
// become another rings, and the craft itself does not.
func TestAcceptByName(t *testing.T) {
	conf, dir := ownFolder(t), t.TempDir()
	for seed := range uint64(3) {
		code, out, errs := told("accept", played(t, dir, "calm", seed+1))
		require.Zero(t, code, errs)
		assert.Contains(t, out, "accepted as a session of Marsh Heron: 1")
		assert.Contains(t, out, "m4  1.0")
		if more := 2 - seed; more > 0 {
			assert.Contains(t, out, fmt.Sprintf("changes are judged from 3 sessions on: %d more", more))
		} else {
			assert.NotContains(t, out, "more")
		}
	}
	text, err := os.ReadFile(filepath.Join(conf, "Marsh Heron.toml"))
	require.NoError(t, err)
	b, err := craft.ParseBaseline(text)
	require.NoError(t, err)
	require.Len(t, b.Sessions, 3)
	assert.Equal(t, "Marsh Heron", b.Name)
	assert.Equal(t, "calm1.bell", b.Sessions[0].File)
	assert.Len(t, b.Sessions[0].Checksum, 64)

	code, out, _ := told("check", played(t, dir, "calm", 9))
	assert.Zero(t, code, out)
	// m3's propeller lifts a tenth less in level mode: 1.02, 1.06 of the mean.
	weak := played(t, dir, "calm", 10, "mode=level", "motor.3.thrust=0.7")
	code, out, _ = told("check", weak)
	assert.Equal(t, exitAlarm, code, out)
	assert.Contains(t, out, "in 3 accepted sessions it was")
	t.Setenv("XDG_CONFIG_HOME", t.TempDir())
	t.Setenv("HOME", t.TempDir())
	t.Setenv("AppData", t.TempDir())
	code, out, _ = told("check", weak)
	assert.Zero(t, code, "without the baseline it is not out: %s", out)
}

// Beside a craft file, whatever the craft is called.
func TestAcceptBesideACraftFile(t *testing.T) {
	conf, dir := ownFolder(t), t.TempDir()
	file := filepath.Join(dir, "heron.toml")
	require.NoError(t, os.WriteFile(file, []byte("mass_g = 655\n"), 0o600))
	for seed := range uint64(3) {
		code, _, errs := told("accept", "--craft", file, played(t, dir, "calm", seed+1))
		require.Zero(t, code, errs)
	}
	_, err := os.Stat(conf)
	assert.ErrorIs(t, err, os.ErrNotExist, "nothing by name")
	c, err := loadCraft(context.Background(), file)
	require.NoError(t, err)
	assert.Len(t, c.Baseline.Sessions, 3)
	left, err := filepath.Glob(filepath.Join(dir, ".tetherbell-*"))
	require.NoError(t, err)
	assert.Empty(t, left, "nothing half written stays")

	// A recording carries the baseline of its day, whatever becomes of the file.
	rec, err := startRecording(filepath.Join(dir, "runs"), link.SessionHeader{Source: "test"}, c, nil)
	require.NoError(t, err)
	path := rec.Status().Path
	require.NoError(t, rec.Close(nil, time.Minute))
	require.NoError(t, os.Remove(craft.BaselinePath(file)))
	h, err := readHead(path)
	require.NoError(t, err)
	assert.Equal(t, c.Baseline, h.craft(&console{err: os.Stderr}, path).Baseline)

	// A baseline that is not understood stops, as a craft file does.
	require.NoError(t, os.WriteFile(craft.BaselinePath(file), []byte("[[session]]\nseconds = nan\n"), 0o600))
	code, _, errs := told("check", "--craft", file, path)
	assert.Equal(t, exitTrouble, code)
	assert.Contains(t, errs, "heron.baseline.toml:2: session.1.seconds: NaN is not within")
}

// What is no good session is refused with one line and a next step, and changes
// nothing.
func TestAcceptRefuses(t *testing.T) {
	conf, dir := ownFolder(t), t.TempDir()
	good := played(t, dir, "calm", 1)
	whole, err := os.ReadFile(good)
	require.NoError(t, err)
	put := func(name string, text []byte) string {
		path := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(path, text, 0o600))
		return path
	}
	nameless := bytes.ReplaceAll(whole, []byte("\ncraft,"), []byte("\nkraft,"))
	for _, c := range []struct{ name, file, says string }{
		{"alarms", played(t, dir, "windup", 1), "rang at"},
		{"torn", put("torn.bell", whole[:len(whole)-3]), "it is torn"},
		{"empty", put("empty.bell", nil), "it is empty"},
		{"no good line", put("noise.bell", []byte("bog\nbog\n")), "no good line"},
		{"nothing steady", put("short.bell", whole[:bytes.LastIndexByte(whole[:len(whole)/8], '\n')+1]), "0 s of steady throttle"},
		{"no name", put("nameless.bell", nameless), "does not name the craft"},
		{"none", filepath.Join(dir, "none"), "no such file"},
		{"folder", dir, "directory"},
	} {
		t.Run(c.name, func(t *testing.T) {
			code, out, errs := told("accept", c.file)
			assert.Equal(t, exitTrouble, code)
			assert.Empty(t, out)
			assert.Contains(t, errs, c.says)
			lines := strings.Split(strings.TrimSpace(errs), "\n")
			require.Len(t, lines, 2, errs)
			assert.Regexp(t, "^hint: ", lines[1])
			_, err := os.Stat(filepath.Join(conf, "Marsh Heron.toml"))
			assert.ErrorIs(t, err, os.ErrNotExist)
		})
	}
	code, _, errs := told("accept", "--despite-alarms", played(t, dir, "weak-motor", 1))
	assert.Zero(t, code, errs)
	code, _, errs = told("accept", good)
	require.Zero(t, code, errs)
	code, _, errs = told("accept", put("copy.bell", whole))
	assert.Equal(t, exitTrouble, code)
	assert.Contains(t, errs, "in the baseline")
	code, _, errs = told("accept", played(t, dir, "hexa", 1, "craft.name=Marsh Heron"))
	assert.Equal(t, exitTrouble, code)
	assert.Contains(t, errs, "of 6 motors, but the baseline")
	for _, args := range [][]string{{"accept"}, {"accept", good, good}, {"accept", "--craft", "none.toml", good}} {
		code, _, errs := told(args...)
		assert.Equal(t, exitTrouble, code)
		assert.Contains(t, errs, "hint: ")
	}
}

// Several at once: each session that is told to be kept is.
func TestAcceptAtOnce(t *testing.T) {
	ownFolder(t)
	dir := t.TempDir()
	file := filepath.Join(dir, "heron.toml")
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	whole, err := os.ReadFile(played(t, dir, "calm", 1))
	require.NoError(t, err)
	const many = 6
	var all sync.WaitGroup
	for i := range many {
		path := filepath.Join(dir, fmt.Sprintf("r%d.bell", i))
		require.NoError(t, os.WriteFile(path, fmt.Appendf(whole[:len(whole):len(whole)], "#mark x%d\n", i), 0o600))
		all.Go(func() {
			code, _, errs := told("accept", "--craft", file, path)
			assert.Zero(t, code, errs)
		})
	}
	all.Wait()
	got, err := readBaseline(context.Background(), craft.BaselinePath(file))
	require.NoError(t, err)
	assert.Len(t, got.Sessions, many)
	left, err := filepath.Glob(filepath.Join(dir, "*.lock*"))
	require.NoError(t, err)
	assert.Empty(t, left)
}

// A lock that is held is waited for and then said; one that was left behind is
// taken over by one alone; none but the holder's is let go.
func TestBaselineLock(t *testing.T) {
	path := filepath.Join(t.TempDir(), "heron.baseline.toml")
	held, err := lockBaseline(context.Background(), path, 0)
	require.NoError(t, err)
	_, err = lockBaseline(context.Background(), path, 30*time.Millisecond)
	require.ErrorContains(t, err, "another accept holds it")
	assert.Contains(t, hintOf(err), path+".lock")
	gone, cancel := context.WithCancel(context.Background())
	cancel()
	_, err = lockBaseline(gone, path, time.Minute)
	require.ErrorIs(t, err, errInterrupted)

	old := time.Now().Add(-lockStale - time.Second)
	require.NoError(t, os.Chtimes(path+".lock", old, old))
	var all sync.WaitGroup
	var got atomic.Int32
	for range 8 {
		all.Go(func() {
			if _, err := lockBaseline(context.Background(), path, 200*time.Millisecond); err == nil {
				got.Add(1)
			}
		})
	}
	all.Wait()
	assert.EqualValues(t, 1, got.Load())
	held.release()
	assert.FileExists(t, path+".lock", "another's by now")
	_, err = lockBaseline(context.Background(), filepath.Join(path, "none", "x"), time.Minute)
	require.ErrorContains(t, err, "keep baseline")
}

// A baseline that names another craft is not judged by, and that is said.
func TestForeignBaselineIsSaid(t *testing.T) {
	ownFolder(t)
	dir := t.TempDir()
	file, run := filepath.Join(dir, "k.toml"), played(t, dir, "calm", 1)
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	b := craft.Baseline{Name: "Alder Kite"}
	for i := range 3 {
		b.Sessions = append(b.Sessions, craft.Session{Checksum: fmt.Sprintf("%064x", i+1), Seconds: 5, Output: 0.33,
			Shares: []float64{0.8, 1.2, 0.8, 1.2}, Spreads: []float64{0, 0, 0, 0}})
	}
	require.NoError(t, writeBaseline(craft.BaselinePath(file), b))
	code, out, _ := told("check", "--craft", file, run)
	assert.Zero(t, code, out)
	assert.Contains(t, out, "they are of Alder Kite, and this craft is Marsh Heron")
	b.Name = "Marsh Heron"
	require.NoError(t, writeBaseline(craft.BaselinePath(file), b))
	code, out, _ = told("check", "--craft", file, run)
	assert.Equal(t, exitAlarm, code, out)
}

// The oldest session leaves a baseline that is full.
func TestAcceptKeepsTheNewest(t *testing.T) {
	ownFolder(t)
	dir := t.TempDir()
	file := filepath.Join(dir, "heron.toml")
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	var b craft.Baseline
	for i := range craft.MaxSessions {
		b.Sessions = append(b.Sessions, craft.Session{Checksum: fmt.Sprintf("%064x", i+1), Seconds: 5, Output: 0.33,
			Shares: []float64{1, 1, 1, 1}, Spreads: []float64{0, 0, 0, 0}})
	}
	require.NoError(t, writeBaseline(craft.BaselinePath(file), b))
	code, out, errs := told("accept", "--craft", file, played(t, dir, "calm", 1))
	require.Zero(t, code, errs)
	assert.Contains(t, out, "1 older left it")
	got, err := readBaseline(context.Background(), craft.BaselinePath(file))
	require.NoError(t, err)
	assert.Len(t, got.Sessions, craft.MaxSessions)
	assert.Equal(t, b.Sessions[1], got.Sessions[0])
	assert.Equal(t, "calm1.bell", got.Sessions[craft.MaxSessions-1].File)
}

func TestBaselineFileNames(t *testing.T) {
	for name, want := range map[string]string{
		"Marsh Heron": "Marsh Heron", "Réiher-7_b": "Réiher-7_b",
		"a/b": "a_b-", "..": "__-", "con": "con-", " x": "x-", `\\host\x`: "__host_x-", "a:b": "a_b-",
	} {
		got := fileName(name)
		assert.True(t, strings.HasPrefix(got, want), "%s: %s", name, got)
		assert.Equal(t, got, filepath.Base(got))
	}
	assert.NotEqual(t, fileName("a/b"), fileName("a:b"))
}

// A broken file among those kept by name is said and does not stop the watch.
func TestBrokenNamedBaselineIsSaid(t *testing.T) {
	conf, dir := ownFolder(t), t.TempDir()
	require.NoError(t, os.MkdirAll(conf, 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(conf, "x.toml"), []byte("bog"), 0o600))
	code, _, errs := told("check", played(t, dir, "calm", 1))
	assert.Zero(t, code)
	assert.Contains(t, errs, "x.toml")
	assert.Contains(t, errs, "judged without it")
}
