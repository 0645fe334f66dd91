package decode

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"tetherbell/link"
)

// The decoder beside the readers of the standard library, each on the same
// values in the form it reads:
//
//	go test ./decode -run '^$' -bench Beside
//
// The others check no checksum and no range, and give texts (encoding/csv) or
// a map or struct without knowing what is missing: they do less. All are fed
// from memory through the kind of reader they ask for, and an operation is a
// line.

const besideLines = 4096

// content is the same samples as lines of the protocol, and as an object a
// line.
type content struct {
	lines, objects []byte
	count          int
}

// besideContent makes lines of one tag, or of all tags as a bench sends them.
func besideContent(b *testing.B, tags []Tag) content {
	rng := rand.New(rand.NewPCG(7, 8))
	var c content
	for i := range besideLines {
		s := Sample{Tag: tags[i%len(tags)], Seq: uint16(i), Time: uint32(1040 + 1000*i)}
		object := map[string]any{"tag": s.Tag.String(), "seq": s.Seq, "time": s.Time}
		for _, f := range Fields(s.Tag) {
			benchField(rng, &s, f)
			switch {
			case f.Kind == Word:
				object[f.Name] = string(s.Word)
			case f.Kind > Word:
				object[f.Name] = string(s.Text)
			default:
				object[f.Name] = json.RawMessage(strconv.FormatFloat(s.Num[f.Slot], 'f', -1, 64))
			}
		}
		c.lines = appendSent(c.lines, &s)
		text, err := json.Marshal(object)
		require.NoError(b, err)
		c.objects = append(append(c.objects, text...), '\n')
		c.count++
	}
	return c
}

// appendSent writes a line as a bridge does, which keeps to a number of decimals.
func appendSent(dst []byte, s *Sample) []byte {
	from := len(dst)
	dst = fmt.Appendf(dst, "%s,%d,%d", s.Tag, s.Seq, s.Time)
	for _, f := range Fields(s.Tag) {
		switch {
		case f.Kind == Word:
			dst = append(append(dst, ','), s.Word...)
		case f.Kind > Word:
			dst = append(append(dst, ','), s.Text...)
		default:
			dst = strconv.AppendFloat(append(dst, ','), s.Num[f.Slot], 'f', map[bool]int{true: decimals(f)}[f.Kind == Number], 64)
		}
	}
	return AppendChecksum(dst, from)
}

func decimals(f Field) int {
	if f.Unit == "1" {
		return 4
	}
	return 1
}

// benchField gives a field a value with as many decimals as a bridge sends.
func benchField(rng *rand.Rand, s *Sample, f Field) {
	randomField(rng, s, f)
	if f.Kind == Number && f.Slot >= 0 {
		places := math.Pow10(decimals(f))
		v := f.Min + (f.Max-f.Min)*(0.5+0.02*rng.NormFloat64())
		s.Put(f.Slot, float64(int64(v*places))/places)
	}
}

// An axesObject is what a program would read the line's values into.
type axesObject struct {
	Tag          string  `json:"tag"`
	Seq          uint16  `json:"seq"`
	Time         uint32  `json:"time"`
	RateRoll     float64 `json:"rate_roll"`
	RatePitch    float64 `json:"rate_pitch"`
	RateYaw      float64 `json:"rate_yaw"`
	DemandRoll   float64 `json:"demand_roll"`
	DemandPitch  float64 `json:"demand_pitch"`
	DemandYaw    float64 `json:"demand_yaw"`
	ControlRoll  float64 `json:"control_roll"`
	ControlPitch float64 `json:"control_pitch"`
	ControlYaw   float64 `json:"control_yaw"`
	Throttle     float64 `json:"throttle"`
}

func BenchmarkBesideAxes(b *testing.B) {
	c := besideContent(b, []Tag{Axes})
	beside(b, c, func(d *json.Decoder) error {
		var v axesObject
		return d.Decode(&v)
	})
}

func BenchmarkBesideStream(b *testing.B) {
	// A tenth of a second of a bench: axes and accel fastest.
	mix := []Tag{Axes, Accel, Axes, Accel, Axes, Out, Axes, ERPM, Axes, Accel, Axes, Out, Axes, State, Axes, Load,
		Axes, Accel, Axes, Out, Axes, Pack, Axes, Air, Axes, Temp, Axes, Set, Axes, Hello, Axes, Craft, Axes, Note}
	beside(b, besideContent(b, mix), func(d *json.Decoder) error {
		var v map[string]any
		return d.Decode(&v)
	})
}

func beside(b *testing.B, c content, object func(*json.Decoder) error) {
	b.Run("ours", func(b *testing.B) { besideOurs(b, c) })
	b.Run("scanner", func(b *testing.B) { besideScanner(b, c) })
	b.Run("csv", func(b *testing.B) { besideCSV(b, c, false, false) })
	b.Run("csv-reused", func(b *testing.B) { besideCSV(b, c, true, false) })
	b.Run("csv-numbers", func(b *testing.B) { besideCSV(b, c, true, true) })
	b.Run("json", func(b *testing.B) { besideJSON(b, c, object) })
}

// eachPass reads the content again and again until so many lines are read.
func eachPass(b *testing.B, c content, text []byte, pass func(r io.Reader) int) {
	b.ReportAllocs()
	b.SetBytes(int64(len(text) / c.count))
	b.ResetTimer()
	for n := 0; n < b.N; n += c.count {
		if got := pass(bytes.NewReader(text)); got != c.count {
			b.Fatalf("%d lines of %d", got, c.count)
		}
	}
	// The last pass is whole whatever b.N says.
	passes := (b.N + c.count - 1) / c.count
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(passes*c.count), "ns/line")
}

// besideOurs is splitter, checksum, grammar and ranges: numbers come out.
func besideOurs(b *testing.B, c content) {
	buf := make([]byte, 64<<10)
	var d Decoder
	var s Sample
	eachPass(b, c, c.lines, func(r io.Reader) (good int) {
		var cut link.Splitter
		for {
			n, err := r.Read(buf)
			cut.Feed(buf[:n], func(line []byte) {
				if d.Decode(line, &s) == nil {
					good++
				}
			})
			if err != nil {
				return good
			}
		}
	})
}

// besideScanner finds the lines and does nothing with them: the floor.
func besideScanner(b *testing.B, c content) {
	eachPass(b, c, c.lines, func(r io.Reader) (lines int) {
		for scan := bufio.NewScanner(r); scan.Scan(); {
			lines++
		}
		return lines
	})
}

// besideCSV reads fields as texts: into new memory for each line, as it does
// unless told otherwise, or into the same again. With numbers the texts are
// read as numbers, which is what our decoder gives.
func besideCSV(b *testing.B, c content, reuse, numbers bool) {
	var sum float64
	eachPass(b, c, c.lines, func(r io.Reader) (lines int) {
		read := csv.NewReader(r)
		read.ReuseRecord, read.FieldsPerRecord, read.LazyQuotes = reuse, -1, true
		for {
			fields, err := read.Read()
			if errors.Is(err, io.EOF) {
				return lines
			}
			if err != nil {
				b.Fatal(fmt.Errorf("line %d: %w", lines, err))
			}
			lines++
			for i := 1; numbers && i < len(fields); i++ {
				text := fields[i]
				if star := len(text) - sumLen; i == len(fields)-1 && star >= 0 {
					text = text[:star]
				}
				if v, err := strconv.ParseFloat(text, 64); err == nil {
					sum += v
				}
			}
		}
	})
	_ = sum
}

func besideJSON(b *testing.B, c content, object func(*json.Decoder) error) {
	eachPass(b, c, c.objects, func(r io.Reader) (lines int) {
		for d := json.NewDecoder(r); ; lines++ {
			err := object(d)
			if errors.Is(err, io.EOF) {
				return lines
			}
			if err != nil {
				b.Fatal(err)
			}
		}
	})
}
