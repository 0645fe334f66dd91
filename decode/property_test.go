package decode

import (
	"bytes"
	"math"
	"reflect"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

// drawSample makes any sample that a line can hold.
func drawSample(t *rapid.T) Sample {
	s := Sample{
		Tag:  Tag(rapid.IntRange(1, int(TagCount)-1).Draw(t, "tag")),
		Seq:  rapid.Uint16().Draw(t, "seq"),
		Time: rapid.Uint32().Draw(t, "time"),
	}
	for _, f := range Fields(s.Tag) {
		if rapid.IntRange(0, 5).Draw(t, "missing") == 0 {
			continue
		}
		switch f.Kind {
		case Word:
			if f.Words != nil {
				s.Word = []byte(rapid.SampledFrom(f.Words).Draw(t, f.Name))
				continue
			}
			s.Word = []byte(rapid.StringMatching(`[a-z0-9_-]{1,40}`).Draw(t, f.Name))
		case Text:
			s.Text = []byte(rapid.StringMatching(`[ -)+\x2d-~]{1,40}`).Draw(t, f.Name))
		case Rest:
			s.Text = []byte(rapid.StringMatching(`[ -)+-~]{1,180}`).Draw(t, f.Name))
		default:
			s.Put(f.Slot, drawNumber(t, f))
		}
	}
	return s
}

func drawNumber(t *rapid.T, f Field) float64 {
	switch {
	case f.Unbounded():
		v := rapid.Float64().Filter(func(v float64) bool {
			return len(strconv.FormatFloat(v, 'f', -1, 64)) < 150
		}).Draw(t, f.Name)
		return v + 0 // minus zero is read as zero
	case f.Kind != Number:
		v := rapid.Int64Range(int64(f.Min), int64(f.Max)).Draw(t, f.Name)
		if f.Even {
			v -= v & 1
		}
		return float64(v)
	}
	if f.OrZero && rapid.Bool().Draw(t, "not known") {
		return 0
	}
	// Six places: ten numbers of full length would not fit a line.
	v := rapid.Float64Range(f.Min, f.Max).Draw(t, f.Name)
	return max(f.Min, min(f.Max, math.Round(v*1e6)/1e6)) + 0
}

func TestAppendThenDecode(t *testing.T) {
	var d Decoder
	rapid.Check(t, func(t *rapid.T) {
		s := drawSample(t)
		line := Append(nil, &s)
		if len(line) > MaxLine {
			t.Fatalf("%d bytes: %q", len(line), line)
		}
		var got Sample
		if err := d.Decode(line[:len(line)-1], &got); err != nil {
			t.Fatalf("%q: %v", line, err)
		}
		if !reflect.DeepEqual(got, s) {
			t.Fatalf("%q: got %+v, want %+v", line, got, s)
		}
	})
}

// No flipped bit gives a value. The checksum finds any single one, and any
// burst of up to 32 bits; a flip that makes "#" of the first byte gives a line
// of the host, which is no value either.
func TestFlippedBits(t *testing.T) {
	var d Decoder
	rapid.Check(t, func(t *rapid.T) {
		s := drawSample(t)
		line := Append(nil, &s)
		line = line[:len(line)-1]
		torn := make([]byte, len(line))
		for bit := range len(line) * 8 {
			copy(torn, line)
			torn[bit/8] ^= 1 << (bit % 8)
			checkNoValue(t, &d, torn)
		}
		burst := rapid.Uint32Range(1, math.MaxUint32).Draw(t, "burst")
		at := rapid.IntRange(0, len(line)-4).Draw(t, "at")
		copy(torn, line)
		for i := range 4 {
			torn[at+i] ^= byte(burst >> (8 * i))
		}
		checkNoValue(t, &d, torn)
	})
}

// checkNoValue wants a changed line to be rejected. A changed line that ends in
// CR is the same line with its last byte taken off, and so torn as well.
func checkNoValue(t *rapid.T, d *Decoder, torn []byte) {
	var got Sample
	if err := d.Decode(torn, &got); err == nil {
		t.Fatalf("%q: taken as %+v", torn, got)
	}
	if !reflect.DeepEqual(got, Sample{}) {
		t.Fatalf("%q: values of a bad line: %+v", torn, got)
	}
}

// Nor does a line that lost its beginning, its end or a piece of its middle.
// (A cut that leaves a line with a fitting checksum has one chance in 2^32.)
func TestTornLines(t *testing.T) {
	var d Decoder
	rapid.Check(t, func(t *rapid.T) {
		s := drawSample(t)
		line := Append(nil, &s)
		line = line[:len(line)-1]
		from := rapid.IntRange(0, len(line)-1).Draw(t, "from")
		to := rapid.IntRange(from+1, len(line)).Draw(t, "to")
		checkNoValue(t, &d, append(bytes.Clone(line[:from]), line[to:]...))
	})
}

// FuzzDecode: no bytes make it panic, and whatever decodes lies in its ranges
// and is written again as a line of the same sample. Each input is tried as it
// is, and as a body with its right checksum, so that more than the checksum is
// tried.
func FuzzDecode(f *testing.F) {
	for _, v := range vectors {
		f.Add([]byte(v.line))
		f.Add(bytes.TrimSuffix([]byte(v.line), []byte(v.line[len(v.line)-sumLen:])))
	}
	for _, r := range rejections {
		f.Add([]byte(r.line[:min(len(r.line), MaxLine+10)]))
	}
	f.Add([]byte(""))
	f.Add([]byte("#session {}"))
	f.Add([]byte("turret,3,80,1,2,3"))
	f.Fuzz(func(t *testing.T, in []byte) {
		sealed := bytes.TrimSuffix(AppendChecksum(bytes.Clone(in), 0), []byte("\n"))
		checkLine(t, in)
		checkLine(t, sealed)
		comparePlain(t, new(Decoder), in)
		comparePlain(t, new(Decoder), sealed)
	})
}

func checkLine(t *testing.T, line []byte) {
	var d Decoder
	s := Sample{Tag: Axes, Has: 3, Text: []byte("old")}
	if err := d.Decode(line, &s); err != nil {
		if !reflect.DeepEqual(s, Sample{}) {
			t.Fatalf("%q: values of a bad line: %+v", line, s)
		}
		if err.Error() == "" {
			t.Fatalf("%q: an error without a word", line)
		}
		return
	}
	if len(line)+1 > MaxLine {
		t.Fatalf("%q: taken at %d bytes", line, len(line)+1)
	}
	if s.Tag == Unknown {
		if s.Has != 0 || s.Text != nil || !bytes.HasPrefix(line, append(s.Word[:len(s.Word):len(s.Word)], ',')) {
			t.Fatalf("%q: values of an unknown tag: %+v", line, s)
		}
		return
	}
	for _, f := range Fields(s.Tag) {
		if f.Slot < 0 {
			continue
		}
		v, ok := s.Get(f.Slot)
		if bad := v < f.Min || v > f.Max || f.Kind != Number && v != math.Trunc(v); ok && bad && !f.Unbounded() && !(v == 0 && f.OrZero) || !ok && v != 0 || v != v {
			t.Fatalf("%q: %s is %v, %v", line, f.Name, v, ok)
		}
	}
	again := Append(nil, &s)
	if len(again) > MaxLine {
		t.Fatalf("%q: written again at %d bytes", line, len(again))
	}
	var got Sample
	if err := d.Decode(again[:len(again)-1], &got); err != nil || !reflect.DeepEqual(got, s) {
		t.Fatalf("%q: written again as %q: %v, %+v, want %+v", line, again, err, got, s)
	}
}
