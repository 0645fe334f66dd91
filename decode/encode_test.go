package decode

import (
	"math"
	"testing"
)

func TestAppend(t *testing.T) {
	full := Sample{Tag: Out, Seq: 65535, Time: 4294967295, Num: [MaxNum]float64{1, 0.5, 0.25, 0.125, 0, 0, 0, 0.1}, Has: 0b10001111}
	cases := []struct {
		name string
		s    Sample
		want string // body
	}{
		{"nothing measured", Sample{Tag: Load}, "load,0,0"},
		{"holes, not at the end", full, "out,65535,4294967295,1,0.5,0.25,0.125,,,,0.1"},
		{"small number without exponent", Sample{Tag: Load, Num: [MaxNum]float64{1e-9}, Has: 1}, "load,0,0,0.000000001"},
		{"large number without exponent", Sample{Tag: Set, Num: [MaxNum]float64{1e21}, Has: 1, Word: []byte("x")}, "set,0,0,x,1000000000000000000000"},
		{"minus zero", Sample{Tag: Load, Num: [MaxNum]float64{math.Copysign(0, -1)}, Has: 1}, "load,0,0,0"},
		{"not finite is not measured", Sample{Tag: Accel, Num: [MaxNum]float64{math.NaN(), math.Inf(-1), 1}, Has: 7}, "accel,0,0,,,1"},
		{"bytes that would tear the line", Sample{Tag: Craft, Text: []byte("a,b*c\nd\xffe"), Word: []byte("tri")}, "craft,0,0,a_b_c_d_e,tri"},
		{"a note keeps its commas", Sample{Tag: Note, Text: []byte("a,b*c\r")}, "note,0,0,a,b_c_"},
		{"out of range is written", Sample{Tag: State, Num: [MaxNum]float64{7}, Has: 1}, "state,0,0,7"},
	}
	for _, c := range cases {
		if got, want := string(Append([]byte("kept\n"), &c.s)), "kept\n"+sealed(c.want)+"\n"; got != want {
			t.Errorf("%s: got %q, want %q", c.name, got, want)
		}
		if got := string(AppendBody(nil, &c.s)); got != c.want {
			t.Errorf("%s: body %q, want %q", c.name, got, c.want)
		}
	}
	for _, tag := range []Tag{Unknown, TagCount, 200} {
		s := Sample{Tag: tag}
		if got := string(Append([]byte("kept"), &s)) + string(AppendBody(nil, &s)); got != "kept" {
			t.Errorf("tag %d: got %q", tag, got)
		}
	}
}
