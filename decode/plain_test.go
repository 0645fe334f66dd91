package decode

import (
	"bytes"
	"errors"
	"fmt"
	"math/big"
	"math/rand/v2"
	"os"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A decoder as plain as PROTOCOL.md: texts cut at commas, expressions for its
// grammar, strconv for its numbers, the checksum a bit at a time. It shares the
// field table with the real one, which format_test.go and protocol_test.go hold
// against the page, and nothing else.
var (
	plainTag   = regexp.MustCompile(`^[a-z]{1,8}$`)
	plainCount = regexp.MustCompile(`^[0-9]+$`)
	plainNum   = regexp.MustCompile(`^-?[0-9]+(\.[0-9]+)?$`)
	plainWord  = regexp.MustCompile(`^[a-z0-9_-]+$`)
)

type plainFault struct {
	cause Cause
	field string
}

// plainDecode returns nil for a good line. ok is false for a blank line and one
// of the host.
func plainDecode(text string, s *Sample) (fault *plainFault, ok bool) {
	long := len(text)+1 > 240
	text = strings.TrimSuffix(text, "\r")
	if text == "" || text[0] == '#' {
		return nil, false
	}
	if long {
		return &plainFault{TooLong, ""}, true
	}
	for _, c := range []byte(text) {
		if c < 0x20 || c > 0x7E {
			return &plainFault{BadByte, ""}, true
		}
	}
	star := strings.LastIndex(text, "*")
	if star < 0 {
		return &plainFault{NoChecksum, ""}, true
	}
	body := text[:star]
	if fmt.Sprintf("%08X", bitwise([]byte(body))) != text[star+1:] {
		return &plainFault{BadChecksum, ""}, true
	}
	if strings.Contains(body, "*") {
		return &plainFault{StrayStar, ""}, true
	}
	return plainBody(body, s), true
}

func plainBody(body string, s *Sample) *plainFault {
	parts := strings.Split(body, ",")
	if !plainTag.MatchString(parts[0]) || len(parts) < 2 {
		return &plainFault{BadHeader, "tag"}
	}
	seq, ok := plainUint(parts[1], 16)
	if !ok || len(parts) < 3 {
		return &plainFault{BadHeader, "seq"}
	}
	time, ok := plainUint(parts[2], 32)
	if !ok {
		return &plainFault{BadHeader, "time"}
	}
	s.Seq, s.Time = uint16(seq), uint32(time)
	tag, known := TagNamed(parts[0])
	if !known {
		s.Word = []byte(parts[0])
		return nil
	}
	s.Tag = tag
	parts = parts[3:]
	for i, f := range Fields(tag) {
		if i >= len(parts) {
			break
		}
		text := parts[i]
		if f.Kind == Rest {
			text = strings.Join(parts[i:], ",")
		}
		if text == "" {
			continue
		}
		if cause := plainField(f, text, s); cause < CauseCount {
			return &plainFault{cause, f.Name}
		}
	}
	return nil
}

func plainUint(text string, bits int) (uint64, bool) {
	v, err := strconv.ParseUint(text, 10, bits)
	return v, err == nil && plainCount.MatchString(text)
}

func plainField(f Field, text string, s *Sample) Cause {
	switch f.Kind {
	case Word:
		if !plainWord.MatchString(text) || f.Words != nil && !slices.Contains(f.Words, text) {
			return BadWord
		}
		s.Word = []byte(text)
		return CauseCount
	case Text, Rest:
		s.Text = []byte(text)
		return CauseCount
	}
	if !plainNum.MatchString(text) || f.Kind != Number && strings.Contains(text, ".") {
		return BadNumber
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return BadNumber
	}
	exact, _ := new(big.Rat).SetString(text) // what is over a limit by less than v can show is over it
	below := func(limit float64) bool { return exact.Cmp(new(big.Rat).SetFloat64(limit)) < 0 }
	above := func(limit float64) bool { return exact.Cmp(new(big.Rat).SetFloat64(limit)) > 0 }
	out := !f.Unbounded() && (below(f.Min) || above(f.Max)) || f.Even && int64(v)%2 != 0
	if out && !(v == 0 && f.OrZero) {
		if f.Name == "protocol" {
			return OtherVersion
		}
		return OutOfRange
	}
	s.Put(f.Slot, v+0) // minus zero is zero
	return CauseCount
}

// plainMutated is how many lines TestPlain tries; TETHERBELL_PLAIN may ask for
// more.
const plainMutated = 1_000_000

// The decoder and the plain one agree on a million lines that came to harm and
// got a fitting checksum after it, one in eight without: on what is good, on
// every bit of every value, and on why the others are refused.
func TestPlain(t *testing.T) {
	lines := plainMutated
	if text := os.Getenv("TETHERBELL_PLAIN"); text != "" {
		var err error
		lines, err = strconv.Atoi(text)
		require.NoError(t, err)
	}
	h := newHarm(rand.New(rand.NewPCG(11, 12)))
	var d Decoder
	var counts [CauseCount + 1]int
	for n := range lines {
		cause := comparePlain(t, &d, plainLine(h, n))
		counts[cause]++
		if t.Failed() {
			return
		}
	}
	for c, n := range counts[:CauseCount] {
		assert.GreaterOrEqual(t, n, lines/20_000, "%v must be tried", Cause(c))
	}
	assert.Greater(t, counts[CauseCount], lines/10, "good lines must be tried")
}

// plainLine makes a line of the pool, changes it in some places and seals it.
func plainLine(h *harm, n int) []byte {
	rng := h.rng
	line := bytes.TrimSuffix(bytes.Clone(h.any()), []byte("\n"))
	if n%8 == 0 && len(line) > 0 {
		line[rng.IntN(len(line))] ^= 1 << rng.IntN(8)
		return line
	}
	body := line[:len(line)-sumLen]
	for range rng.IntN(4) {
		i := rng.IntN(len(body) + 1)
		switch rng.IntN(8) {
		case 0: // digits more
			body = slices.Insert(body, i, fmt.Append(nil, rng.Uint64N(1<<rng.IntN(64)))...)
		case 1:
			body = slices.Insert(body, i, ",.-0*+e _"[rng.IntN(9)])
		case 2:
			body = slices.Insert(body, i, bytes.Repeat([]byte{'0'}, rng.IntN(24))...)
		case 3:
			body = append(body, fmt.Appendf(nil, ",%.*f", rng.IntN(12), rng.NormFloat64()*1000)...)
		case 4:
			body = slices.Delete(body, i, min(len(body), i+1+rng.IntN(3)))
		case 5: // a number cut after so many signs, or joined with the next
			if k := bytes.IndexByte(body[min(i, len(body)):], ','); k >= 0 {
				body = slices.Delete(body, i+k, i+k+1)
			}
		default:
			if i < len(body) {
				body[i] = "0123456789,.-"[rng.IntN(13)]
			}
		}
	}
	if rng.IntN(50) == 0 {
		body = append(body, bytes.Repeat([]byte{','}, 120)...)
	}
	if rng.IntN(500) == 0 && len(body) > 0 {
		body[rng.IntN(len(body))] = byte(rng.IntN(256))
	}
	line = bytes.TrimSuffix(AppendChecksum(body, 0), []byte("\n"))
	if rng.IntN(20) == 0 {
		line = append(line, '\r')
	}
	if rng.IntN(200) == 0 {
		line = bytes.ReplaceAll(line, []byte("*"), nil)
	}
	return line
}

// comparePlain returns the cause, CauseCount for a good line.
func comparePlain(t *testing.T, d *Decoder, line []byte) Cause {
	var got, want Sample
	err := d.Decode(line, &got)
	fault, ok := plainDecode(string(line), &want)
	var e *LineError
	switch {
	case !ok:
		if !errors.Is(err, ErrBlank) && !errors.Is(err, ErrHost) {
			t.Errorf("%q: %v", line, err)
		}
	case fault == nil:
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%q: %v\n%+v, want\n%+v", line, err, got, want)
		}
	case !errors.As(err, &e) || e.Cause != fault.cause || e.Field != fault.field || !reflect.DeepEqual(got, Sample{}):
		t.Errorf("%q: %v, %+v, want %v in %q", line, err, got, fault.cause, fault.field)
	default:
		return fault.cause
	}
	return CauseCount
}
