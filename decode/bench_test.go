package decode

import "testing"

// The figures in the project's performance table come from
//
//	go test ./decode -run '^$' -bench .

const axesLine = "axes,2,1040,-0.4,1.2,0.1,0.0,0.0,0.0,0.0012,-0.0030,0.0004,0.131*E939220D"

func benchmarkDecode(b *testing.B, line string, good bool) {
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

func BenchmarkDecodeAxes(b *testing.B) { benchmarkDecode(b, axesLine, true) }

// The same fields with all the digits that a careless bridge may send.
func BenchmarkDecodeAxesLong(b *testing.B) {
	benchmarkDecode(b, sealed("axes,34567,2345678901,-123.456789,234.567891,-12.345678,0.000000,100.250000,0.000000,"+
		"0.012345678,-0.034567891,0.000456789,0.131234567"), true)
}

func BenchmarkDecodeOut(b *testing.B)   { benchmarkDecode(b, vectors[3].line, true) }
func BenchmarkDecodeState(b *testing.B) { benchmarkDecode(b, vectors[5].line, true) }
func BenchmarkDecodeNote(b *testing.B)  { benchmarkDecode(b, vectors[6].line, true) }

func BenchmarkDecodeBadChecksum(b *testing.B) {
	benchmarkDecode(b, "axes,2,1041"+axesLine[len("axes,2,1040"):], false)
}

func BenchmarkDecodeOutOfRange(b *testing.B) {
	benchmarkDecode(b, sealed("axes,2,1040,-0.4,1.2,0.1,0.0,0.0,0.0,0.0012,-0.0030,0.0004,1.131"), false)
}

func BenchmarkAppendAxes(b *testing.B) {
	buf := make([]byte, 0, MaxLine)
	s := vectors[2].want
	b.ReportAllocs()
	for b.Loop() {
		buf = Append(buf[:0], &s)
	}
}

func BenchmarkStream(b *testing.B) {
	var k Stream
	s := vectors[2].want
	b.ReportAllocs()
	for b.Loop() {
		s.Seq++
		s.Time += 1000
		k.Next(&s, 1000)
	}
}

// A line costs no memory: not a good one, and not a bad one of any cause.
func TestNoAllocation(t *testing.T) {
	var lines [][]byte
	for _, v := range vectors {
		lines = append(lines, []byte(v.line))
	}
	for _, r := range rejections {
		lines = append(lines, []byte(r.line))
	}
	for _, text := range []string{"", "#at 1.000", sealed("turret,3,80,1"),
		sealed("set,1,20,x,123456789012345678901234567890.12345678901234567890")} {
		lines = append(lines, []byte(text))
	}
	var d Decoder
	var k Stream
	var s Sample
	buf := make([]byte, 0, MaxLine)
	for _, line := range lines {
		n := testing.AllocsPerRun(50, func() {
			if d.Decode(line, &s) == nil {
				k.Next(&s, -1)
				buf = Append(buf[:0], &s)
			}
		})
		if n != 0 {
			t.Errorf("%.60q: %v allocations", line, n)
		}
	}
}
