package bridge

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"tetherbell/decode"
)

// edgeValues are the numbers about each limit of a field, at each count of
// decimals.
func edgeValues(f *decode.Field, places uint8) []int32 {
	values := []int32{none, none + 1, math.MaxInt32, math.MaxInt32 - 1, -1, 0, 1, 2, 3, 10, 100, 1_000_000_000, -1_000_000_000}
	scale := math.Pow10(int(min(places, maxDecimals)))
	for _, limit := range []float64{f.Min, f.Max} {
		for step := -2; step <= 2; step++ {
			values = append(values, clip(limit*scale+float64(step)))
			values = append(values, clip((limit+float64(step))*scale))
		}
	}
	return values
}

// edgeCalls is every tag with every field at every edge.
func edgeCalls() (calls []call) {
	for tag := decode.Unknown + 1; tag < decode.TagCount; tag++ {
		text := []byte("x")
		if tag == decode.Hello || tag == decode.Note {
			continue
		}
		for i := range numeric[tag] {
			for places := range uint8(12) {
				for _, v := range edgeValues(&numeric[tag][i], places) {
					for _, other := range []int32{none, 1} {
						c := call{tag: tag, time: uint32(len(calls)), text: text, v: make([]int32, len(numeric[tag])), decimals: [2]uint8{places, places}}
						for k := range c.v {
							c.v[k] = other
						}
						c.v[i] = v
						if seconds[tag][i] {
							c.decimals[0] = 2
						} else {
							c.decimals[1] = 3
						}
						calls = append(calls, c)
					}
				}
			}
		}
	}
	return calls
}

// textCalls is every length and every byte of every text, every layout, every
// number of motors, and the ends of clock and boot number.
func textCalls() (calls []call) {
	blank := func(n int) []int32 {
		v := make([]int32, n)
		for i := range v {
			v[i] = none
		}
		return v
	}
	for _, tag := range []decode.Tag{decode.Hello, decode.Craft, decode.Set, decode.Note} {
		n := len(numeric[tag])
		if tag == decode.Hello {
			n = 0
		}
		calls = append(calls, call{tag: tag, text: nil, v: blank(n)})
		for length := range 300 {
			calls = append(calls, call{tag: tag, time: math.MaxUint32, text: []byte(strings.Repeat("a", length)), v: blank(n)},
				call{tag: tag, text: []byte(strings.Repeat(",", length)), v: blank(n)})
		}
		for c := 1; c < 256; c++ {
			calls = append(calls, call{tag: tag, text: []byte{'x', byte(c), 'y'}, v: blank(n)}, call{tag: tag, text: []byte{byte(c)}, v: blank(n)})
		}
	}
	for layout := range 256 {
		calls = append(calls, call{tag: decode.Craft, layout: uint8(layout), text: []byte("Marsh Heron"), v: []int32{4, 14, 3, 178, 655, 4}})
	}
	for _, tag := range []decode.Tag{decode.Out, decode.ERPM, decode.Temp} {
		for motors := range 20 {
			calls = append(calls, call{tag: tag, v: make([]int32, motors)}, call{tag: tag, v: blank(motors)})
		}
	}
	for _, n := range []uint32{0, 1, 9, 10, 99, 1<<31 - 1, 1 << 31, math.MaxUint32 - 1, math.MaxUint32} {
		calls = append(calls, call{tag: decode.Hello, time: n, boot: n, text: []byte("bench-1")})
	}
	for _, c := range []call{
		{tag: decode.Axes, v: []int32{-1_234_567_899, -999_999_999, -1, -2_000_000_011, -1_999_999_999, 1, -999_999_999, -999_999_999, -999_999_999, 999_999_999}, decimals: [2]uint8{9, 9}},
		{tag: decode.Axes, v: []int32{-399_999_999, -399_999_999, -399_999_999, -1_999_999_999, -1_999_999_999, -1_999_999_999, -999_999_999, -999_999_999, -999_999_999, 999_999_999}, decimals: [2]uint8{5, 9}},
	} {
		c.time = math.MaxUint32
		calls = append(calls, c)
	}
	return calls
}

// Every edge, in every build: the bytes of Go's encoder, the values of Go's
// decoder, and the count of what was out of range.
func TestEdges(t *testing.T) {
	calls := append(edgeCalls(), textCalls()...)
	start := uint16(65000) // seq wraps on the way
	records := binary.LittleEndian.AppendUint32([]byte{'q'}, uint32(start))
	for i := range calls {
		records = append(calls[i].record(records), 'c')
	}
	for name, program := range pipePrograms(t) {
		t.Run(name, func(t *testing.T) {
			got := answers(t, program, records)
			require.Len(t, got, 2*len(calls))
			checkAnswers(t, calls, got, start)
		})
	}
}

func checkAnswers(t *testing.T, calls []call, got []string, seq uint16) {
	var d decode.Decoder
	var bad uint16
	longest, longestNumbers := 0, 0
	for i := range calls {
		c, line, counted := &calls[i], got[2*i], got[2*i+1]
		var want, read decode.Sample
		text := "!refused"
		if !c.refused() {
			bad += uint16(c.sample(seq, &want))
			seq++
			text = string(bytes.TrimSuffix(decode.Append(nil, &want), []byte("\n")))
			if err := d.Decode([]byte(line), &read); err != nil || !equal(&read, &want) {
				t.Fatalf("%s: %v\ngot  %+v\nwant %+v", line, err, read, want)
			}
			longest = max(longest, len(line)+1)
			if c.tag != decode.Note {
				longestNumbers = max(longestNumbers, len(line)+1)
			}
		}
		if want := fmt.Sprintf("%d 0 %d", seq, bad); line != text || counted != want {
			t.Fatalf("%+v:\nC  %s (seq, dropped, out of range: %s)\nGo %s (%s)", *c, line, counted, text, want)
		}
	}
	require.Equal(t, decode.MaxLine, longest, "the longest note fills a line to the last byte")
	require.Less(t, longestNumbers, 166, "the least BL_LINE_SIZE must hold what is no note")
}

// The vectors of the contract: what they say, said again by C, is the same; and
// where a vector has no zeros at the end of a fraction, it is the same bytes.
func TestVectors(t *testing.T) {
	vectors := []string{
		"hello,0,0,1,bench-1,42*A1C42CDB",
		"craft,1,12,Marsh Heron,quad-x,4,14,3,178,655,4*0F9FABD2",
		"axes,2,1040,-0.4,1.2,0.1,0.0,0.0,0.0,0.0012,-0.0030,0.0004,0.131*E939220D",
		"out,3,1040,0.1310,,0.1290,0.1320*B18A13EF",
		"state,65535,4294967295,1,0,1,0.000,0.000,0.000,0.000*D2E9B544",
		"state,0,15,1,1,1,0.000,0.000,0.000,0.000*8BEF21D4",
		"note,1,20,tether hooked, area clear*C96DE53B",
	}
	calls := []call{
		{tag: decode.Hello, text: []byte("bench-1"), boot: 42},
		{tag: decode.Craft, time: 12, text: []byte("Marsh Heron"), v: []int32{4, 14, 3, 178, 655, 4}},
		{tag: decode.Axes, time: 1040, v: []int32{-4, 12, 1, 0, 0, 0, 12, -30, 4, 1310}, decimals: [2]uint8{1, 4}},
		{tag: decode.Out, time: 1040, v: []int32{1310, none, 1290, 1320}, decimals: [2]uint8{4, 0}},
		{tag: decode.State, time: 4294967295, v: []int32{1, 0, 1, 0, 0, 0, 0, none}, decimals: [2]uint8{3, 0}},
		{tag: decode.State, time: 15, v: []int32{1, 1, 1, 0, 0, 0, 0, none}, decimals: [2]uint8{3, 0}},
		{tag: decode.Note, time: 20, text: []byte("tether hooked, area clear")},
	}
	var records []byte
	for i := range calls {
		if i == 4 {
			records = binary.LittleEndian.AppendUint32(append(records, 'q'), 65535)
		}
		records = calls[i].record(records)
	}
	records = append(records, 'k', 9, 0)
	records = append(records, "123456789"...)
	for name, program := range pipePrograms(t) {
		got := answers(t, program, records)
		require.Len(t, got, len(vectors)+1, name)
		require.Equal(t, "E3069283", got[len(vectors)], "%s: the check value of CRC-32C", name)
		for i, v := range vectors {
			var d decode.Decoder
			var want, have decode.Sample
			require.NoError(t, d.Decode([]byte(v), &want))
			require.NoError(t, d.Decode([]byte(got[i]), &have), name)
			require.Equal(t, want, have, name)
			if !strings.Contains(v, "0,") || i == 0 {
				require.Equal(t, v, got[i], name)
			}
		}
		require.Equal(t, vectors[1], got[1], name)
	}
}

// Lines that the sink does not take are counted and keep their number: the host
// sees exactly so many lost.
func TestDroppedLinesAreSeen(t *testing.T) {
	load := call{tag: decode.Load, v: []int32{4213}, decimals: [2]uint8{3, 0}}
	var records []byte
	for range 3 {
		records = load.record(records)
	}
	records = append(records, 'r', 5)
	for range 8 {
		records = load.record(records)
	}
	for name, program := range pipePrograms(t) {
		got := answers(t, program, append(bytes.Clone(records), 'c'))
		require.Len(t, got, 12, name)
		require.Equal(t, "11 5 0", got[11], name)
		var follow []uint16
		var d decode.Decoder
		for _, line := range got[:11] {
			var s decode.Sample
			if line == "!dropped" {
				continue
			}
			require.NoError(t, d.Decode([]byte(line), &s))
			follow = append(follow, s.Seq)
		}
		require.Equal(t, []uint16{0, 1, 2, 8, 9, 10}, follow, name)
	}
}

// Floats become the nearest whole number of the last decimal; what is not
// finite or too large cannot be right.
func TestScaled(t *testing.T) {
	values := []float32{0, float32(math.Copysign(0, -1)), 0.5, -0.5, 0.05, 1.005, 16.12, -9.81, 4000, 1e6, 123456.79, 8388607.5, 8388609, 16777217,
		2147483520, 2147483648, -2147483520, -2147483648, 1e10, -1e10, 3e38, -3e38, 1e-38, 1e-45, 0.4999999, -0.4999999,
		float32(math.NaN()), float32(math.Inf(1)), float32(math.Inf(-1)), math.Float32frombits(0x7F800001), math.Float32frombits(0xFFFFFFFF)}
	for range 20000 {
		values = append(values, math.Float32frombits(rnd()))
	}
	var records []byte
	for _, v := range values {
		for places := range byte(12) {
			records = append(binary.LittleEndian.AppendUint32(append(records, 'f'), math.Float32bits(v)), places)
		}
	}
	for name, program := range pipePrograms(t) {
		for i, text := range answers(t, program, records) {
			v, places := float64(values[i/12]), i%12
			got, err := strconv.ParseFloat(text, 64)
			exact := v * math.Pow10(places)
			fits, surely := math.Abs(exact) < 1<<31-200, math.Abs(exact) < 1<<31+200 // between, rounding decides
			slack := 0.5 + math.Abs(exact)/(1<<23)                                   // half of the last decimal, and what a float holds
			switch {
			case err != nil,
				(places > maxDecimals || !surely) && got != wrong,
				places <= maxDecimals && fits && !(math.Abs(got-exact) <= slack):
				t.Fatalf("%s: %v with %d decimals is %s: %v", name, v, places, text, err)
			}
		}
	}
}

var state uint32 = 1

// rnd is a small generator (Marsaglia's xorshift), the same every time.
func rnd() uint32 {
	state ^= state << 13
	state ^= state >> 17
	state ^= state << 5
	return state
}
