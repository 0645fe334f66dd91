package main

import (
	"bytes"
	"context"
	"errors"
	"io"
	"runtime"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
	"tetherbell/link"
	"tetherbell/simulator"
)

func TestLinkWatch(t *testing.T) {
	type look struct {
		ms                 int64
		good, bytes, other uint64
		want               trouble
		fresh              bool
	}
	cases := []struct {
		name  string
		looks []look
	}{
		{"good lines", []look{{200, 1, 40, 0, noTrouble, false}, {2300, 5, 200, 0, noTrouble, false}, {4200, 9, 400, 0, noTrouble, false}}},
		{"nothing from the start", []look{{1900, 0, 0, 0, noTrouble, false}, {2000, 0, 0, 0, silent, true}, {2200, 0, 0, 0, silent, false}}},
		{"only bad", []look{{200, 0, 10, 0, noTrouble, false}, {2000, 0, 400, 0, noTrouble, false}, {2200, 0, 500, 0, onlyBad, true}, {2400, 0, 600, 0, onlyBad, false}}},
		{"other version", []look{{200, 0, 10, 0, noTrouble, false}, {2200, 0, 500, 1, otherVersion, true}}},
		{"silent, then bad: bad has its own two seconds", []look{{2000, 0, 0, 0, silent, true}, {3000, 0, 10, 0, silent, false}, {4000, 0, 50, 0, silent, false}, {5000, 0, 90, 0, onlyBad, true}}},
		{"good, then silent, then good, then silent again", []look{{100, 3, 90, 0, noTrouble, false}, {2100, 3, 90, 0, silent, true}, {2300, 4, 120, 0, noTrouble, false}, {4300, 4, 120, 0, silent, true}}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			var l linkWatch
			for _, k := range c.looks {
				got, fresh := l.look(k.ms, k.good, k.bytes, k.other)
				assert.Equal(t, k.want, got, "at %d ms", k.ms)
				assert.Equal(t, k.fresh, fresh, "at %d ms", k.ms)
			}
		})
	}
	_, next := onlyBad.words("/dev/x", 115200)
	assert.Contains(t, next, "--baud 921600")
	_, next = onlyBad.of(true).words("/dev/x", 115200)
	assert.NotContains(t, next, "--baud")
	assert.Equal(t, silent, silent.of(true))
	_, next = onlyBad.words("-", 0)
	assert.NotContains(t, next, "--baud")
}

func TestFollowClock(t *testing.T) {
	t.Run("their ticks are the clock, ours takes over after 1.5 s", func(t *testing.T) {
		var c followClock
		_, ok := c.own(0)
		assert.False(t, ok, "not all was read")
		c.grew = 100
		at, ok := c.at(50_000)
		assert.True(t, ok)
		assert.EqualValues(t, 50_000, at)
		c.caughtUp(120)
		_, ok = c.own(1599)
		assert.False(t, ok)
		at, ok = c.own(1600)
		assert.True(t, ok)
		assert.EqualValues(t, 51_500, at, "silent since it stopped growing")
		at, _ = c.own(1620)
		assert.EqualValues(t, 51_520, at)
		c.grew = 1700
		_, ok = c.at(51_400)
		assert.False(t, ok, "time that was told already")
		at, ok = c.at(51_600)
		assert.True(t, ok)
		assert.EqualValues(t, 51_600, at)
		_, ok = c.own(1800)
		assert.False(t, ok, "it grows again")
		at, ok = c.own(3200)
		assert.True(t, ok)
		assert.EqualValues(t, 53_100, at)
	})
	t.Run("without ticks ours rules", func(t *testing.T) {
		var c followClock
		c.grew = 500
		c.caughtUp(1000)
		at, ok := c.own(1020)
		assert.True(t, ok)
		assert.EqualValues(t, 20, at)
		at, ok = c.at(7000) // ticks after all: they go on from there
		assert.True(t, ok)
		assert.EqualValues(t, 20, at)
		at, _ = c.at(7100)
		assert.EqualValues(t, 120, at)
	})
	t.Run("a step back is theirs to make", func(t *testing.T) {
		var c followClock
		c.at(5000)
		at, ok := c.at(100)
		assert.True(t, ok)
		assert.EqualValues(t, 100, at)
	})
}

func TestParseOrder(t *testing.T) {
	o, err := parseOrder(" ack output-imbalance m1+m3 ")
	require.NoError(t, err)
	assert.Equal(t, order{kind: orderAck, alarm: detect.OutputImbalance, where: detect.M1 | detect.M3}, o)
	o, err = parseOrder("ack")
	require.NoError(t, err)
	assert.Equal(t, orderAckAll, o.kind)
	o, err = parseOrder("mark tether hooked, area clear")
	require.NoError(t, err)
	assert.Equal(t, "tether hooked, area clear", o.text)
	o, err = parseOrder("pause 30.5")
	require.NoError(t, err)
	assert.EqualValues(t, 30500, o.ms)
	for _, bad := range []string{"ack tip-over", "ack nothing roll", "ack tip-over left", "pause", "pause 61", "pause -1", "pause nan", "stop"} {
		_, err := parseOrder(bad)
		assert.Error(t, err, bad)
	}
}

// stuckWriter takes nothing until it is released.
type stuckWriter struct {
	release chan struct{}
	bytes.Buffer
}

func (s *stuckWriter) Write(p []byte) (int, error) { <-s.release; return s.Buffer.Write(p) }

func TestPrinterNeverWaits(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := &stuckWriter{release: make(chan struct{})}
		p := newPrinter(w)
		line := bytes.Repeat([]byte("x"), 1023)
		for range 3 * maxUnprinted / 1024 {
			p.print(line)
		}
		end := make(chan struct{})
		close(end)
		began := time.Now()
		dropped, err := p.close(end, time.Second)
		assert.Equal(t, time.Second, time.Since(began), "an interrupted end waits no longer")
		assert.NoError(t, err)
		assert.Positive(t, dropped)
		close(w.release)
		<-p.done
		assert.Zero(t, w.Len()%1024, "whole lines only")
	})
}

type brokenWriter struct{}

func (brokenWriter) Write([]byte) (int, error) { return 0, io.ErrClosedPipe }

func TestPrinterBroken(t *testing.T) {
	p := newPrinter(brokenWriter{})
	p.print([]byte("x"))
	<-p.broken
	_, err := p.close(nil, 0)
	assert.ErrorIs(t, err, io.ErrClosedPipe)
}

func TestDropWriter(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := &stuckWriter{release: make(chan struct{})}
		d := newDropWriter(w, func() int { return 7 })
		for range heldPieces + 10 {
			_, err := d.Write([]byte("line\n"))
			require.NoError(t, err)
			synctest.Wait()
		}
		// One is being written, heldPieces wait, nine found no room.
		assert.EqualValues(t, 9*(5+7), d.dropped.Load())
		close(w.release)
		d.close()
		assert.Equal(t, strings.Repeat("line\n", heldPieces+1), w.String())
	})
}

func TestDropWriterPassesErrorsOn(t *testing.T) {
	d := newDropWriter(brokenWriter{}, nil)
	_, err := d.Write([]byte("x"))
	require.NoError(t, err)
	<-d.done
	_, err = d.Write([]byte("x"))
	assert.ErrorIs(t, err, io.ErrClosedPipe)
	d.close()
}

// listSource gives pieces at set times.
type listSource []int64

func (l *listSource) Next(dst []byte) ([]byte, int64, bool) {
	at := (*l)[0]
	*l = (*l)[1:]
	return append(dst, "x\n"...), at, len(*l) == 0
}

type timedWriter struct{ at []time.Time }

func (w *timedWriter) Write(p []byte) (int, error) {
	w.at = append(w.at, time.Now())
	return len(p), nil
}

func TestPumpKeepsPace(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		src, w, began := listSource{0, 5000, 1_000_000}, &timedWriter{}, time.Now()
		require.NoError(t, pump(t.Context(), &src, w, false))
		var got []time.Duration
		for _, at := range w.at {
			got = append(got, at.Sub(began))
		}
		assert.Equal(t, []time.Duration{0, 5 * time.Millisecond, time.Second}, got)

		src = listSource{0, 1_000_000}
		began = time.Now()
		require.NoError(t, pump(t.Context(), &src, w, true))
		assert.Zero(t, time.Since(began))

		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		src = listSource{0, 3600_000_000}
		require.NoError(t, pump(ctx, &src, w, false))
		assert.ErrorIs(t, pump(t.Context(), &listSource{0}, brokenWriter{}, false), io.ErrClosedPipe)
	})
}

// A tape plays what the bridge sent, when it sent it.
func TestTape(t *testing.T) {
	const hello = "hello,0,0,1,bench-1,42*A1C42CDB"
	play := func(text string) (out string, at []int64) {
		f := strings.NewReader(text)
		o, err := outlineOf(context.Background(), f, "x")
		require.NoError(t, err)
		tp := newTape(f, o)
		for done := false; !done; {
			var p []byte
			var until int64
			p, until, done = tp.Next(nil)
			if len(p) > 0 {
				out += string(p)
				at = append(at, until)
			}
		}
		require.NoError(t, tp.err)
		return out, at
	}
	out, at := play("#session {}\n#at 5.000\n" + hello + "\n#at 5.500\nb\n#wire #c\n#ack x y\n#at 6.000\n")
	assert.Equal(t, hello+"\nb\n#c\n", out)
	assert.Equal(t, []int64{0, 500_000}, at)

	var buf []byte
	for i := range 3 {
		s := decode.Sample{Tag: decode.Load, Seq: uint16(i), Time: uint32(i * 100_000)}
		s.Put(decode.LoadN, 1)
		buf = decode.Append(buf, &s)
	}
	out, at = play(string(buf))
	assert.Equal(t, string(buf), out)
	assert.Equal(t, []int64{0, 100_000, 200_000}, at)
}

func TestGuardTellsOfPanic(t *testing.T) {
	var f faults
	cancelled, done := false, make(chan struct{})
	f.guard(func() { cancelled = true }, done, func() { panic("boom") })
	<-done
	assert.True(t, cancelled)
	assert.ErrorContains(t, f.fault(), "boom")
}

func TestRunTurnsAPanicIntoAnError(t *testing.T) {
	var errs bytes.Buffer
	con := io.Writer(&errs)
	code := run(context.Background(), []string{"simulate", "--list"}, nil, panicWriter{}, con)
	assert.Equal(t, exitTrouble, code)
	assert.Contains(t, errs.String(), "tetherbell: fault of the program: ")
	assert.Contains(t, errs.String(), "no writing")
}

type panicWriter struct{}

func (panicWriter) Write([]byte) (int, error) { panic("no writing") }

func TestHintsForEveryFault(t *testing.T) {
	for f := link.Missing; f <= link.BadBaud; f++ {
		if f == link.NotRecording {
			continue
		}
		assert.NotEmpty(t, portHint(f), "port fault %d", f)
	}
	for name, waits := range map[string]bool{"/dev/ttyUSB0": true, "COM3": false, "/dev/a b": false, "/dev/x;y": false, "ttyUSB0": false} {
		hint := hintOf(&link.OpenError{What: "port", Name: name, Fault: link.Missing})
		assert.Equal(t, waits && runtime.GOOS != "windows", strings.HasSuffix(hint, "to wait for it: until [ -e "+name+" ]; do sleep 1; done"), hint)
		assert.Contains(t, hint, "tetherbell ports")
	}
	assert.NotContains(t, hintOf(&link.OpenError{What: "port", Name: "/dev/ttyUSB0", Fault: link.Busy}), "wait")
	err := hinted(errors.New("x"), "do y")
	assert.Equal(t, "do y", hintOf(errors.Join(errors.New("z"), err)))
}

// The desk's own share of a line: it allocates nothing beside what its engine
// does with the same samples.
func TestDeskAllocatesNothing(t *testing.T) {
	d, text := calmDesk(t)
	eng := alarms.New(craft.Craft{}, alarms.Options{})
	var dec decode.Decoder
	var s decode.Sample
	bare := func() {
		for line := range bytes.Lines(text) {
			if dec.Decode(bytes.TrimSuffix(line, []byte{'\n'}), &s) == nil {
				eng.Sample(&s, len(line))
			}
		}
	}
	whole := func() { d.feed(text) }
	for range 20 { // the rings of the detectors are full
		bare()
		whole()
	}
	lines := bytes.Count(text, []byte("\n"))
	own := testing.AllocsPerRun(5, whole) - testing.AllocsPerRun(5, bare)
	assert.Less(t, own, 3.0, "for %d lines", lines)
	assert.Greater(t, lines, 500)
}

func calmDesk(t testing.TB) (*desk, []byte) {
	t.Helper()
	sc, err := simulator.Load("calm")
	require.NoError(t, err)
	b := simulator.New(sc, 1)
	var text []byte
	for until, done := int64(0), false; until < 1_000_000 && !done; {
		text, until, done = b.Next(text)
	}
	return newDesk(craft.Craft{}, 0, nil, func([]alarms.Event) {}), text
}

// TestFold: no line is wider than the terminal, none ends inside a word, no word
// is lost; without a terminal lines stay whole.
func TestFold(t *testing.T) {
	for _, c := range []struct {
		line string
		w    int
		want []string
	}{
		{"short", 40, []string{"short"}},
		{"no terminal: whatever its length it stays in one piece", 0, []string{"no terminal: whatever its length it stays in one piece"}},
		{"first action: cut throttle; disarm and then", 36, []string{"first action: cut throttle; disarm", "  and then"}},
		{"  rang: rising-oscillation 1, stick-high 2", 32, []string{"  rang: rising-oscillation 1,", "    stick-high 2"}},
		{"   17.740  MEDIUM tip-over  roll   raised   roll turns", 48, []string{"   17.740  MEDIUM tip-over  roll   raised   roll", "     turns"}},
		{"recorded: /a/path/that/has/no/blank/and/is/longer/than/that", 32, []string{"recorded: /a/path/that/has/no/blank/and/is/longer/than/that"}},
	} {
		assert.Equal(t, c.want, fold(c.line, c.w), c.line)
	}
}

// TestDeskTellsOfTheCraft: what the craft says of itself is told once each time
// that it changes, in the order and at the times of the scenario calm.
func TestDeskTellsOfTheCraft(t *testing.T) {
	sc, err := simulator.Load("calm")
	require.NoError(t, err)
	b := simulator.New(sc, 1)
	d := newDesk(craft.Craft{}, 0, nil, nil)
	var told []string
	var at []float64
	d.turned = func(t int64, text string) { told, at = append(told, text), append(at, float64(t)/1e6) }
	for done := false; !done; {
		var text []byte
		text, _, done = b.Next(text)
		d.feed(text)
	}
	assert.Equal(t, []string{"disarmed", "ARMED", "stop pressed", "disarmed", "stop released", "ARMED", "disarmed"}, told)
	assert.InDeltaSlice(t, []float64{0, 2, 4.5, 5, 6.5, 7.5}, at[:6], 0.3)
}

// BenchmarkDesk takes a second of the bench, about eight hundred lines, from
// bytes to judgement.
func BenchmarkDesk(b *testing.B) {
	sc, err := simulator.Load("calm")
	require.NoError(b, err)
	src := simulator.New(sc, 1)
	var text []byte
	for done := false; !done; {
		text, _, done = src.Next(text)
	}
	lines := bytes.Count(text, []byte("\n"))
	b.ReportAllocs()
	b.SetBytes(int64(len(text)))
	for b.Loop() {
		d := newDesk(craft.Craft{}, 0, nil, nil)
		d.feed(text)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*lines), "ns/line")
}
