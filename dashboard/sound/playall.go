package sound

import (
	"context"
	"fmt"
	"time"

	"tetherbell/alarms/detect"
)

// PlayAll plays each pattern once, worst first, and says line by line through
// what and which. It ends early with ctx. That nothing can be heard is told
// by the line of the status, not by an error.
func PlayAll(ctx context.Context, opts Options, say func(line string)) error {
	p := New(ctx, opts)
	select {
	case <-p.Settled():
	case <-ctx.Done():
	}
	status := p.Status()
	say(status)
	var seq uint64
	for _, pat := range patterns {
		if ctx.Err() != nil {
			break
		}
		say(describe(pat))
		seq++
		p.Want(pat.Priority, seq)
		p.Want(detect.None, seq)
		// The silence after the last one is for what the device holds back.
		sleep(ctx, pat.Length()+aside)
		if now := p.Status(); now != status {
			status = now
			say(status)
		}
	}
	if err := p.Close(); err != nil {
		return err
	}
	return ctx.Err()
}

// describe names a pattern in a line.
func describe(p Pattern) string {
	return fmt.Sprintf("%s: %d pulses of %d ms at %.0f Hz, again after %.1f s",
		p.Priority, p.Pulses(), p.Pulse.Milliseconds(), p.Fundamental, p.Interval.Seconds())
}

func sleep(ctx context.Context, d time.Duration) {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
	case <-t.C:
	}
}
