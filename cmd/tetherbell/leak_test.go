package main

import (
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"
)

// safeBuffer is what a program says, read while it still runs.
type safeBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *safeBuffer) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *safeBuffer) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}

// A leakCase is a command that is run within this process.
type leakCase struct {
	name  string
	args  []string
	in    string
	after time.Duration // interrupt after it; 0: let it end
	code  int
}

// leakFiles makes what the commands are given.
func leakFiles(t *testing.T) (dir string, lines string) {
	t.Helper()
	dir = t.TempDir()
	text, err := os.ReadFile("../../testdata/sessions/gains-high.bell")
	require.NoError(t, err)
	var short strings.Builder // without an end, and torn
	for line := range bytes.Lines(text[:100_000]) {
		if line[0] != '#' {
			short.Write(line)
		}
	}
	lines = short.String()
	for name, text := range map[string]string{
		"short.bell": lines, "binary.bell": "\x00\x01\x02\xff\xfe", "old.txt": "idle_ready = 0.08\n", "new.txt": "idle_ready = 0.8\n",
		"short.toml": "name = \"short\"\nlesson = \"none\"\nseconds = 1.5\nevent = [{at = 0.5, do = \"arm\"}]\n",
	} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600))
	}
	return dir, lines
}

// TestNothingLeft runs many commands in one process, one after the other, some
// to their end and some interrupted: each leaves no goroutine and no descriptor.
func TestNothingLeft(t *testing.T) {
	dir, lines := leakFiles(t)
	t.Setenv("XDG_DATA_HOME", dir)
	t.Setenv("HOME", dir)
	whole, short := "../../testdata/sessions/gains-high.bell", filepath.Join(dir, "short.bell")
	at := func(name string) string { return filepath.Join(dir, name) }
	cases := []leakCase{
		{"check", []string{"check", whole}, "", 0, exitAlarm},
		{"check several", []string{"check", "--json", whole, short, at("binary.bell"), at("none.bell")}, "", 0, exitTrouble},
		{"check interrupted", []string{"check", whole}, "", time.Millisecond, -1},
		{"watch input", []string{"watch", "-", "--json", "--sound", "off"}, lines, 0, exitOK},
		{"watch input, recorded", []string{"watch", "-", "--plain", "--sound", "off", "--record", at("rec")}, lines, 0, exitOK},
		{"watch empty input", []string{"watch", "-", "--plain", "--sound", "off"}, "", 0, exitOK},
		{"watch a recording", []string{"watch", whole, "--plain", "--sound", "off"}, "", 0, exitOK},
		{"watch a recording that grows no more", []string{"watch", short, "--json", "--sound", "off"}, "", 300 * time.Millisecond, exitOK},
		{"watch with a bell", []string{"watch", "-", "--plain", "--sound", "bell"}, lines, 0, exitOK},
		{"watch no port", []string{"watch", at("none"), "--plain"}, "", 0, exitTrouble},
		{"replay", []string{"replay", whole, "--plain", "--sound", "off", "--speed", "50"}, "", 0, exitOK},
		{"replay interrupted", []string{"replay", whole, "--json", "--sound", "off"}, "", 200 * time.Millisecond, exitOK},
		{"demo", []string{"demo", at("short.toml"), "--plain", "--sound", "off"}, "", 0, exitOK},
		{"demo interrupted", []string{"demo", "--plain", "--sound", "off"}, "", 500 * time.Millisecond, exitOK},
		{"simulate", []string{"simulate", "--fast", at("short.toml")}, "", 0, exitOK},
		{"simulate interrupted", []string{"simulate", "calm"}, "", 200 * time.Millisecond, -1},
		{"report", []string{"report", whole, "-o", at("page.html")}, "", 0, exitOK},
		{"report of two", []string{"report", whole, short, "--format", "markdown", "-o", at("page.md")}, "", 0, exitOK},
		{"export", []string{"export", whole, "-o", at("tables"), "--format", "parquet"}, "", 0, exitOK},
		{"sessions", []string{"sessions", "../../testdata/sessions"}, "", 0, exitOK},
		{"settings", []string{"settings", at("old.txt"), at("new.txt")}, "", 0, exitAlarm},
		{"sound to a file", []string{"sound", "--wav", at("tones.wav")}, "", 0, exitOK},
		{"ports", []string{"ports"}, "", 0, exitOK},
	}
	once(t, leakCase{"what stays for good", []string{"check", short}, "", 0, -1})
	files := ownFiles(t)
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			before := goleak.IgnoreCurrent()
			once(t, c)
			assert.NoError(t, goleak.Find(before))
			assert.LessOrEqual(t, ownFiles(t), files, "descriptors")
		})
	}
}

// once runs a command. One that was interrupted before it had begun, on a busy
// machine, is given longer.
func once(t *testing.T, c leakCase) {
	t.Helper()
	for {
		ctx, cancel := context.WithCancel(context.Background())
		if c.after > 0 {
			stop := time.AfterFunc(c.after, cancel)
			defer stop.Stop()
		}
		var out, errs safeBuffer
		code := run(ctx, c.args, io.NopCloser(strings.NewReader(c.in)), &out, &errs)
		cancel()
		if c.code < 0 || code == c.code {
			return
		}
		if c.after *= 5; c.after == 0 || c.after > 10*time.Second {
			assert.Equal(t, c.code, code, "%s\n%s", out.String(), errs.String())
			return
		}
	}
}
