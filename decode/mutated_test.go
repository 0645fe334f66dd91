package decode

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/link"
)

const (
	mutatedLines = 1_000_000 // unless TETHERBELL_MUTATED says otherwise
	mutatedSeed  = 20_261_127
	mutatedBatch = 64 // lines that come to the same kind of harm
	mutatedPool  = 4096
)

// A toll tells what came of the lines that met one kind of harm.
type toll struct {
	sent, damaged int // lines
	read          int // lines that the splitter gave, blank ones and the host's too
	whole         int // accepted, and sent so
	owed          int // sent whole behind a whole line end: must be accepted
	candidates    int // neither blank nor the host's nor sent so: the checksum alone keeps them out
	false         int // of these accepted
	first         string
}

func (a *toll) add(b toll) {
	a.sent, a.damaged, a.read = a.sent+b.sent, a.damaged+b.damaged, a.read+b.read
	a.whole, a.owed = a.whole+b.whole, a.owed+b.owed
	a.candidates, a.false = a.candidates+b.candidates, a.false+b.false
	if a.first == "" {
		a.first = b.first
	}
}

// TestMutatedStream: streams of lines of all tags come to every kind of harm,
// go through splitter and decoder as live bytes do, and no value is taken from
// a line that was not sent so, beyond what a checksum of 32 bits must let
// through: one in 2^32. A whole line behind a whole line end is always taken.
// TETHERBELL_MUTATED=100000000 sends so many lines instead of a million.
func TestMutatedStream(t *testing.T) {
	lines := mutatedLines
	if text := os.Getenv("TETHERBELL_MUTATED"); text != "" {
		var err error
		lines, err = strconv.Atoi(text)
		require.NoError(t, err)
	}
	const workers = 2
	begin := time.Now()
	tolls := make([][]toll, workers)
	var wg sync.WaitGroup
	for w := range workers {
		wg.Go(func() { tolls[w] = mutate(mutatedSeed, uint64(w), lines/workers) })
	}
	wg.Wait()
	took := time.Since(begin)

	var all toll
	var table strings.Builder
	fmt.Fprintf(&table, "%-26s %12s %12s %12s %12s %6s\n", "harm", "damaged", "read", "sent so", "candidates", "false")
	for k := range damages {
		sum := tolls[0][k]
		sum.add(tolls[1][k])
		fmt.Fprintf(&table, "%-26s %12d %12d %12d %12d %6d\n", damages[k].name, sum.damaged, sum.read, sum.whole, sum.candidates, sum.false)
		assert.GreaterOrEqual(t, sum.whole, sum.owed, "%s: whole lines were not taken", damages[k].name)
		assert.Positive(t, sum.candidates, damages[k].name)
		assert.Positive(t, sum.owed, damages[k].name)
		all.add(sum)
	}
	fmt.Fprintf(&table, "%-26s %12d %12d %12d %12d %6d\n", "all", all.damaged, all.read, all.whole, all.candidates, all.false)
	expected := float64(all.candidates) / (1 << 32)
	t.Logf("seed %d, %d lines sent, %.1f s, %.3f false ones expected of a checksum of 32 bits\n%s",
		mutatedSeed, all.sent, took.Seconds(), expected, table.String())
	assert.LessOrEqual(t, all.false, poissonBound(expected, 1e-3), "first: %s", all.first)
	assert.GreaterOrEqual(t, all.candidates, lines/2, "most damaged lines must come to the checksum")
}

// poissonBound returns the least count that more than it has at most the chance
// p of coming up where so many are expected: the binomial distribution of very
// many lines and a very small chance.
func poissonBound(expected, p float64) int {
	term := math.Exp(-expected)
	for k, below := 0, term; ; k++ {
		if 1-below <= p {
			return k
		}
		term *= expected / float64(k+1)
		below += term
	}
}

// P(X > 1) at 3 expected is 0.80085, P(X > 8) 0.0038: tables of the
// distribution (from memory).
func TestPoissonBound(t *testing.T) {
	assert.Equal(t, 0, poissonBound(0.0002, 1e-3))
	assert.Equal(t, 1, poissonBound(3, 0.81))
	assert.Equal(t, 2, poissonBound(3, 0.80))
	assert.Equal(t, 8, poissonBound(3, 0.0039))
	assert.Equal(t, 9, poissonBound(3, 0.0037))
}

// mutate sends so many lines, a batch for each kind of harm in turn.
func mutate(seed, worker uint64, lines int) []toll {
	h := newHarm(rand.New(rand.NewPCG(seed, worker)))
	out := make([]toll, len(damages))
	r := reader{h: h}
	buf := make([]byte, 0, 4*mutatedBatch*MaxLine)
	for n := 0; n < lines; n += mutatedBatch {
		k := n / mutatedBatch % len(damages)
		r.toll = &out[k]
		buf = r.batch(buf[:0], damages[k])
		r.feed(buf)
	}
	return out
}

// newHarm makes lines of every tag, with values over all of their ranges.
func newHarm(rng *rand.Rand) *harm {
	h := &harm{rng: rng, sent: map[string]struct{}{}}
	for i := range mutatedPool {
		s := Sample{Tag: Tag(1 + i%int(TagCount-1)), Seq: uint16(rng.Uint32()), Time: rng.Uint32()}
		for _, f := range Fields(s.Tag) {
			if rng.IntN(12) > 0 {
				randomField(rng, &s, f)
			}
		}
		line := Append(nil, &s)
		if i%16 == 0 { // of a later version
			line = AppendChecksum(fmt.Appendf(nil, "turret,%d,%d,%d", s.Seq, s.Time, rng.IntN(1000)), 0)
		}
		h.pool = append(h.pool, line)
		h.sent[string(line[:len(line)-1])] = struct{}{}
	}
	return h
}

func randomField(rng *rand.Rand, s *Sample, f Field) {
	const letters = "abcdefghijklmnopqrstuvwxyz0123456789_-"
	text := make([]byte, 1+rng.IntN(30))
	for i := range text {
		text[i] = letters[rng.IntN(len(letters))]
	}
	switch {
	case f.Words != nil:
		s.Word = []byte(f.Words[rng.IntN(len(f.Words))])
	case f.Kind == Word:
		s.Word = text
	case f.Kind >= Word:
		s.Text = text
	case f.Unbounded():
		s.Put(f.Slot, math.Round(rng.NormFloat64()*1e5)/1e3+0)
	case f.Kind == Number:
		digits := math.Pow10(rng.IntN(5))
		v := f.Min + (f.Max-f.Min)*rng.Float64()
		s.Put(f.Slot, max(f.Min, min(f.Max, math.Round(v*digits)/digits))+0)
	default:
		v := int64(f.Min) + rng.Int64N(int64(f.Max-f.Min)+1)
		if f.Even {
			v -= v & 1
		}
		s.Put(f.Slot, float64(v))
	}
}

// A reader takes the bytes as a live source does.
type reader struct {
	h     *harm
	cut   link.Splitter
	dec   Decoder
	s     Sample
	whole bool // the last byte sent was a line feed
	*toll
}

// batch makes the bytes of a batch: three lines in four come to harm.
func (r *reader) batch(buf []byte, d damage) []byte {
	for range mutatedBatch {
		line := r.h.any()
		r.sent++
		if r.h.rng.IntN(4) == 0 {
			if r.whole || len(buf) > 0 && buf[len(buf)-1] == '\n' {
				r.owed++
			}
			buf = append(buf, line...)
			r.whole = true
			continue
		}
		r.damaged++
		before := len(buf)
		buf = d.do(r.h, buf, line)
		if len(buf) > before {
			r.whole = buf[len(buf)-1] == '\n'
		}
	}
	return buf
}

// feed cuts the bytes anywhere, as reads of a port do.
func (r *reader) feed(b []byte) {
	for len(b) > 0 {
		n := min(len(b), 1+r.h.rng.IntN(1000))
		r.cut.Feed(b[:n], r.line)
		b = b[n:]
	}
}

func (r *reader) line(line []byte) {
	r.read++
	err := r.dec.Decode(line, &r.s)
	line = bytes.TrimSuffix(line, []byte{'\r'})
	switch {
	case errors.Is(err, ErrBlank), errors.Is(err, ErrHost):
		return
	case err == nil:
		if _, sent := r.h.sent[string(line)]; sent {
			r.toll.whole++
			return
		}
		r.false++
		if r.first == "" {
			r.first = fmt.Sprintf("%q", line)
		}
	case r.s.Tag != Unknown || r.s.Has != 0 || r.s.Text != nil || r.s.Word != nil || r.s.Seq != 0 || r.s.Time != 0:
		panic(fmt.Sprintf("values of a bad line: %q: %+v", line, r.s))
	}
	r.candidates++
}
