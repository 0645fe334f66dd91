package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"tetherbell/alarms/detect"
	"tetherbell/alarms/runcard"
)

// ordersHelp tells of the lines that a watch without a screen takes.
const ordersHelp = `Without a screen, lines on standard input are a person's acts (unless SOURCE
is -):
  ack ALARM WHERE     acknowledge one alarm, as in: ack rising-oscillation pitch
  ack                 acknowledge all that is there
  mark TEXT           a note in the recording
  tick STEP           a step of the card is seen to be so; no, skip and again
                      STEP: it is not so, is left out, is done once more
  pause SECONDS       pause the sound, at most 60 s; 0 ends a pause`

type orderKind uint8

const (
	orderAck orderKind = iota
	orderAckAll
	orderMark
	orderPause
	orderCard
)

// An order is one line of standard input.
type order struct {
	kind  orderKind
	alarm detect.Kind
	where detect.Where
	text  string
	ms    int64
	act   runcard.Act // and text names the step
}

func parseOrder(line string) (order, error) {
	word, rest, _ := strings.Cut(strings.TrimSpace(line), " ")
	rest = strings.TrimSpace(rest)
	switch word {
	case "ack":
		if rest == "" {
			return order{kind: orderAckAll}, nil
		}
		name, place, _ := strings.Cut(rest, " ")
		k, ok := detect.KindNamed(name)
		if !ok {
			return order{}, fmt.Errorf("no alarm is called %q", name)
		}
		w, ok := detect.WhereNamed(strings.TrimSpace(place))
		if !ok {
			return order{}, fmt.Errorf("no place is called %q", strings.TrimSpace(place))
		}
		return order{kind: orderAck, alarm: k, where: w}, nil
	case "tick", "no", "skip", "again":
		if rest == "" {
			return order{}, fmt.Errorf("%s which step of the card?", word)
		}
		act, _ := runcard.ActNamed(word)
		return order{kind: orderCard, act: act, text: rest}, nil
	case "mark":
		return order{kind: orderMark, text: rest}, nil
	case "pause":
		s, err := strconv.ParseFloat(rest, 64)
		if err != nil || !(s >= 0 && s <= 60) {
			return order{}, fmt.Errorf("a pause takes 0 to 60 seconds, not %q", rest)
		}
		return order{kind: orderPause, ms: int64(s * 1000)}, nil
	}
	return order{}, fmt.Errorf("not understood: %q", line)
}

// readOrders reads what a live run is told on standard input.
func readOrders(in io.Reader, complain func(error)) <-chan order {
	return readAs(in, parseOrder, complain)
}

// readAs reads lines until in ends, and leaves out blank ones. Its goroutine is
// started by the command and ends with standard input or the process: nothing
// can release a read of a terminal.
func readAs[T any](in io.Reader, parse func(line string) (T, error), complain func(error)) <-chan T {
	out := make(chan T, 16)
	go func() {
		defer close(out)
		lines := bufio.NewReaderSize(in, maxOrder)
		for {
			line, ok, err := orderLine(lines)
			if !ok {
				return
			}
			if err == nil && strings.TrimSpace(line) == "" {
				continue
			}
			var o T
			if err == nil {
				o, err = parseGuarded(parse, line)
			}
			if err != nil {
				complain(err)
				continue
			}
			out <- o
		}
	}()
	return out
}

// parseGuarded is parse with a panic as an error: one line must not end a watch.
func parseGuarded[T any](parse func(line string) (T, error), line string) (o T, err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("not understood (%v): %q", newFault(r), line)
		}
	}()
	return parse(line)
}

// maxOrder is the longest line of standard input that is read.
const maxOrder = 4096

// orderLine reads a line, or passes over one that is too long: what comes after
// it is still heard. ok is false at the end.
func orderLine(r *bufio.Reader) (line string, ok bool, err error) {
	text, err := r.ReadSlice('\n')
	long := false
	for errors.Is(err, bufio.ErrBufferFull) {
		long = true
		text, err = r.ReadSlice('\n')
	}
	switch {
	case err != nil && len(text) == 0 && !long:
		return "", false, nil
	case long:
		return "", true, fmt.Errorf("a line of over %d bytes is left out", maxOrder)
	}
	return strings.TrimRight(string(text), "\r\n"), true, nil
}

// order carries out a line of standard input.
func (l *live) order(o order) {
	switch o.kind {
	case orderAck:
		l.desk.acknowledge(o.alarm, o.where)
		l.hush()
	case orderAckAll:
		l.desk.acknowledgeAll()
		l.hush()
	case orderMark:
		l.desk.mark(runcard.Free(o.text))
	case orderCard:
		if err := l.cardAct(o.act, o.text); err != nil {
			l.note("standard input: %v", err)
		}
	case orderPause:
		l.desk.pause(o.ms)
		l.hush()
	}
	l.showNow()
}
