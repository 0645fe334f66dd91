package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"time"

	"golang.org/x/term"

	"tetherbell/dashboard"
)

// handsHelp tells of the trainee's keys; the screen's help page has them too.
const handsHelp = `The keys:
  Space        STOP; once disarmed it lets the stop switch go
  r            arm, disarm
  Up Down 0    throttle by 0.02, up twelve times a second at most; to zero
  Left Right   nudge roll; i k pitch, nose down and up; j l yaw`

// checkHands refuses a trainee where there are no keys, or no place for lines
// beside them.
func (s *simulation) checkHands() error {
	if !s.hands {
		return nil
	}
	_, keys := asTerminal(s.con.in)
	_, picture := asTerminal(s.con.err)
	switch {
	case s.fast:
		return hinted(usagef("--hands and --fast exclude each other"), "give one of them")
	case s.pty == "" && s.port == "":
		return hinted(usagef("--hands needs a place for the lines beside the keys"),
			"tetherbell simulate --hands --pty=/tmp/bench, and in another terminal: tetherbell watch /tmp/bench")
	case !keys || !picture:
		return hinted(usagef("--hands takes its keys from a terminal, and there is none"), "run it in a terminal of its own")
	}
	return nil
}

// steered runs the bench with the keys of the terminal on its sticks, or just
// runs it when nobody is at them.
func (s *simulation) steered(ctx context.Context, src *scenario, run func(context.Context) error) error {
	if src.hand == nil {
		return run(ctx)
	}
	in, ok := asTerminal(s.con.in)
	if !ok {
		return fmt.Errorf("read keys: %w", os.ErrInvalid) // checkHands has seen one
	}
	fmt.Fprintf(s.con.err, "%s\n  q            leave\n", handsHelp)
	state, err := term.MakeRaw(int(in.Fd()))
	if err != nil {
		return fmt.Errorf("read keys: %w", err)
	}
	ctx, cancel := context.WithCancel(ctx)
	told := make(chan struct{})
	defer func() {
		cancel()
		awaitBriefly(told)
		_ = term.Restore(int(in.Fd()), state)
		fmt.Fprintln(s.con.err)
	}()
	// Ended by standard input or the process: nothing can release a read of a
	// terminal.
	go func() {
		defer cancel()
		readKeys(in, src.hand.move)
	}()
	// Ended by ctx, waited for above.
	go func() {
		defer close(told)
		tellHands(ctx, s.con.err, src.hand)
	}()
	return run(ctx)
}

// readKeys hands on the moves until the person leaves or in ends.
func readKeys(in io.Reader, move func(dashboard.Hand)) {
	var k keyCutter
	buf := make([]byte, 64)
	for {
		n, err := in.Read(buf)
		for _, c := range buf[:n] {
			h, ok, leave := k.take(c)
			if leave {
				return
			}
			if ok {
				move(h)
			}
		}
		if err != nil {
			return
		}
	}
}

// A keyCutter finds the trainee's keys in the bytes of a terminal in raw mode.
// Arrows come as ESC [ A or ESC O A (ECMA-48 CUU, CUD, CUF, CUB; the second
// form from memory); other keys of that kind are passed over whole.
type keyCutter struct{ state int }

const (
	plainKey = iota
	afterEscape
	inSequence
)

// take takes one byte. Space is a stop wherever it stands.
func (k *keyCutter) take(c byte) (h dashboard.Hand, ok, leave bool) {
	state := k.state
	k.state = plainKey
	switch {
	case c == ' ':
		return dashboard.HandStop, true, false
	case c == 0x1B:
		k.state = afterEscape
		return
	case state == afterEscape && (c == '[' || c == 'O'):
		k.state = inSequence
		return
	case state == inSequence && (c < 0x40 || c > 0x7E):
		k.state = inSequence
		return
	case state == inSequence:
		h, ok = arrows[c]
		return h, ok, false
	case c == 'q' || c == 'Q' || c == 0x03: // Ctrl-C
		return 0, false, true
	}
	h, ok = handLetters[c]
	return h, ok, false
}

var arrows = map[byte]dashboard.Hand{
	'A': dashboard.ThrottleUp, 'B': dashboard.ThrottleDown, 'C': dashboard.RollRight, 'D': dashboard.RollLeft,
}

var handLetters = map[byte]dashboard.Hand{
	'r': dashboard.HandArm, 'R': dashboard.HandArm, '0': dashboard.ThrottleZero,
	'i': dashboard.NoseDown, 'I': dashboard.NoseDown, 'k': dashboard.NoseUp, 'K': dashboard.NoseUp,
	'j': dashboard.YawLeft, 'J': dashboard.YawLeft, 'l': dashboard.YawRight, 'L': dashboard.YawRight,
}

// tellEvery is how often the line of the sticks is looked at.
const tellEvery = 50 * time.Millisecond

// tellHands keeps a line that says where the hand is.
func tellHands(ctx context.Context, w io.Writer, t *trainee) {
	tick := time.NewTicker(tellEvery)
	defer tick.Stop()
	var last *dashboard.Hands
	for {
		if h := t.hands(); h != last {
			last = h
			if _, err := fmt.Fprintf(w, "\r%s\x1b[K", handsLine(h, widthOf(w))); err != nil {
				return
			}
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// handsLine says where the hand is in at most w columns.
func handsLine(h *dashboard.Hands, w int) string {
	armed, stop := "disarmed", "Space: STOP"
	switch {
	case h.Armed && h.Stopped:
		armed, stop = "ARMED", "STOPPED"
	case h.Armed:
		armed = "ARMED"
	case h.Stopped:
		stop = "STOPPED"
	}
	line := fmt.Sprintf("%-8s  %-11s  throttle %.2f  roll %+.2f  pitch %+.2f  yaw %+.2f", armed, stop, h.Throttle, h.Roll, h.Pitch, h.Yaw)
	if h.Say != "" {
		line = fmt.Sprintf("%-8s  %-11s  %s", armed, stop, h.Say)
	}
	return line[:min(len(line), max(w-1, 0))]
}

// widthOf is how wide the terminal behind w is, 80 where that is not known.
func widthOf(w io.Writer) int {
	if f, ok := asTerminal(w); ok {
		if wide, _, err := term.GetSize(int(f.Fd())); err == nil && wide > 0 {
			return wide
		}
	}
	return 80
}
