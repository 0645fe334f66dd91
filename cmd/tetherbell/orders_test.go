package main

import (
	"errors"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/simulator"
)

// A line that is far too long costs itself alone: an acknowledgement behind it
// is heard.
func TestOrdersBehindALongLine(t *testing.T) {
	var complaints []string
	in := "mark a\n\n" + "mark " + strings.Repeat("x", 3_000_000) + "\nack tip-over roll\r\nnope\nack"
	var got []order
	done := make(chan struct{})
	orders := readOrders(strings.NewReader(in), func(err error) { complaints = append(complaints, err.Error()) })
	go func() {
		defer close(done)
		for o := range orders {
			got = append(got, o)
		}
	}()
	<-done
	kinds := make([]orderKind, 0, len(got))
	for _, o := range got {
		kinds = append(kinds, o.kind)
	}
	assert.Equal(t, []orderKind{orderMark, orderAck, orderAckAll}, kinds)
	assert.Equal(t, []string{"a line of over 4096 bytes is left out", `not understood: "nope"`}, complaints)
}

// FuzzOrder: any line is an order or an error, and an error shows.
func FuzzOrder(f *testing.F) {
	for _, line := range []string{"ack", "ack rising-oscillation pitch", "mark x", "pause 60", "pause 1e400", "pause nan", "tick a", "no", "again a b", "skip \x1b"} {
		f.Add(line)
	}
	f.Fuzz(func(t *testing.T, line string) {
		o, err := parseOrder(line)
		if err != nil {
			if text := err.Error(); text == "" || !utf8.ValidString(text) && utf8.ValidString(line) {
				t.Fatalf("%q", err)
			}
			return
		}
		if o.ms < 0 || o.ms > 60_000 {
			t.Fatalf("%q: a pause of %d ms", line, o.ms)
		}
	})
}

// FuzzKeys: any bytes of a terminal move the hand or not, and never more than
// there are bytes.
func FuzzKeys(f *testing.F) {
	f.Add([]byte("\x1b[A\x1bOB aw \x03\x1b\x1b["))
	f.Fuzz(func(t *testing.T, keys []byte) {
		var k keyCutter
		for _, c := range keys {
			if _, ok, leave := k.take(c); ok && leave {
				t.Fatal("it moves and leaves at once")
			}
		}
	})
}

// FuzzEnding: what a recording's last line says is taken whole or not at all.
func FuzzEnding(f *testing.F) {
	f.Add([]byte(`{"summary":{"lines":1,"duration_s":3},"craft":"x","verdict":"high","worst":{"alarm":"a","where":"b","priority":"high","t":1}}`))
	f.Add([]byte(`{"summary":{"duration_s":-1},"verdict":"quiet"}`))
	f.Add([]byte(`{"verdict":"quiet","worst":{"priority":"high"}}`))
	f.Add([]byte(`[`))
	f.Fuzz(func(t *testing.T, text []byte) {
		e := parseEnding(text)
		if e.Summary != nil && e.Summary.Duration < 0 {
			t.Fatalf("%q: a length of %v s", text, e.Summary.Duration)
		}
		if e.Verdict == quiet && e.Worst != nil && e.Worst.Priority != "" {
			t.Fatalf("%q: quiet, with %+v", text, e.Worst)
		}
	})
}

// FuzzSimulateFlags: any --set is taken or refused with a word, never more.
func FuzzSimulateFlags(f *testing.F) {
	for _, set := range []string{"craft.mass_g=900", "craft.mass_g", "=", "event.1.at=1e9", "craft.mass_g=nan", "motor.9.thrust=1", "a.b.c=[1]", "link.noise=\x1b"} {
		f.Add(set)
	}
	f.Fuzz(func(t *testing.T, set string) {
		if len(set) > 1000 {
			t.Skip()
		}
		sc := simulator.Default()
		err := sc.Set(set)
		if err != nil {
			err = setProblem(err, set)
		}
		if err != nil && (err.Error() == "" || errors.Is(err, errInterrupted)) {
			t.Fatal(err)
		}
	})
}

// A panic over one line is told, and the next line is heard.
func TestOrdersAfterAPanic(t *testing.T) {
	var told []error
	said := make(chan struct{})
	out := readAs(strings.NewReader("boom\nack\n"), func(line string) (string, error) {
		if line == "boom" {
			panic("test")
		}
		return line, nil
	}, func(err error) { told = append(told, err); close(said) })
	require.Equal(t, "ack", <-out)
	<-said
	require.Len(t, told, 1)
	require.ErrorContains(t, told[0], `fault of the program: test): "boom"`)
}
