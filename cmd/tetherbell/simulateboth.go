package main

import (
	"context"
	"fmt"
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
	_, err := dividedTags(s.tags2)
	return err
}

// toBoth sends to two pseudo-terminals, the first of which is there.
func (s *simulation) toBoth(ctx context.Context, src *scenario, first *pseudo) error {
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
