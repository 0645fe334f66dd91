package main

import (
	"bytes"
	"context"
	"errors"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/decode/craft"
	"tetherbell/link"
)

// A judged recording is what came out at a desk.
type judged struct {
	events  []byte
	summary []byte
	causes  any
	notes   any
	good    uint64
	bad     uint64
	bytes   uint64
}

func (j *judged) tell(events []alarms.Event) {
	for i := range events {
		j.events = append(events[i].AppendJSON(j.events, ""), '\n')
	}
}

func (j *judged) close(d *desk) {
	sum := d.eng.Summary()
	j.summary = sum.AppendJSON(nil, "x")
	j.causes, j.notes, j.good, j.bad, j.bytes = d.causes, d.notes, d.good, d.bad, d.bytes
}

// byOne judges a recording line by line at a desk whose engine has no scouts.
func byOne(t *testing.T, text []byte) (j judged) {
	d := newDesk(craft.Craft{}, 0, nil, j.tell)
	s := link.NewSession(bytes.NewReader(text))
	var it link.Item
	for {
		err := s.Next(&it)
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err)
		d.item(&it)
	}
	d.finish()
	j.close(d)
	return j
}

func byRelay(t *testing.T, r io.Reader) (j judged) {
	eng, scouts := alarms.NewScouted(craft.Craft{}, alarms.Options{})
	d := deskOf(eng, nil, j.tell)
	s := link.NewSession(r)
	var first link.Item
	err := s.Next(&first)
	require.Equal(t, io.EOF, newRelay(s, scouts).run(context.Background(), d, &first, err))
	j.close(d)
	return j
}

// hostile puts into a recording what damage and hosts may: bad lines, blanks,
// ticks, acts, lines of no meaning.
func hostile(text []byte, rng *rand.Rand) []byte {
	var out []byte
	odd := []string{"", "\r", "#at 1.5", "#ack rising-oscillation roll", "#ack nothing nowhere", "#mark here", "#pause 2",
		"#lost 3", "#strange", "#wire #at 1", "#alarm {}", "axes,1,2,3*00000000", strings.Repeat("x", 300), "note,1,2,gr\x01ss*00000000"}
	for line := range bytes.Lines(text) {
		if rng.IntN(40) == 0 {
			out = append(append(out, odd[rng.IntN(len(odd))]...), '\n')
		}
		from := len(out)
		out = append(out, line...)
		if rng.IntN(60) == 0 {
			out[from+rng.IntN(len(line))] ^= 1 << rng.IntN(7)
		}
	}
	return out
}

// What comes out of the relay is what a desk makes of the lines one by one, to
// the byte: events, summary and counts.
func TestRelayChangesNothing(t *testing.T) {
	files, err := filepath.Glob("../../testdata/sessions/*.bell")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	rang := 0
	for i, file := range files {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		rng := rand.New(rand.NewPCG(uint64(i), 4))
		for _, text := range [][]byte{text, hostile(text, rng)} {
			want := byOne(t, text)
			require.Equal(t, want, byRelay(t, bytes.NewReader(text)), file)
			rang += bytes.Count(want.events, []byte("raised"))
		}
	}
	assert.Greater(t, rang, 10)
	text := []byte("#at 1.0\n#at 2.0\n")
	assert.Equal(t, byOne(t, text), byRelay(t, bytes.NewReader(text)), "no line of the bridge")
	assert.Equal(t, byOne(t, nil), byRelay(t, strings.NewReader("")), "nothing at all")
	text, err = os.ReadFile(files[0])
	require.NoError(t, err)
	assert.Equal(t, byOne(t, text[:5000]), byRelay(t, iotest.OneByteReader(bytes.NewReader(text[:5000]))), "byte by byte")
}

// A recording that fails to be read, and a person who breaks off, end the relay
// and all its goroutines, wherever they are.
func TestRelayEnds(t *testing.T) {
	text, err := os.ReadFile("../../testdata/sessions/" + firstSession(t))
	require.NoError(t, err)
	broken := errors.New("the disk is gone")
	run := func(ctx context.Context, r io.Reader, tell func([]alarms.Event)) error {
		eng, scouts := alarms.NewScouted(craft.Craft{}, alarms.Options{})
		s := link.NewSession(r)
		var first link.Item
		err := s.Next(&first)
		return newRelay(s, scouts).run(ctx, deskOf(eng, nil, tell), &first, err)
	}
	for _, n := range []int{0, 1, 5000, len(text) / 2} {
		r := io.MultiReader(bytes.NewReader(text[:n]), iotest.ErrReader(broken))
		assert.ErrorIs(t, run(context.Background(), r, nil), broken)
	}
	ctx, cancel := context.WithCancel(context.Background())
	reads := 0
	endless := readerFunc(func(p []byte) (int, error) {
		if reads++; reads == 20 {
			cancel()
		}
		return copy(p, text), nil
	})
	assert.ErrorIs(t, run(ctx, endless, nil), context.Canceled)

	fault := run(context.Background(), io.MultiReader(bytes.NewReader(text[:5000]), readerFunc(func([]byte) (int, error) { panic("boom") })), nil)
	assert.ErrorContains(t, fault, "boom")
}

type readerFunc func(p []byte) (int, error)

func (f readerFunc) Read(p []byte) (int, error) { return f(p) }

func firstSession(t *testing.T) string {
	files, err := filepath.Glob("../../testdata/sessions/*.bell")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	return filepath.Base(files[0])
}
