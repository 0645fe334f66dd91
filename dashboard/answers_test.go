package dashboard

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestAnswersAreTakenOut(t *testing.T) {
	cases := []struct {
		name  string
		reads []string
		want  string
		n     int
	}{
		{"keys", []string{"a6q"}, "a6q", 0},
		{"an answer", []string{answer}, "", 1},
		{"between keys", []string{"a" + answer + "b"}, "ab", 1},
		{"several", []string{answer + answer, answer}, "", 3},
		{"torn everywhere", []string{"\x1b", "[", "0", "n"}, "", 1},
		{"torn, keys around", []string{"x\x1b[", "0ny"}, "xy", 1},
		{"Escape before one", []string{"\x1b" + answer}, "\x1b", 1},
		{"Escape Escape, torn", []string{"\x1b", "\x1b", "[0n"}, "\x1b", 1},
		{"arrows", []string{"\x1b[A\x1b[B" + answer + "\x1bOP"}, "\x1b[A\x1b[B\x1bOP", 1},
		{"a mouse", []string{"\x1b[<0;10;20M" + answer + "\x1b[<0;10;20m"}, "\x1b[<0;10;20M\x1b[<0;10;20m", 1},
		{"another report", []string{"\x1b[3n\x1b[00n\x1b[0;1n\x1b[?0n\x1b[10n\x1b[n"}, "\x1b[3n\x1b[00n\x1b[0;1n\x1b[?0n\x1b[10n\x1b[n", 0},
		{"begun and broken off", []string{"\x1b[0", "A"}, "\x1b[0A", 0},
		{"an answer inside a broken one", []string{"\x1b[0" + answer + "n"}, "\x1b[0n", 1},
		{"held at the end", []string{"a\x1b[0"}, "a", 0},
		{"no keyboard's control", []string{"\x9b0n"}, "\x9b0n", 0},
		{"letters of other tongues", []string{"ä世" + answer + "é"}, "ä世é", 1},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			var a answers
			var out []byte
			all := 0
			for _, r := range c.reads {
				var n int
				out, n = a.sift(out, []byte(r))
				all += n
			}
			assert.Equal(t, c.want, string(out))
			assert.Equal(t, c.n, all)
		})
	}
}

// What was released because nothing followed is not given twice, and its rest is
// none of the keyboard's until it is forgotten.
func TestReleasedAnswer(t *testing.T) {
	var a answers
	out, _ := a.sift(nil, []byte("\x1b"))
	assert.Empty(t, out)
	assert.True(t, a.holds())
	out = a.release(nil)
	assert.Equal(t, "\x1b", string(out))
	assert.False(t, a.holds())
	assert.Empty(t, a.release(nil))
	out, n := a.sift(nil, []byte("[0n"))
	assert.Empty(t, out)
	assert.Equal(t, 1, n)

	_, _ = a.sift(nil, []byte("\x1b"))
	a.forget() // nothing was released: it stays
	assert.True(t, a.holds())
	a.release(nil)
	a.forget()
	out, n = a.sift(nil, []byte("[0n"))
	assert.Equal(t, "[0n", string(out))
	assert.Zero(t, n)

	_, _ = a.sift(nil, []byte("\x1b["))
	a.release(nil)
	out, n = a.sift(nil, []byte("0n"))
	assert.Equal(t, "0n", string(out), "whoever reads has its begin")
	assert.Zero(t, n)

	_, _ = a.sift(nil, []byte("\x1b"))
	a.release(nil)
	out, _ = a.sift(nil, []byte("["))
	assert.Empty(t, out)
	out, _ = a.sift(nil, []byte("A"))
	assert.Equal(t, "[A", string(out))
}

// Whatever comes in whatever pieces: what goes through is the input without the
// sequence, and nothing else.
func FuzzAnswers(f *testing.F) {
	f.Add([]byte("a\x1b[0nb"), uint8(1))
	f.Add([]byte("\x1b\x1b[0\x1b[0n\x1b[A"), uint8(2))
	f.Add([]byte("\x1b[0\x1b[0nn"), uint8(3))
	f.Fuzz(func(t *testing.T, in []byte, step uint8) {
		var a answers
		var out []byte
		all := 0
		for rest := in; len(rest) > 0; {
			k := min(int(step%7)+1, len(rest))
			var n int
			out, n = a.sift(out, rest[:k])
			all, rest = all+n, rest[k:]
		}
		out = a.release(out)
		require.Equal(t, string(bytes.ReplaceAll(in, []byte(answer), nil)), string(out))
		require.Equal(t, strings.Count(string(in), answer), all)
	})
}
