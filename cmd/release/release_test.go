package main

import (
	"archive/tar"
	"archive/zip"
	"bytes"
	"compress/gzip"
	"context"
	"debug/buildinfo"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// clone clones this repository's commit into a folder; it skips where there is
// no git or no repository.
func clone(t *testing.T, dir string) {
	t.Helper()
	if _, err := git(t.Context(), "../..", "rev-parse", "HEAD"); err != nil {
		t.Skipf("no commit to build: %v", err)
	}
	top, err := git(t.Context(), ".", "rev-parse", "--show-toplevel")
	require.NoError(t, err)
	_, err = git(t.Context(), ".", "clone", "--quiet", top, dir)
	require.NoError(t, err)
}

func silent(string, ...any) {}

// The same commit gives the same bytes from two clones, in folders of different
// names, at different times of day and with different tags.
func TestSameCommitSameBytes(t *testing.T) {
	if testing.Short() {
		t.Skip("links two programs twice")
	}
	ctx := t.Context()
	if end, ok := t.Deadline(); ok { // a busy machine shall not take the other tests down
		var cancel context.CancelFunc
		ctx, cancel = context.WithDeadline(ctx, end.Add(-time.Minute))
		defer cancel()
	}
	base := t.TempDir()
	var have [2]map[string][]byte
	for i, name := range []string{"one", "a/longer way/two"} {
		dir := filepath.Join(base, name)
		clone(t, dir)
		if i == 1 {
			_, err := git(t.Context(), dir, "-c", "user.name=x", "-c", "user.email=x@example.org", "tag", "unrelated")
			require.NoError(t, err)
			t.Setenv("TZ", "Pacific/Auckland")
			t.Setenv("GOFLAGS", "-tags=other")
			t.Setenv("CGO_ENABLED", "1")
			time.Sleep(1100 * time.Millisecond) // file times and clocks of whole seconds have moved on
		}
		out := filepath.Join(base, "out", name)
		j := job{tree: dir, out: out, platforms: platforms[:1], say: silent}
		err := j.run(ctx)
		if ctx.Err() != nil {
			t.Skip("this machine is too busy to build in the time that tests have")
		}
		require.NoError(t, err)
		have[i] = map[string][]byte{}
		err = filepath.WalkDir(out, func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			have[i][d.Name()], err = os.ReadFile(path)
			return err
		})
		require.NoError(t, err)
	}
	require.Len(t, have[0], 2)
	for name, content := range have[0] {
		assert.True(t, bytes.Equal(content, have[1][name]), "%s is not the same", name)
	}
	checkSums(t, filepath.Join(base, "out", "one"))
	checkNotes(t, have[0])
}

// checkNotes reads what the Go tool noted in the programs.
func checkNotes(t *testing.T, archives map[string][]byte) {
	t.Helper()
	head, err := git(t.Context(), ".", "rev-parse", "HEAD")
	require.NoError(t, err)
	seen := 0
	for name, content := range archives {
		if !strings.HasSuffix(name, ".tar.gz") {
			continue
		}
		seen++
		z, err := gzip.NewReader(bytes.NewReader(content))
		require.NoError(t, err)
		r := tar.NewReader(z)
		for h := new(tar.Header); filepath.Base(h.Name) != "tetherbell"; {
			h, err = r.Next()
			require.NoError(t, err)
		}
		program, err := io.ReadAll(r)
		require.NoError(t, err)
		info, err := buildinfo.Read(bytes.NewReader(program))
		require.NoError(t, err)
		notes := map[string]string{}
		for _, s := range info.Settings {
			notes[s.Key] = s.Value
		}
		for key, want := range map[string]string{"vcs.revision": head, "vcs.modified": "false", "CGO_ENABLED": "0", "-trimpath": "true", "-tags": ""} {
			assert.Equal(t, want, notes[key], key)
		}
	}
	assert.Positive(t, seen)
}

// checkSums has the tool that people use read our checksums.
func checkSums(t *testing.T, dir string) {
	t.Helper()
	if _, err := exec.LookPath("sha256sum"); err != nil {
		t.Log("no sha256sum here")
		return
	}
	cmd := exec.Command("sha256sum", "--strict", "--check", "SHA256SUMS")
	cmd.Dir = dir
	said, err := cmd.CombinedOutput()
	assert.NoError(t, err, string(said))
}

func TestRefuses(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "clone")
	clone(t, dir)
	j := job{tree: dir, out: t.TempDir(), say: silent}
	_, err := j.source(t.Context())
	require.NoError(t, err, "a clean clone")

	require.NoError(t, os.WriteFile(filepath.Join(dir, "cmd", "new.go"), []byte("package x\n"), 0o644))
	_, err = j.source(t.Context())
	require.ErrorContains(t, err, "files differ from the commit")
	require.ErrorContains(t, err, "cmd/new.go")
	j.dirty = true
	s, err := j.source(t.Context())
	require.NoError(t, err, "told to build it all the same")
	assert.Contains(t, s.name(), "what has changed since")

	j = job{tree: t.TempDir(), say: silent}
	_, err = j.source(t.Context())
	assert.ErrorContains(t, err, "git")
	j.epoch = "yesterday"
	j.dirty = true
	_, err = j.source(t.Context())
	assert.ErrorContains(t, err, "SOURCE_DATE_EPOCH")
}

func TestTags(t *testing.T) {
	for name, tc := range map[string]struct {
		tags []string
		ok   bool
	}{
		"none":              {nil, true},
		"of another kind":   {[]string{"vanilla", "nightly"}, true},
		"the version":       {[]string{"nightly", "v0.1.0"}, true},
		"another version":   {[]string{"v0.2.0"}, false},
		"more than version": {[]string{"v0.1.0-rc1"}, false},
	} {
		t.Run(name, func(t *testing.T) {
			err := (&source{tags: tc.tags}).checkTags("0.1.0")
			assert.Equal(t, tc.ok, err == nil, "%v", err)
		})
	}
}

func TestEpochIsTheTimeOfFiles(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "clone")
	clone(t, dir)
	j := job{tree: dir, epoch: "1700000000", say: silent}
	s, err := j.source(t.Context())
	require.NoError(t, err)
	assert.Equal(t, "2023-11-14T22:13:20Z", s.when.Format(time.RFC3339)) // date -u -d @1700000000
}

var (
	when   = time.Date(2026, 11, 27, 14, 15, 41, 0, time.UTC)
	packed = []file{{"tool", []byte("#!/bin/sh\n"), true}, {"a/paper", []byte("text"), false}}
)

func TestTarred(t *testing.T) {
	content, err := tarred("x-1", packed, when)
	require.NoError(t, err)
	assert.Zero(t, content[4]|content[5]|content[6]|content[7], "a time in the header of gzip (RFC 1952, 2.3)")
	assert.Zero(t, content[3], "flags in the header of gzip: a name, a comment")
	z, err := gzip.NewReader(bytes.NewReader(content))
	require.NoError(t, err)
	r := tar.NewReader(z)
	var names []string
	for {
		h, err := r.Next()
		if err == io.EOF {
			break
		}
		require.NoError(t, err)
		names = append(names, h.Name)
		assert.True(t, h.ModTime.Equal(when))
		assert.Zero(t, h.Uid|h.Gid)
		assert.Empty(t, h.Uname+h.Gname)
		assert.Equal(t, h.Name == "x-1/tool", h.Mode == 0o755)
	}
	assert.Equal(t, []string{"x-1/a/paper", "x-1/tool"}, names)
}

func TestZipped(t *testing.T) {
	content, err := zipped("x-1", packed, when.In(time.FixedZone("far", 13*3600)))
	require.NoError(t, err)
	r, err := zip.NewReader(bytes.NewReader(content), int64(len(content)))
	require.NoError(t, err)
	require.Len(t, r.File, 2)
	assert.Equal(t, "x-1/a/paper", r.File[0].Name)
	assert.True(t, r.File[0].Modified.Equal(when))

	early, err := zipped("x", packed, time.Unix(0, 0))
	require.NoError(t, err)
	r, err = zip.NewReader(bytes.NewReader(early), int64(len(early)))
	require.NoError(t, err)
	assert.Equal(t, 1980, r.File[0].Modified.UTC().Year())
}

func TestChoose(t *testing.T) {
	all, err := choose("")
	require.NoError(t, err)
	assert.Len(t, all, 6)
	two, err := choose("linux/arm,windows/amd64")
	require.NoError(t, err)
	assert.Equal(t, "linux-armv7", two[0].name())
	assert.Equal(t, "windows-amd64", two[1].name())
	_, err = choose("linux/arm,plan9/386")
	assert.ErrorContains(t, err, `no platform "plan9/386"`)
}

func TestArguments(t *testing.T) {
	for _, args := range [][]string{{"more"}, {"-platforms", "nowhere"}, {"-nonsense"}} {
		assert.Error(t, run(context.Background(), args, io.Discard, io.Discard), strings.Join(args, " "))
	}
}

// What systems read says that the examples are written as they read them.
func TestExamplesVerify(t *testing.T) {
	service, err := os.ReadFile("share/tetherbell-watch.service")
	require.NoError(t, err)
	assert.Contains(t, string(service), "DeviceAllow=/dev/ttyAMA0 rw", "a port on the board has no name of an adapter's")
	for name, args := range map[string][]string{
		"systemd-analyze": {"verify", "--man=no"},
		"udevadm":         {"verify"},
	} {
		t.Run(name, func(t *testing.T) {
			if _, err := exec.LookPath(name); err != nil {
				t.Skipf("no %s here", name)
			}
			path := "share/61-bench-bridge.rules"
			if name == "udevadm" && exec.Command(name, "verify", "--help").Run() != nil {
				t.Skip("this udevadm cannot verify yet")
			}
			if name == "systemd-analyze" { // the program that it starts must be there
				self, err := os.Executable()
				require.NoError(t, err)
				text := strings.Replace(string(service), "/usr/local/bin/tetherbell", self, 1)
				require.NotEqual(t, string(service), text)
				path = filepath.Join(t.TempDir(), "tetherbell-watch.service")
				require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
			}
			said, err := exec.Command(name, append(args, path)...).CombinedOutput()
			require.NoError(t, err, string(said))
			assert.NotContains(t, string(said), "tetherbell-watch.service:", "a remark")
		})
	}
}
