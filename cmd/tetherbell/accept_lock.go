package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"time"
)

const (
	// lockStale: a lock is held for the time of one small read and write. One
	// that is so old belongs to a program that ended before it let go.
	lockStale = 10 * time.Second
	// lockPatience is how long another program is waited for.
	lockPatience = 5 * time.Second
	lockPause    = 10 * time.Millisecond
)

// A fileLock keeps other programs from changing a baseline between reading and
// writing it: a file beside it that only one can make. Those who only read need
// none, as a baseline is put in its place in one step.
type fileLock struct {
	path, token string
}

// lockBaseline waits for the lock of a baseline file.
func lockBaseline(ctx context.Context, baseline string, patience time.Duration) (*fileLock, error) {
	if to, err := filepath.EvalSymlinks(baseline); err == nil {
		baseline = to // one lock, by whatever name the file is known
	}
	l := &fileLock{path: baseline + ".lock", token: rand.Text()}
	for end := time.Now().Add(patience); ; {
		err := l.take()
		// Windows refuses for a moment what is just being removed.
		busy := errors.Is(err, fs.ErrExist) || runtime.GOOS == "windows" && errors.Is(err, fs.ErrPermission)
		switch {
		case err == nil:
			return l, nil
		case !busy:
			return nil, hinted(fmt.Errorf("keep baseline: %w", err), "may you write into the folder "+filepath.Dir(baseline)+"?")
		case !time.Now().Before(end):
			return nil, hinted(fmt.Errorf("keep baseline %s: another accept holds it for %v already", baseline, patience),
				"try again; if no other runs, remove "+l.path)
		}
		l.dropStale()
		select {
		case <-ctx.Done():
			return nil, fmt.Errorf("keep baseline %s: %w", baseline, errInterrupted)
		case <-time.After(lockPause):
		}
	}
}

// take makes the lock's file, or fails where there is one.
func (l *fileLock) take() error {
	f, err := os.OpenFile(l.path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if err != nil {
		return err
	}
	_, err = f.WriteString(l.token)
	if err := errors.Join(err, f.Close()); err != nil {
		os.Remove(l.path)
		return err
	}
	return nil
}

// dropStale removes a lock that was left behind. Of several that see it one
// alone may: the next would remove the lock that the first then made.
func (l *fileLock) dropStale() {
	if !stale(l.path) {
		return
	}
	guard := l.path + ".old"
	f, err := os.OpenFile(guard, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if err != nil {
		if stale(guard) {
			os.Remove(guard)
		}
		return
	}
	f.Close()
	if stale(l.path) { // still
		os.Remove(l.path)
	}
	os.Remove(guard)
}

func stale(path string) bool {
	info, err := os.Stat(path)
	return err == nil && time.Since(info.ModTime()) > lockStale
}

// release lets go, unless another took the lock over.
func (l *fileLock) release() {
	if text, err := os.ReadFile(l.path); err == nil && string(text) == l.token {
		os.Remove(l.path)
	}
}
