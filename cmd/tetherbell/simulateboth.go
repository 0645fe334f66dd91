package main

import (
	"context"
	"fmt"
	"path/filepath"
)

// checkSecond refuses what a second bridge cannot be.
func (s *simulation) checkSecond() error {
	const most = 10_000 // a hundredth, as the engine believes of a clock
	switch {
	case s.pty2 == "":
		return nil
	case s.pty == "":
		return hinted(usagef("--pty2 is the second of two bridges, and the first has no --pty"), "tetherbell simulate --pty=/tmp/craft --pty2=/tmp/stand")
	case s.fast:
		return hinted(usagef("--fast sends without a pace, and two bridges go together by their time"), "leave out --fast")
	case s.ppm2 < -most || s.ppm2 > most || s.ppm2 != s.ppm2:
		return hinted(usagef("a clock that is %g ppm off is no clock", s.ppm2), "--ppm2 30")
	}
	if s.pty != ptyAlone && samePath(s.pty, s.pty2) {
		return hinted(usagef("--pty and --pty2 are both %s: the first bridge could not be reached", s.pty), "give each bridge a link of its own")
	}
	_, err := dividedTags(s.tags2)
	return err
}

// samePath reports whether two links are one, by whatever way they are named.
func samePath(a, b string) bool {
	for _, p := range []*string{&a, &b} {
		dir, err := filepath.Abs(filepath.Dir(*p))
		if err != nil {
			return a == b
		}
		if real, err := filepath.EvalSymlinks(dir); err == nil {
			dir = real
		}
		*p = filepath.Join(dir, filepath.Base(*p))
	}
	return a == b
}

// toBoth sends to two pseudo-terminals, the first of which is there, and closes
// both.
func (s *simulation) toBoth(ctx context.Context, src *scenario, first *pseudo) error {
	defer first.close()
	path := s.pty2
	if path == ptyAlone {
		path = ""
	}
	second, err := openPseudo(path)
	if err != nil {
		return err
	}
	defer second.close()
	if _, err := fmt.Fprintln(s.con.out, second.path); err != nil {
		return fmt.Errorf("tell the path: %w", err)
	}
	d := &divider{lineSource: src.lineSource, ppm: s.ppm2, ahead: standAhead}
	if d.tags, err = dividedTags(s.tags2); err != nil {
		return err
	}
	a, b := newDropWriter(first.master, first.discard), newDropWriter(second.master, second.discard)
	d.first, d.second = a, b
	src.lineSource = d
	err = s.steered(ctx, src, func(ctx context.Context) error { return pump(ctx, src, d, false) })
	a.close()
	b.close()
	if n := a.dropped.Load() + b.dropped.Load(); n > 0 {
		s.con.note("%d bytes were dropped: nobody read them", n)
	}
	if ctx.Err() == nil {
		first.drain()
		second.drain()
	}
	return err
}
