package alarms

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// TestLostAndBad counts over a small notation: a number is a good line with
// that seq, x a bad one, h a hello of a new boot with the seq that follows.
func TestLostAndBad(t *testing.T) {
	type counts struct{ lines, bad, lost uint64 }
	for _, c := range []struct {
		name string
		in   []any
		want counts
	}{
		{"in order", []any{0, 1, 2}, counts{3, 0, 0}},
		{"two missing", []any{0, 3}, counts{2, 0, 2}},
		{"a bad line in its place", []any{0, "x", 2}, counts{2, 1, 0}},
		{"one of two was bad", []any{0, "x", 3}, counts{2, 1, 1}},
		{"more bad lines than are missing", []any{0, "x", "x", "x", 2}, counts{2, 3, 0}},
		{"what is too much is not carried on", []any{0, "x", "x", "x", 2, 5}, counts{3, 3, 2}},
		{"bad lines where nothing is missing", []any{0, "x", 1}, counts{2, 1, 0}},
		{"before the first good line", []any{"x", "x", 7, 8}, counts{2, 2, 0}},
		{"and not carried on", []any{"x", "x", 7, 9}, counts{2, 2, 1}},
		{"wrap", []any{65534, 1}, counts{2, 0, 2}},
		{"wrap in order", []any{65535, 0, 1}, counts{3, 0, 0}},
		{"repeat", []any{5, 5, 6}, counts{3, 0, 0}},
		{"the largest gap", []any{0, 32767}, counts{2, 0, 32766}},
		{"a gap too large", []any{0, 32768, 32769}, counts{3, 0, 0}},
		{"back", []any{10, 9, 10}, counts{3, 0, 0}},
		{"restart", []any{100, "x", "boot", 0, 1}, counts{4, 1, 0}},
		{"lost after a restart", []any{100, "boot", 0, 3}, counts{4, 0, 2}},
		{"bad at the end", []any{0, "x", "x"}, counts{1, 2, 0}},
		{"nothing", nil, counts{}},
		{"only bad", []any{"x"}, counts{0, 1, 0}},
	} {
		e := New(craft.Craft{}, Options{})
		us, boot := uint32(1_000_000), 1.0
		hello := decode.Sample{Tag: decode.Hello}
		for i, v := range c.in {
			us += 1000
			switch v := v.(type) {
			case int:
				e.Sample(&decode.Sample{Tag: decode.Unknown, Seq: uint16(v), Time: us}, 30)
			case string:
				if v == "x" {
					e.Bad(30)
					continue
				}
				// The bridge's clock begins anew, too.
				us = 0
				boot++
				hello.Put(decode.HelloBoot, boot)
				hello.Seq = uint16(c.in[i+1].(int) - 1)
				hello.Time = us
				e.Sample(&hello, 30)
			}
		}
		e.Finish()
		s := e.Summary()
		got := counts{s.Lines, s.Bad, s.Lost}
		assert.Equal(t, c.want, got, c.name)
	}
}

// TestLostOfARandomWire: lines are dropped or damaged at random, never more
// than 32766 in a row. What was lost is then known, but for what cannot be
// seen: the faults after the last good line.
func TestLostOfARandomWire(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := New(craft.Craft{}, Options{})
		var good, bad, lost, hole uint64
		heard := false
		for seq := range rapid.IntRange(1, 400).Draw(t, "lines") {
			switch rapid.IntRange(0, 5).Draw(t, "fate") {
			case 0:
				if heard {
					hole++
				}
			case 1:
				e.Bad(30)
				bad++
			default:
				e.Sample(&decode.Sample{Tag: decode.Unknown, Seq: uint16(seq + 65400), Time: uint32(seq * 1000)}, 30)
				good++
				lost += hole
				hole, heard = 0, true
			}
		}
		s := e.Summary()
		if s.Lines != good || s.Bad != bad || s.Lost != lost {
			t.Fatalf("got %d %d %d, want %d %d %d", s.Lines, s.Bad, s.Lost, good, bad, lost)
		}
	})
}
