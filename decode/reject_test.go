package decode

import (
	"errors"
	"reflect"
	"strings"
	"testing"
)

// rejections are bad lines by cause, in the order in which a line is examined.
var rejections = []struct {
	line  string
	cause Cause
	field string
}{
	{strings.Repeat("x", MaxLine), TooLong, ""},
	{"note,1,20," + strings.Repeat("x", 100_000), TooLong, ""},
	{sealed("note,1,20,"+strings.Repeat("x", MaxLine-1-len("note,1,20,*01234567"))) + "\r", TooLong, ""},
	{"load,1,20,\x1f*00000000", BadByte, ""},
	{"load,1,20,\x7f*00000000", BadByte, ""},
	{"load,1,20,\x80*00000000", BadByte, ""},
	{"load,1,20,\xff*00000000", BadByte, ""},
	{"\x00", BadByte, ""},
	{"\r\r", BadByte, ""},
	{"\rload,1,20*92A93E30", BadByte, ""},
	{"load,1,20*92A93E30\t", BadByte, ""},
	{"load,1,20*92A93E30\r\r", BadByte, ""},
	{"x", NoChecksum, ""},
	{" ", NoChecksum, ""},
	{"load,1,20,3.5", NoChecksum, ""},
	{"*", BadChecksum, ""},
	{"load,1,20*", BadChecksum, ""},
	{"load,1,20*92A93E3", BadChecksum, ""},
	{"load,1,20*92A93E300", BadChecksum, ""},
	{"load,1,20*92a93e30", BadChecksum, ""},
	{"load,1,20*92A93E3G", BadChecksum, ""},
	{"load,1,20*92A93E31", BadChecksum, ""},
	{"load,1,21*92A93E30", BadChecksum, ""},
	{"load,1,20*92A93E30 ", BadChecksum, ""},
	{"load,1,20*92A9*E30", BadChecksum, ""},
	{"load,1,20,3.5*" + "D7C6D1E2", BadChecksum, ""},
	{sealed("note,1,20,two * stars"), StrayStar, ""},
	{sealed("turret,1,20,*"), StrayStar, ""},
	{sealed("load,1,20*92A93E30"), StrayStar, ""},
	{"*00000000", BadHeader, "tag"},
	{sealed("load"), BadHeader, "tag"},
	{sealed("Load,1,20"), BadHeader, "tag"},
	{sealed("load2,1,20"), BadHeader, "tag"},
	{sealed(" load,1,20"), BadHeader, "tag"},
	{sealed(",1,20"), BadHeader, "tag"},
	{sealed("abcdefghi,1,20"), BadHeader, "tag"},
	{sealed("load,"), BadHeader, "seq"},
	{sealed("load,1"), BadHeader, "seq"},
	{sealed("load,,20"), BadHeader, "seq"},
	{sealed("load,-1,20"), BadHeader, "seq"},
	{sealed("load,+1,20"), BadHeader, "seq"},
	{sealed("load,1.0,20"), BadHeader, "seq"},
	{sealed("load,65536,20"), BadHeader, "seq"},
	{sealed("load,18446744073709551617,20"), BadHeader, "seq"},
	{sealed("load,1,"), BadHeader, "time"},
	{sealed("load,1,,3.5"), BadHeader, "time"},
	{sealed("load,1,-20"), BadHeader, "time"},
	{sealed("load,1,2e1"), BadHeader, "time"},
	{sealed("load,1,4294967296"), BadHeader, "time"},
	{sealed("turret,1,4294967296"), BadHeader, "time"},
	{sealed("load,1,20,+3.5"), BadNumber, "load_n"},
	{sealed("load,1,20,.5"), BadNumber, "load_n"},
	{sealed("load,1,20,5."), BadNumber, "load_n"},
	{sealed("load,1,20,-"), BadNumber, "load_n"},
	{sealed("load,1,20,1e3"), BadNumber, "load_n"},
	{sealed("load,1,20,inf"), BadNumber, "load_n"},
	{sealed("load,1,20,nan"), BadNumber, "load_n"},
	{sealed("load,1,20,0x1p3"), BadNumber, "load_n"},
	{sealed("load,1,20, 3.5"), BadNumber, "load_n"},
	{sealed("load,1,20,3.5N,1"), BadNumber, "load_n"},
	{sealed("load,1,20,1_000"), BadNumber, "load_n"},
	{sealed("out,1,20,0.1,0.2,x"), BadNumber, "out_3"},
	{sealed("state,1,20,1.0"), BadNumber, "armed"},
	{sealed("state,1,20,1,0,0.5"), BadNumber, "ground"},
	{sealed("state,1,20,true"), BadNumber, "armed"},
	{sealed("craft,1,20,Marsh Heron,quad-x,4.5"), BadNumber, "motors"},
	{sealed("hello,1,20,1,bench-1,1.5"), BadNumber, "boot"},
	{sealed("craft,1,20,Marsh Heron,quad-x ,4"), BadWord, "layout"},
	{sealed("craft,1,20,Marsh Heron,Quad-x,4"), BadWord, "layout"},
	{sealed("craft,1,20,Marsh Heron,quad,4"), BadWord, "layout"},
	{sealed("craft,1,20,Marsh, Heron,quad-x,4"), BadWord, "layout"},
	{sealed("set,1,20,idle ready,0.05"), BadWord, "setting"},
	{sealed("set,1,20,Idle,0.05"), BadWord, "setting"},
	{sealed("out,1,20,1.0000000000000001"), OutOfRange, "out_1"},
	{sealed("out,1,20,0.5,-0.00000000000000000000000001"), OutOfRange, "out_2"},
	{sealed("erpm,1,20,1000000.00000000001"), OutOfRange, "erpm_1"},
	{sealed("state,1,20,2"), OutOfRange, "armed"},
	{sealed("state,1,20,-1"), OutOfRange, "armed"},
	{sealed("craft,1,20,,,0"), OutOfRange, "motors"},
	{sealed("craft,1,20,,,9"), OutOfRange, "motors"},
	{sealed("craft,1,20,,,4,13"), OutOfRange, "magnet_poles"},
	{sealed("craft,1,20,,,4,0"), OutOfRange, "magnet_poles"},
	{sealed("craft,1,20,,,4,62"), OutOfRange, "magnet_poles"},
	{sealed("craft,1,20,,,4,14,1"), OutOfRange, "blades"},
	{sealed("craft,1,20,,,4,14,3,0.178"), OutOfRange, "propeller_mm"}, // metres
	{sealed("craft,1,20,,,4,14,3,5001"), OutOfRange, "propeller_mm"},
	{sealed("craft,1,20,,,4,14,3,-1"), OutOfRange, "propeller_mm"},
	{sealed("craft,1,20,,,4,14,3,178,0.655"), OutOfRange, "mass_g"}, // kilograms
	{sealed("craft,1,20,,,4,14,3,178,1000001"), OutOfRange, "mass_g"},
	{sealed("craft,1,20,,,4,14,3,178,-655"), OutOfRange, "mass_g"},
	{sealed("craft,1,20,,,4,14,3,178,655,15"), OutOfRange, "cells"},
	{sealed("hello,1,20,1,bench-1,4294967296"), OutOfRange, "boot"},
	{sealed("hello,1,20,0,bench-1,42"), OtherVersion, "protocol"},
	{sealed("hello,1,20,2,bench-1,42"), OtherVersion, "protocol"},
}

func TestRejections(t *testing.T) {
	seen := map[Cause]bool{}
	for _, r := range rejections {
		var d Decoder
		// What stood in the sample before must not survive a bad line.
		s := Sample{Tag: Axes, Seq: 9, Time: 9, Has: 1023, Text: []byte("x"), Word: []byte("y")}
		err := d.Decode([]byte(r.line), &s)
		var le *LineError
		if !errors.As(err, &le) || le.Cause != r.cause || le.Field != r.field {
			t.Errorf("%.80q: got %v, want %v in %q", r.line, err, r.cause, r.field)
		}
		if !reflect.DeepEqual(s, Sample{}) {
			t.Errorf("%.80q: values of a bad line: %+v", r.line, s)
		}
		seen[r.cause] = true
	}
	for c := range CauseCount {
		if !seen[c] {
			t.Errorf("no line is rejected for %v", c)
		}
	}
}

// Every number is taken at the ends of its range and rejected beyond them.
func TestRanges(t *testing.T) {
	var d Decoder
	for tag := Unknown + 1; tag < TagCount; tag++ {
		for _, f := range Fields(tag) {
			if f.Slot < 0 || f.Unbounded() {
				continue
			}
			step := 0.001
			if f.Kind != Number {
				step = 1
			}
			if f.Even {
				step = 2
			}
			for v, good := range map[float64]bool{f.Min: true, f.Max: true, f.Min - step: false, f.Max + step: false} {
				s := Sample{Tag: tag}
				s.Put(f.Slot, v)
				line := Append(nil, &s)
				var got Sample
				err := d.Decode(line[:len(line)-1], &got)
				if (err == nil) != good || good && got.Num[f.Slot] != v {
					t.Errorf("%s = %v: %v", f.Name, v, err)
				}
			}
		}
	}
}

func TestNeitherGoodNorBad(t *testing.T) {
	var d Decoder
	for line, want := range map[string]error{
		"": ErrBlank, "\r": ErrBlank, "#": ErrHost, "#at 1.000": ErrHost, "#\xff*": ErrHost,
		"#" + strings.Repeat("x", 5000): ErrHost, "#load,1,20*92A93E30\r": ErrHost,
	} {
		var s Sample
		if err := d.Decode([]byte(line), &s); err != want {
			t.Errorf("%.40q: got %v, want %v", line, err, want)
		}
	}
}

func TestLineErrorTells(t *testing.T) {
	var d Decoder
	var s Sample
	for line, want := range map[string]string{
		sealed("out,1,20,0.1,1.5,0.2"): `reject line: out of range in out_2 "1.5"`,
		"load,1,20":                    `reject line: no checksum`,
		"load,1,20,\xff":               `reject line: bad byte "\xff"`,
	} {
		if err := d.Decode([]byte(line), &s); err == nil || err.Error() != want {
			t.Errorf("%q: got %v, want %s", line, err, want)
		}
	}
	if got := Cause(99).String(); got != "cause 99" {
		t.Errorf("got %q", got)
	}
}

// Every byte is judged alike wherever it stands, beside any neighbours, in
// bodies of some lengths.
func TestBadByte(t *testing.T) {
	var d Decoder
	var m commas
	var s Sample
	for _, star := range []int{1, 7, 8, 23, 64, 131} {
		body := []byte(strings.Repeat("~ aZ09,)+", MaxLine/8)[:star])
		for at := range body {
			kept := body[at]
			for c := range 256 {
				body[at] = byte(c)
				line := AppendChecksum(body[:star:star], 0)
				line = line[:len(line)-1]
				bad := c < 0x20 || c > 0x7E
				if got := m.read(line, star); got != (!bad && c != '*') {
					t.Fatalf("%q: %v", line, got)
				} else if got {
					checkMap(t, &m, line, star)
				}
				if c == '#' && at == 0 {
					continue
				}
				var e *LineError
				if err := d.Decode(line, &s); errors.As(err, &e) && (e.Cause == BadByte) != bad || bad && (err == nil || e.Text[0] != byte(c)) {
					t.Fatalf("%q: %v", line, err)
				}
			}
			body[at] = kept
		}
	}
}

func checkMap(t *testing.T, m *commas, line []byte, star int) {
	for i, c := range line[:star+1] {
		want := c == ',' || i == star
		if got := m[i/64]>>(i%64)&1 == 1; got != want {
			t.Fatalf("%q: byte %d is a comma: %v", line, i, got)
		}
	}
}
