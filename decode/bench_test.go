package decode

import "testing"

func benchDecode(b *testing.B, line string, good bool) {
	var d Decoder
	var s Sample
	text := []byte(line)
	b.ReportAllocs()
	b.SetBytes(int64(len(text) + 1))
	for b.Loop() {
		if (d.Decode(text, &s) == nil) != good {
			b.Fatal(line)
		}
	}
}

const axesLine = "axes,2,1040,-0.4,1.2,0.1,0.0,0.0,0.0,0.0012,-0.0030,0.0004,0.131*E939220D"

func BenchmarkDecodeAxes(b *testing.B) { benchDecode(b, axesLine, true) }
func BenchmarkDecodeOut(b *testing.B) {
	benchDecode(b, "out,3,1040,0.1310,,0.1290,0.1320*B18A13EF", true)
}
func BenchmarkDecodeBad(b *testing.B) {
	benchDecode(b, "axes,2,1041,-0.4,1.2,0.1,0.0,0.0,0.0,0.0012,-0.0030,0.0004,0.131*E939220D", false)
}
func BenchmarkAppendAxes(b *testing.B) {
	var buf [MaxLine]byte
	s := vectors[2].want
	b.ReportAllocs()
	for b.Loop() {
		Append(buf[:0], &s)
	}
}
