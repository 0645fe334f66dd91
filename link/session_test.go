package link

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const small = `#session {"tool":"tetherbell","baud":115200,"craft":{"name":"Marsh Heron"}}
hello,0,0,1,bench-1,42*A1C42CDB
#at 0.100
#wire #not the host
#ack rising-oscillation pitch
#mark tether hooked, area clear
#pause 12.5
#alarm {"t":1}
#lost 7
#whatever this is
note,1,20,x*00000000` + "\r" + `

#end {"lines":1}
torn li`

type seen struct {
	kind Kind
	text string
}

func readAll(t testing.TB, r io.Reader) ([]seen, *Session, error) {
	t.Helper()
	s := NewSession(r)
	var got []seen
	var it Item
	for {
		err := s.Next(&it)
		if err != nil {
			return got, s, err
		}
		got = append(got, seen{it.Kind, string(it.Line)})
	}
}

var smallItems = []seen{
	{Header, `{"tool":"tetherbell","baud":115200,"craft":{"name":"Marsh Heron"}}`},
	{Wire, "hello,0,0,1,bench-1,42*A1C42CDB"},
	{At, "0.100"},
	{Wire, "#not the host"},
	{Ack, "rising-oscillation pitch"},
	{Mark, "tether hooked, area clear"},
	{Pause, "12.5"},
	{Alarm, `{"t":1}`},
	{Lost, "7"},
	{Other, "this is"},
	{Wire, "note,1,20,x*00000000\r"},
	{Wire, ""},
	{End, `{"lines":1}`},
}

func TestSessionReadsEveryWay(t *testing.T) {
	for name, wrap := range map[string]func(io.Reader) io.Reader{
		"at once":      func(r io.Reader) io.Reader { return r },
		"one byte":     iotest.OneByteReader,
		"half":         iotest.HalfReader,
		"data and err": iotest.DataErrReader,
	} {
		t.Run(name, func(t *testing.T) {
			got, s, err := readAll(t, wrap(strings.NewReader(small)))
			assert.Equal(t, io.EOF, err)
			assert.Equal(t, smallItems, got)
			assert.Equal(t, len("torn li"), s.Torn())
			assert.EqualValues(t, len(small), s.Bytes())
		})
	}
}

func TestSessionCutAtEveryByte(t *testing.T) {
	whole, _, _ := readAll(t, strings.NewReader(small))
	for n := range len(small) {
		got, s, err := readAll(t, strings.NewReader(small[:n]))
		require.Equal(t, io.EOF, err)
		require.Equal(t, strings.Count(small[:n], "\n"), len(got))
		require.Equal(t, whole[:len(got)], append([]seen{}, got...), "cut at %d", n)
		require.Equal(t, n-(strings.LastIndexByte(small[:n], '\n')+1), s.Torn())
	}
}

func TestSessionReaderFails(t *testing.T) {
	got, _, err := readAll(t, iotest.TimeoutReader(iotest.OneByteReader(strings.NewReader("a\nb\n"))))
	assert.ErrorIs(t, err, iotest.ErrTimeout)
	assert.Empty(t, got)
	boom := errors.New("disk gone")
	_, _, err = readAll(t, iotest.ErrReader(boom))
	assert.ErrorIs(t, err, boom)
	_, _, err = readAll(t, stuck{})
	assert.ErrorIs(t, err, io.ErrNoProgress)
}

type stuck struct{}

func (stuck) Read([]byte) (int, error) { return 0, nil }

func TestParseItem(t *testing.T) {
	cases := []struct {
		in   string
		kind Kind
		ms   int64
	}{
		{"#at 0", At, 0},
		{"#at 12.340", At, 12340},
		{"#at 12.3409", At, 12340},
		{"#at 12.34\r", At, 12340},
		{"#at 1.", Other, 0},
		{"#at -1", Other, 0},
		{"#at +1", Other, 0},
		{"#at 1e3", Other, 0},
		{"#at .5", Other, 0},
		{"#at 1.x", Other, 0},
		{"#at", Other, 0},
		{"#at 99999999999999999999", Other, 0},
		{"#at 1 2", Other, 0},
		{"#pause 60", Pause, 60000},
		{"#ack x", Other, 0},
		{"#ack  y", Other, 0},
		{"#ack tip-over roll", Ack, 0},
		{"#lost", Other, 0},
		{"#lost 18446744073709551616", Other, 0},
		{"#AT 1", Other, 0},
		{"#", Other, 0},
		{"#wire", Other, 0},
		{"#wire at 1", Other, 0}, // not from the wire: cannot pose as it
		{"#wire #at 1", Wire, 0},
		{" #at 1", Wire, 0},
		{"", Wire, 0},
	}
	for _, c := range cases {
		t.Run(c.in, func(t *testing.T) {
			var it Item
			ParseItem([]byte(c.in), &it)
			assert.Equal(t, c.kind, it.Kind)
			if c.kind == At || c.kind == Pause {
				assert.Equal(t, c.ms, it.MS)
			}
		})
	}
	var it Item
	ParseItem([]byte("#ack output-imbalance m1+m3\r"), &it)
	assert.Equal(t, "output-imbalance", string(it.Alarm))
	assert.Equal(t, "m1+m3", string(it.Where))
}

func TestParseHeader(t *testing.T) {
	h, ok := ParseHeader([]byte(`{"tool":"tetherbell","version":3,"baud":"fast","source":"x","later":{"a":1},"craft":{"mass_g":655}}`))
	assert.True(t, ok)
	assert.Equal(t, "tetherbell", h.Tool)
	assert.Empty(t, h.Version)
	assert.Zero(t, h.Baud)
	assert.JSONEq(t, `{"mass_g":655}`, string(h.Craft))
	for _, bad := range []string{"", "null", "[1]", "{", "7", `"x"`} {
		_, ok := ParseHeader([]byte(bad))
		assert.False(t, ok, bad)
	}
	h, ok = ParseHeader([]byte(`{"baud":-5}`))
	assert.True(t, ok)
	assert.Zero(t, h.Baud)
}

func TestOpenRecording(t *testing.T) {
	dir := t.TempDir()
	fault := func(path string) Fault {
		_, err := OpenRecording(path)
		var oe *OpenError
		require.ErrorAs(t, err, &oe)
		return oe.Fault
	}
	assert.Equal(t, Directory, fault(dir))
	assert.Equal(t, Missing, fault(filepath.Join(dir, "none.bell")))
	if _, err := os.Stat("/dev/zero"); err == nil {
		assert.Equal(t, NotRecording, fault("/dev/zero"))
	}
	_, err := OpenRecording(filepath.Join(dir, "none.bell"))
	assert.EqualError(t, err, "open recording "+filepath.Join(dir, "none.bell")+": no such file")
}

func FuzzSession(f *testing.F) {
	f.Add([]byte(small))
	f.Add([]byte("\x7fELF\x02\x01\x01\x00\x00\n\n\x00"))
	f.Add([]byte("#bridge 1 0.000001\nx\n#bridge 2 7\n#bridge 9 1\n#bridge 1\ny\n"))
	f.Add([]byte("#at 1\n#at 0.5\n#wire #wire #at 3\n#session {\n"))
	f.Add([]byte("hello,0,0,1,bench-1,42*A1C42CDB"))
	f.Add([]byte(strings.Repeat("z", 1000) + "\n#mark \r\r\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		got, s, err := readAll(t, strings.NewReader(string(data)))
		if err != io.EOF {
			t.Fatal(err)
		}
		one, _, _ := readAll(t, iotest.OneByteReader(strings.NewReader(string(data))))
		if len(one) != len(got) {
			t.Fatalf("%d lines at once, %d byte by byte", len(got), len(one))
		}
		for i := range got {
			if got[i] != one[i] {
				t.Fatalf("line %d: %q at once, %q byte by byte", i, got[i].text, one[i].text)
			}
		}
		if n := strings.Count(string(data), "\n"); n != len(got) {
			t.Fatalf("%d line feeds, %d lines", n, len(got))
		}
		if s.Torn() > len(data) {
			t.Fatalf("torn %d of %d bytes", s.Torn(), len(data))
		}
		// What is recorded of the wire reads back as it was heard.
		mem := &memFile{}
		r := &Recorder{f: mem, wake: make(chan struct{}, 1)}
		var wire []string
		for _, g := range got {
			if g.kind == Wire {
				wire = append(wire, g.text)
				r.Line([]byte(g.text))
			}
		}
		back, _, _ := readAll(t, strings.NewReader(string(r.queue)))
		for i, b := range back {
			if b.kind != Wire || b.text != wire[i] {
				t.Fatalf("recorded %q, read back %q as kind %d", wire[i], b.text, b.kind)
			}
		}
	})
}
