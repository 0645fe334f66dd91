package sound

import (
	"context"
	"fmt"
	"strings"
	"time"

	"tetherbell/alarms/detect"
)

// PlayAll plays each pattern once, worst first, and says line by line through
// what and which. It ends early with ctx. That nothing can be heard is told
// by the line of the status, not by an error.
func PlayAll(ctx context.Context, opts Options, say func(line string)) error {
	p := New(ctx, opts)
	status := teller(ctx, p, say)
	choices := Choices(opts.Rotors, opts.Blades)
	var seq uint64
	for i, pat := range patterns {
		if ctx.Err() != nil {
			break
		}
		say(describe(pat, choices[i]))
		seq++
		p.Want(pat.Priority, seq)
		p.Want(detect.None, seq)
		// The silence after the last one is for what the device holds back.
		sleep(ctx, pat.Length()+aside)
		status()
	}
	if err := p.Close(); err != nil {
		return err
	}
	return ctx.Err()
}

// teller says what makes the sound, once that is known, and returns what says it
// again where it has changed and gives it.
func teller(ctx context.Context, p *Player, say func(line string)) func() string {
	select {
	case <-p.Settled():
	case <-ctx.Done():
	}
	told := ""
	tell := func() string {
		if now := p.Status(); now != told {
			told = now
			say(told)
		}
		return told
	}
	tell()
	return tell
}

// describe names a pattern in a line, with what its pitch gains where that is
// not the usual one.
func describe(p Pattern, c Choice) string {
	line := fmt.Sprintf("%s: %d pulses of %d ms at %.0f Hz, again after %.1f s",
		p.Priority, p.Pulses(), p.Pulse.Milliseconds(), c.Pitch, p.Interval.Seconds())
	if c.Pitch != c.Usual {
		line += fmt.Sprintf("; %.1f dB clearer among these rotors than at %.0f Hz", c.Gain, c.Usual)
	}
	return line
}

// levelEvery is the time from one burst of a level test to the next: the high
// pattern takes three and a half seconds, and an amplifier is turned while it
// sounds.
const levelEvery = 4500 * time.Millisecond

// PlayLevel plays the high pattern every few seconds, for a person who sets an
// amplifier: so many times, or until ctx ends where times is 0. It says what
// makes the sound, and when that changes. It returns how often it was played;
// where nothing can be heard, it does not begin.
func PlayLevel(ctx context.Context, opts Options, times int, say func(line string)) (int, error) {
	p := New(ctx, opts)
	status := teller(ctx, p, say)
	n := 0
	for ctx.Err() == nil && (times == 0 || n < times) && !strings.HasPrefix(status(), Unheard) {
		n++
		p.Want(detect.High, uint64(n))
		p.Want(detect.None, uint64(n))
		sleep(ctx, levelEvery)
		status()
	}
	return n, p.Close()
}

func sleep(ctx context.Context, d time.Duration) {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
	case <-t.C:
	}
}
