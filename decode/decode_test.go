package decode

import (
	"reflect"
	"strings"
	"testing"

	"tetherbell/decode/craft"
)

// vectors are the lines that every version of the protocol goes on reading,
// with the samples they stand for.
var vectors = []struct {
	line string
	want Sample
}{
	{"hello,0,0,1,bench-1,42*A1C42CDB",
		Sample{Tag: Hello, Num: [MaxNum]float64{1, 42}, Has: 3, Text: []byte("bench-1")}},
	{"craft,1,12,Marsh Heron,quad-x,4,14,3,178,655,4*0F9FABD2",
		Sample{Tag: Craft, Seq: 1, Time: 12, Num: [MaxNum]float64{4, 14, 3, 178, 655, 4}, Has: 63,
			Text: []byte("Marsh Heron"), Word: []byte("quad-x")}},
	{"axes,2,1040,-0.4,1.2,0.1,0.0,0.0,0.0,0.0012,-0.0030,0.0004,0.131*E939220D",
		Sample{Tag: Axes, Seq: 2, Time: 1040, Has: 1023,
			Num: [MaxNum]float64{-0.4, 1.2, 0.1, 0, 0, 0, 0.0012, -0.003, 0.0004, 0.131}}},
	{"out,3,1040,0.1310,,0.1290,0.1320*B18A13EF",
		Sample{Tag: Out, Seq: 3, Time: 1040, Num: [MaxNum]float64{0.131, 0, 0.129, 0.132}, Has: 0b1101}},
	{"state,65535,4294967295,1,0,1,0.000,0.000,0.000,0.000*D2E9B544",
		Sample{Tag: State, Seq: 65535, Time: 4294967295, Num: [MaxNum]float64{1, 0, 1}, Has: 127}},
	{"state,0,15,1,1,1,0.000,0.000,0.000,0.000*8BEF21D4",
		Sample{Tag: State, Time: 15, Num: [MaxNum]float64{1, 1, 1}, Has: 127}},
	{"note,1,20,tether hooked, area clear*C96DE53B",
		Sample{Tag: Note, Seq: 1, Time: 20, Text: []byte("tether hooked, area clear")}},
}

// mustDecode decodes one line that has to be good.
func mustDecode(t *testing.T, line string) Sample {
	t.Helper()
	var d Decoder
	var s Sample
	if err := d.Decode([]byte(line), &s); err != nil {
		t.Fatalf("%q: %v", line, err)
	}
	return s
}

func TestVectors(t *testing.T) {
	for _, v := range vectors {
		for _, end := range []string{"", "\r"} {
			if s := mustDecode(t, v.line+end); !reflect.DeepEqual(s, v.want) {
				t.Errorf("%q: got %+v, want %+v", v.line+end, s, v.want)
			}
		}
		line := Append(nil, &v.want)
		if s := mustDecode(t, string(line[:len(line)-1])); !reflect.DeepEqual(s, v.want) {
			t.Errorf("written again as %q: got %+v, want %+v", line, s, v.want)
		}
	}
}

func TestVectorsWrap(t *testing.T) {
	var k Stream
	last, first := mustDecode(t, vectors[4].line), mustDecode(t, vectors[5].line)
	if got, want := k.Next(&last, -1), (Step{FirstLine: true}); got != want {
		t.Errorf("first: got %+v, want %+v", got, want)
	}
	if got, want := k.Next(&first, -1), (Step{DT: 16}); got != want {
		t.Errorf("over the wrap: got %+v, want %+v", got, want)
	}
}

// sealed gives a body its checksum.
func sealed(body string) string {
	line := AppendChecksum([]byte(body), 0)
	return string(line[:len(line)-1])
}

func TestGoodLines(t *testing.T) {
	pad := func(n int) string { return "note,1,20," + strings.Repeat("x", n-len("note,1,20,*01234567")) }
	cases := []struct {
		name, body string
		want       Sample
	}{
		{"no field at all", "load,1,20", Sample{Tag: Load, Seq: 1, Time: 20}},
		{"one empty field", "load,1,20,", Sample{Tag: Load, Seq: 1, Time: 20}},
		{"leading zeros", "load,0001,00000000020,-003.50", Sample{Tag: Load, Seq: 1, Time: 20, Num: [MaxNum]float64{-3.5}, Has: 1}},
		{"minus zero", "load,1,20,-0.00", Sample{Tag: Load, Seq: 1, Time: 20, Has: 1}},
		{"a field more", "load,1,20,3.5,what,ever 9", Sample{Tag: Load, Seq: 1, Time: 20, Num: [MaxNum]float64{3.5}, Has: 1}},
		{"a ninth motor", "temp,1,20,1,2,3,4,5,6,7,8,9", Sample{Tag: Temp, Seq: 1, Time: 20, Num: [MaxNum]float64{1, 2, 3, 4, 5, 6, 7, 8}, Has: 255}},
		{"all empty", "state,1,20,,,,,,,,", Sample{Tag: State, Seq: 1, Time: 20}},
		{"middle empty", "accel,1,20,1.5,,-9.81", Sample{Tag: Accel, Seq: 1, Time: 20, Num: [MaxNum]float64{1.5, 0, -9.81}, Has: 5}},
		{"ends of ranges", "pack,1,20,80,-50", Sample{Tag: Pack, Seq: 1, Time: 20, Num: [MaxNum]float64{80, -50}, Has: 3}},
		{"largest boot number", "hello,1,20,,,4294967295", Sample{Tag: Hello, Seq: 1, Time: 20, Num: [MaxNum]float64{0, 4294967295}, Has: 2}},
		{"text of odd signs", "hello,1,20,1,a b:c\\\"#{},7", Sample{Tag: Hello, Seq: 1, Time: 20, Num: [MaxNum]float64{1, 7}, Has: 3, Text: []byte(`a b:c\"#{}`)}},
		{"text that looks like a number", "craft,1,20,-1e9", Sample{Tag: Craft, Seq: 1, Time: 20, Text: []byte("-1e9")}},
		{"a setting of any size", "set,1,20,gain_p-2,-123456789012345678", Sample{Tag: Set, Seq: 1, Time: 20, Num: [MaxNum]float64{-123456789012345678}, Has: 1, Word: []byte("gain_p-2")}},
		{"a setting with no value", "set,1,20,gain", Sample{Tag: Set, Seq: 1, Time: 20, Word: []byte("gain")}},
		{"note of commas", "note,1,20,,a,,b,", Sample{Tag: Note, Seq: 1, Time: 20, Text: []byte(",a,,b,")}},
		{"empty note", "note,1,20,", Sample{Tag: Note, Seq: 1, Time: 20}},
		{"unknown tag", "turret,3,80,1,?,,x y", Sample{Seq: 3, Time: 80, Word: []byte("turret")}},
		{"unknown tag of one letter", "q,3,80", Sample{Seq: 3, Time: 80, Word: []byte("q")}},
		{"a known tag's beginning", "axe,3,80,9999", Sample{Seq: 3, Time: 80, Word: []byte("axe")}},
		{"unknown tag of eight letters", "abcdefgh,3,80", Sample{Seq: 3, Time: 80, Word: []byte("abcdefgh")}},
		{"longest line", pad(MaxLine - 1), Sample{Tag: Note, Seq: 1, Time: 20, Text: []byte(strings.Repeat("x", 220))}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			if got := mustDecode(t, sealed(c.body)); !reflect.DeepEqual(got, c.want) {
				t.Errorf("got %+v, want %+v", got, c.want)
			}
		})
	}
}

// A text that is appended to must not run into the rest of the line.
func TestTextIsClosed(t *testing.T) {
	line := []byte(sealed("craft,1,20,Heron,quad-x,4"))
	before := string(line)
	var d Decoder
	var s Sample
	if err := d.Decode(line, &s); err != nil {
		t.Fatal(err)
	}
	_ = append(s.Text, "XXX"...)
	_ = append(s.Word, "XXX"...)
	if string(line) != before {
		t.Errorf("the line became %q", line)
	}
}

func TestCraftOf(t *testing.T) {
	s := mustDecode(t, vectors[1].line)
	want := craft.Craft{Name: "Marsh Heron", Layout: "quad-x", Motors: 4, Poles: 14, Blades: 3, DiameterMM: 178, MassG: 655, Cells: 4}
	if got := CraftOf(&s); !reflect.DeepEqual(got, want) || got.Check() != nil {
		t.Errorf("got %+v, %v", got, got.Check())
	}
	if got := CraftOf(&vectors[0].want); !reflect.DeepEqual(got, craft.Craft{}) {
		t.Errorf("a hello gives %+v", got)
	}
}

// A bridge that does not know propeller and mass may write 0: the line is good,
// and a craft file fills them.
func TestCraftOfUnknownSizes(t *testing.T) {
	s := mustDecode(t, sealed("craft,1,180,Marsh Heron,quad-x,4,14,3,0,0.0,4"))
	got := CraftOf(&s)
	want := craft.Craft{Name: "Marsh Heron", Layout: "quad-x", Motors: 4, Poles: 14, Blades: 3, Cells: 4}
	if !reflect.DeepEqual(got, want) || got.Check() != nil {
		t.Errorf("got %+v, %v", got, got.Check())
	}
	if full := (craft.Craft{DiameterMM: 178, MassG: 655}).Fill(got); full.DiameterMM != 178 || full.MassG != 655 || full.Motors != 4 {
		t.Errorf("filled: %+v", full)
	}
}
