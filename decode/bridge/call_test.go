package bridge

import (
	"encoding/binary"
	"math"
	"math/rand/v2"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// none is BL_NONE.
const none = math.MinInt32

// wrong is BL_WRONG.
const wrong = none + 1

// A call is one call of the C encoder, as testdata/pipe.c reads it.
type call struct {
	tag      decode.Tag
	time     uint32
	text     []byte // nil: NULL
	layout   uint8
	boot     uint32
	decimals [2]uint8
	v        []int32
}

// what is a tag as the C knows it.
func what(tag decode.Tag) byte { return byte(tag) - 1 }

// record appends the call in the form that the C program reads.
func (c *call) record(dst []byte) []byte {
	le := binary.LittleEndian
	dst = le.AppendUint32(append(dst, what(c.tag)), c.time)
	switch c.tag {
	case decode.Hello, decode.Craft, decode.Set, decode.Note:
		if c.text == nil {
			dst = append(dst, 0xFF, 0xFF)
		} else {
			dst = append(le.AppendUint16(dst, uint16(len(c.text))), c.text...)
		}
	}
	switch c.tag {
	case decode.Hello:
		return le.AppendUint32(dst, c.boot)
	case decode.Note:
		return dst
	case decode.Craft:
		dst = append(dst, c.layout, c.decimals[0], c.decimals[1])
	case decode.Axes, decode.Pack, decode.Air:
		dst = append(dst, c.decimals[0], c.decimals[1])
	case decode.Out, decode.ERPM, decode.Temp:
		dst = append(dst, byte(len(c.v)), c.decimals[0])
	default:
		dst = append(dst, c.decimals[0])
	}
	for _, v := range c.v {
		dst = le.AppendUint32(dst, uint32(v))
	}
	return dst
}

// refused reports whether there is no such line.
func (c *call) refused() bool {
	return len(c.v) > decode.MaxNum || c.perMotor() && len(c.v) > decode.MaxMotors || c.tag == decode.Set && !isWord(string(c.text))
}

func (c *call) perMotor() bool {
	return c.tag == decode.Out || c.tag == decode.ERPM || c.tag == decode.Temp
}

// numeric holds each tag's numeric fields; seconds those of a second unit.
var numeric, seconds = func() (n [decode.TagCount][]decode.Field, s [decode.TagCount][]bool) {
	for tag := decode.Unknown + 1; tag < decode.TagCount; tag++ {
		unit := ""
		for _, f := range decode.Fields(tag) {
			if f.Kind >= decode.Word {
				continue
			}
			if unit == "" && f.Kind == decode.Number {
				unit = f.Unit
			}
			n[tag] = append(n[tag], f)
			s[tag] = append(s[tag], f.Kind == decode.Number && f.Unit != unit)
		}
	}
	return n, s
}()

// places is how many decimals field i of the call is given with.
func (c *call) places(i int) uint8 {
	switch {
	case numeric[c.tag][i].Kind != decode.Number:
		return 0
	case seconds[c.tag][i]:
		return c.decimals[1]
	}
	return c.decimals[0]
}

// sample fills s with what the host must read, and returns how many values are
// out of range. It goes by format.go and floating point, not as the C does.
func (c *call) sample(seq uint16, s *decode.Sample) (bad int) {
	*s = decode.Sample{Tag: c.tag, Seq: seq, Time: c.time}
	switch c.tag {
	case decode.Hello:
		s.Put(decode.HelloVersion, 1)
		s.Put(decode.HelloBoot, float64(c.boot))
		s.Text = c.text[:min(len(c.text), MaxName)]
		return 0
	case decode.Craft:
		s.Text = c.text[:min(len(c.text), MaxName)]
		if int(c.layout) < len(craft.Layouts) {
			s.Word = []byte(craft.Layouts[c.layout])
		}
	case decode.Set:
		s.Word = c.text
	case decode.Note:
		s.Text = c.text
		body := len(decode.AppendBody(make([]byte, 0, 600), s)) // cut to the line
		s.Text = c.text[:len(c.text)-max(0, body-(decode.MaxLine-len("*00000000\n")))]
	}
	for i, v := range c.v {
		if v == none {
			continue
		}
		if v == wrong {
			bad++
			continue
		}
		if value, ok := inRange(&numeric[c.tag][i], v, c.places(i)); ok {
			s.Put(i, value)
		} else {
			bad++
		}
	}
	return bad
}

func inRange(f *decode.Field, v int32, places uint8) (float64, bool) {
	if places > maxDecimals {
		return 0, false
	}
	value := float64(v) / math.Pow10(int(places)) // both exact: rounded once
	switch {
	case f.Unbounded(), f.OrZero && v == 0:
		return value, true
	case f.Even && v%2 != 0:
		return 0, false
	}
	return value, value >= f.Min && value <= f.Max
}

// draw makes any call, edges far more often than chance would.
func (c *call) draw(r *rand.Rand) {
	c.tag = decode.Tag(1 + r.IntN(int(decode.TagCount)-1))
	c.time = r.Uint32() >> r.IntN(32)
	c.boot = r.Uint32() >> r.IntN(32)
	c.layout = uint8(r.IntN(len(craft.Layouts) + 2))
	for i := range c.decimals {
		if c.decimals[i] = uint8(r.IntN(6)); r.IntN(8) == 0 {
			c.decimals[i] = uint8(r.IntN(12))
		}
	}
	c.drawText(r)
	n := len(numeric[c.tag])
	switch {
	case c.tag == decode.Hello:
		n = 0
	case c.perMotor():
		n = r.IntN(decode.MaxMotors + 1)
	}
	c.v = c.v[:n]
	for i := range c.v {
		c.v[i] = drawValue(r, &numeric[c.tag][i], c.places(i))
	}
}

func (c *call) drawText(r *rand.Rand) {
	most := 50
	if c.tag == decode.Note {
		most = 260
	}
	c.text = c.text[:r.IntN(most)]
	for i := range c.text {
		switch {
		case c.tag == decode.Set && r.IntN(200) > 0:
			c.text[i] = "abcdefghijklmnopqrstuvwxyz0123456789_-"[r.IntN(38)]
		case r.IntN(10) == 0:
			c.text[i] = byte(1 + r.IntN(255))
		default:
			c.text[i] = byte(0x20 + r.IntN(0x5F))
		}
	}
}

func drawValue(r *rand.Rand, f *decode.Field, places uint8) int32 {
	scale := math.Pow10(int(min(places, maxDecimals)))
	low, high := max(f.Min*scale, -math.MaxInt32), min(f.Max*scale, math.MaxInt32)
	switch r.IntN(10) {
	case 0:
		return none
	case 1:
		return int32(r.Uint32()) >> r.IntN(32)
	case 2:
		return clip(low + float64(r.IntN(3)-1))
	case 3:
		return clip(high + float64(r.IntN(3)-1))
	case 4:
		return int32(r.IntN(3) - 1)
	}
	if f.Unbounded() {
		return int32(r.Uint32())
	}
	return clip(low + math.Floor(r.Float64()*(high-low+1)))
}

func clip(v float64) int32 { return int32(max(math.MinInt32, min(math.MaxInt32, v))) }
