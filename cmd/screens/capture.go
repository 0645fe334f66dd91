package main

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"time"
)

// A state is a moment of a recording.
type state struct {
	name, file string
	at         float64 // seconds
}

// states are what a person must tell apart at a glance.
var states = []state{
	{"calm", "streams", 4.2},
	{"medium", "weak-motor", 8},
	{"high", "gains-high", 7},
	{"stale", "silence", 7.5},
	{"paused", "hushed", 7.4},
}

// A size is of a terminal, in columns and rows.
type size struct{ w, h int }

var sizes = []size{{80, 24}, {140, 45}, {200, 60}}

// A shot is a state on a terminal of a size.
type shot struct {
	state
	size
}

func (s shot) String() string { return fmt.Sprintf("%s-%dx%d", s.name, s.w, s.h) }

func shots() (out []shot) {
	for _, st := range states {
		for _, sz := range sizes {
			out = append(out, shot{st, sz})
		}
	}
	return out
}

// screenFile is where the text of a shot is kept.
func screenFile(root string, s shot) string {
	return filepath.Join(root, "dashboard", "testdata", "tmux", s.String()+".screen")
}

func writeScreens(root string) error {
	st, err := openStudio(root)
	if err != nil {
		return err
	}
	defer st.close()
	all := shots()
	texts, err := st.all(all, false)
	if err != nil {
		return err
	}
	for i, text := range texts {
		if err := os.WriteFile(screenFile(root, all[i]), []byte(text), 0o644); err != nil {
			return fmt.Errorf("write screen: %w", err)
		}
	}
	return nil
}

// A studio is a tmux server of our own, and the program to be seen in it.
type studio struct {
	dir    string // all that is made for it
	tapes  string // where the recordings are
	binary string
	wants  map[shot]string // what is kept, where that is known
}

// conf gives tmux's sessions the whole terminal, and nothing else. The server stays
// when its last session ends: the next one would else meet it as it goes.
const conf = `set -g status off
set -g default-terminal tmux-256color
set -g remain-on-exit on
set -sg escape-time 0
set -s exit-empty off
`

func openStudio(root string) (*studio, error) {
	if _, err := exec.LookPath("tmux"); err != nil {
		return nil, fmt.Errorf("find tmux: %w", err)
	}
	dir, err := os.MkdirTemp("", "screens")
	if err != nil {
		return nil, fmt.Errorf("make folder: %w", err)
	}
	s := &studio{dir: dir, binary: filepath.Join(dir, "tetherbell")}
	if s.tapes, err = filepath.Abs(filepath.Join(root, "testdata", "sessions")); err != nil {
		s.close()
		return nil, fmt.Errorf("find recordings: %w", err)
	}
	build := exec.Command("go", "build", "-o", s.binary, "./cmd/tetherbell")
	build.Dir = root
	if text, err := build.CombinedOutput(); err != nil {
		s.close()
		return nil, fmt.Errorf("build tetherbell: %w: %s", err, text)
	}
	if err := os.WriteFile(filepath.Join(dir, "conf"), []byte(conf), 0o600); err != nil {
		s.close()
		return nil, fmt.Errorf("write tmux's settings: %w", err)
	}
	// Before several sessions want it at once, each of which would start one.
	if _, err := s.tmux("start-server"); err != nil {
		s.close()
		return nil, err
	}
	return s, nil
}

// close ends our tmux server and whatever runs in it.
func (s *studio) close() {
	_, _ = s.tmux("kill-server") // none runs where nothing was captured
	os.RemoveAll(s.dir)
}

func (s *studio) tmux(args ...string) (string, error) {
	c := exec.Command("tmux", append([]string{"-u", "-S", filepath.Join(s.dir, "socket"), "-f", filepath.Join(s.dir, "conf")}, args...)...)
	c.Env = append(os.Environ(), "LC_ALL=C.UTF-8", "TMUX=")
	text, err := c.CombinedOutput()
	if err != nil {
		return "", fmt.Errorf("tmux %s: %w: %s", args[0], err, text)
	}
	return string(text), nil
}

// together is how many screens are captured side by side: each draws ten
// pictures a second.
const together = 5

// all captures many shots, in their order, as text or with colours.
func (s *studio) all(all []shot, colours bool) ([]string, error) {
	texts, errs := make([]string, len(all)), make([]error, len(all))
	for from := 0; from < len(all); from += together {
		var work sync.WaitGroup
		for i := from; i < min(from+together, len(all)); i++ {
			work.Go(func() { texts[i], errs[i] = s.capture(all[i], colours) })
		}
		work.Wait()
	}
	return texts, errors.Join(errs...)
}

const (
	lookEvery = 60 * time.Millisecond
	// standsFor looks in a row that see the same: no picture that is half drawn,
	// nor one whose program has not taken its last key yet.
	standsFor = 5
	// standsOtherwise is the same for a screen that is not what is kept: a busy
	// machine may hold a program up amid its picture, and not us.
	standsOtherwise = 100
	// patience is for a machine that is busy.
	patience = 2 * time.Minute
)

// capture starts a replay that stands still at the shot's moment and takes its
// screen, on which nothing moves.
func (s *studio) capture(sh shot, colours bool) (string, error) {
	_, err := s.tmux("new-session", "-d", "-s", sh.String(), "-x", strconv.Itoa(sh.w), "-y", strconv.Itoa(sh.h), "-c", s.tapes,
		"env", "-i", "HOME="+s.dir, "TERM=tmux-256color", "COLORTERM=truecolor", "LANG=C.UTF-8", "LC_ALL=C.UTF-8",
		s.binary, "replay", "--sound", "off", "--paused", "--at", strconv.FormatFloat(sh.at, 'f', -1, 64), sh.file+".bell")
	if err != nil {
		return "", err
	}
	defer func() { _, _ = s.tmux("kill-session", "-t", "="+sh.String()) }() // its end is of no interest
	pane := "=" + sh.String() + ":"
	look := []string{"capture-pane", "-p", "-t", pane}
	if colours {
		look = append(look, "-e")
	}
	want, known := s.wants[sh]
	last, stood := "", 0
	for give := time.Now().Add(patience); time.Now().Before(give); time.Sleep(lookEvery) {
		text, err := s.tmux(look...)
		if err != nil {
			return "", err
		}
		switch {
		case strings.Contains(text, "stops no motor"): // the cautions: a key that does nothing else closes them
			if _, err := s.tmux("send-keys", "-t", pane, "z"); err != nil {
				return "", err
			}
			stood = 0
		case !strings.Contains(text, "PAUSED") || text != last:
			stood = 0
		default:
			if stood++; stood >= standsOtherwise || stood >= standsFor && (!known || text == want) {
				return text, nil
			}
		}
		last = text
	}
	return "", fmt.Errorf("capture %v: it does not stand still; last seen:\n%s", sh, last)
}
