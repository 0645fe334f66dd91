package craft

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var threeArms = []Arm{{60, 120, true}, {180, 120, false}, {300, 120, true}}

// arms is the text of so many of threeArms, four lines each.
func arms(n int) string {
	var b strings.Builder
	for i := range n {
		a := threeArms[i%3]
		fmt.Fprintf(&b, "[[arm]]\nbearing_deg = %g\nlength_mm = %g\nclockwise = %v\n", a.BearingDeg+float64(i/3*30), a.LengthMM, a.Clockwise)
	}
	return b.String()
}

// accepted is a session whose recording has a checksum of its own.
func accepted(n int) Session {
	return Session{File: fmt.Sprintf("%d.bell", n), Checksum: fmt.Sprintf("%064x", n), Seconds: 9.5, Output: 0.34,
		Shares: []float64{1.02, 0.97, 1.14, 0.87}, Spreads: []float64{0.01, 0.012, 0, 0.02}}
}

func TestExampleShowsAnArm(t *testing.T) {
	_, text, ok := strings.Cut(string(Example()), "#   [[arm]]\n")
	require.True(t, ok)
	text = "[[arm]]\n" + strings.ReplaceAll(text, "#   ", "")
	first := "layout = \"custom\"\n" + text
	for _, more := range []string{"135", "225"} {
		first += strings.Replace(text, "= 45 ", "= "+more+" ", 1)
	}
	c, err := Parse([]byte(first))
	require.NoError(t, err)
	assert.Len(t, c.Arms, 3)
	assert.Equal(t, Arm{45, 158, false}, c.Arms[0])
}

func TestBaselineGoesRound(t *testing.T) {
	for _, b := range []Baseline{{}, {Name: "Marsh Heron"}, {Name: `Lough "Marra" 7`, Sessions: []Session{accepted(1), accepted(2)}}} {
		text, err := b.Text()
		require.NoError(t, err)
		got, err := ParseBaseline(text)
		require.NoError(t, err, string(text))
		assert.Equal(t, b, got)
		got, err = ParseBaseline(append([]byte("\xEF\xBB\xBF"), text...)) // as some editors leave it
		require.NoError(t, err)
		assert.Equal(t, b, got)
	}
	b := Baseline{Sessions: []Session{accepted(1)}}
	assert.True(t, b.Has(accepted(1).Checksum))
	assert.False(t, b.Has(accepted(2).Checksum))
	assert.Equal(t, "x/heron.baseline.toml", BaselinePath("x/heron.toml"))
	assert.Equal(t, "heron.baseline.toml", BaselinePath("heron"))
}

func TestParseBaselineRefuses(t *testing.T) {
	good, err := Baseline{Sessions: []Session{accepted(1), accepted(2)}}.Text()
	require.NoError(t, err)
	change := func(old, by string) string {
		require.Contains(t, string(good), old)
		return strings.Replace(string(good), old, by, 1)
	}
	for _, c := range []struct{ name, text, key, says string }{
		{"unknown key", change("seconds =", "minutes ="), "session.minutes", "no such key"},
		{"no number", change("output = 0.34", "output = nan"), "session.1.output", "NaN"},
		{"output over one", change("output = 0.34", "output = 1.34"), "session.1.output", "1.34"},
		{"no output", change("output = 0.34\n", ""), "session.1.output", "0 is not"},
		{"too short", change("seconds = 9.5", "seconds = 0.5"), "session.1.seconds", "0.5"},
		{"shares off one", change("1.14", "1.24"), "session.1.shares", "average 1"},
		{"share under zero", change("1.02, 0.97", "-0.02, 2.01"), "session.1.shares", "-0.02"},
		{"endless share", change("1.02", "inf"), "session.1.shares", "+Inf"},
		{"spread under zero", change("0.012", "-0.012"), "session.1.spreads", "-0.012"},
		{"a spread too few", change("0.012, ", ""), "session.1.spreads", "3 spreads for 4 shares"},
		{"two motors", "[[session]]\nseconds = 9\noutput = 0.3\nshares = [1, 1]\nspreads = [0, 0]", "session.1.shares", "2 motors"},
		{"other motors than before", string(good) + "[[session]]\nseconds = 9\noutput = 0.3\nshares = [1, 1, 1]\nspreads = [0, 0, 0]", "session.3.shares", "3 motors, but 4"},
		{"the same recording twice", change(accepted(2).Checksum, accepted(1).Checksum), "session.2.checksum", "twice"},
		{"no checksum", change(accepted(1).Checksum, "12"), "session.1.checksum", "64 hexadecimal"},
		{"name with an escape", `name = "a\u001b[31m"`, "name", "printable"},
		{"file with an escape", change("'1.bell'", `"\u001b"`), "session.1.file", "file's name"},
		{"large", strings.Repeat("# bog\n", 12_000), "", "64 KiB"},
		{"noise", "\x00\x01", "", "accept writes"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b, err := ParseBaseline([]byte(c.text))
			var fe *FieldError
			require.ErrorAs(t, err, &fe)
			assert.Equal(t, Baseline{}, b)
			assert.Equal(t, c.key, fe.Key)
			assert.Contains(t, err.Error(), c.says)
			assert.Contains(t, err.Error(), "read baseline")
			if c.key != "" {
				assert.Positive(t, fe.Line)
			}
		})
	}
	var many Baseline
	for i := range MaxSessions + 1 {
		many.Sessions = append(many.Sessions, accepted(i+1))
	}
	text, err := many.Text()
	require.NoError(t, err)
	_, err = ParseBaseline(text)
	require.ErrorContains(t, err, "31 sessions, at most 30")
}

// The line of what is wrong is that of its own session.
func TestBaselineErrorHasItsLine(t *testing.T) {
	text, err := Baseline{Sessions: []Session{accepted(1), accepted(2)}}.Text()
	require.NoError(t, err)
	lines := strings.Split(string(text), "\n")
	last := 0
	for i, l := range lines {
		if strings.HasPrefix(l, "output") {
			last = i
		}
	}
	lines[last] = "output = 3"
	_, err = ParseBaseline([]byte(strings.Join(lines, "\n")))
	var fe *FieldError
	require.ErrorAs(t, err, &fe)
	assert.Equal(t, last+1, fe.Line)
	assert.Equal(t, "session.2.output", fe.Key)
}

func TestChoose(t *testing.T) {
	heron, other := Baseline{Name: "Marsh Heron", Sessions: []Session{accepted(1)}}, Baseline{Name: "Other", Sessions: []Session{accepted(2)}}
	for _, c := range []struct {
		name  string
		craft Craft
		want  Baseline
	}{
		{"by name", Craft{Name: "Other", Known: []Baseline{heron, other}}, other},
		{"none of that name", Craft{Name: "Third", Known: []Baseline{heron, other}}, Baseline{}},
		{"no name", Craft{Known: []Baseline{heron}}, Baseline{}},
		{"its own goes first", Craft{Name: "Other", Baseline: heron, Known: []Baseline{other}}, heron},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.craft.Choose()
			assert.Equal(t, c.want, c.craft.Baseline)
		})
	}
}

// FuzzParseBaseline: no text makes it panic, and what it takes goes through
// its own text and JSON unchanged.
func FuzzParseBaseline(f *testing.F) {
	text, err := Baseline{Name: "x", Sessions: []Session{accepted(1)}}.Text()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text)
	f.Add([]byte("session = [{}]"))
	f.Fuzz(func(t *testing.T, text []byte) {
		b, err := ParseBaseline(text)
		if err != nil {
			return
		}
		again, err := b.Text()
		if err != nil {
			t.Fatal(err)
		}
		if c, err := ParseBaseline(again); err != nil || len(c.Sessions) != len(b.Sessions) {
			t.Fatalf("%s: %v", again, err)
		}
		if err := (Craft{Baseline: b}).Check(); err != nil {
			t.Fatal(err)
		}
	})
}

// A craft file may not be large enough to hold a baseline at its largest by
// chance: the largest one that accept writes is read again.
func TestLargestBaselineIsRead(t *testing.T) {
	var b Baseline
	b.Name = strings.Repeat("n", maxName)
	for i := range MaxSessions {
		s := accepted(i + 1)
		s.File = strings.Repeat("f", 255)
		s.Shares, s.Spreads = nil, nil
		for range MaxMotors {
			s.Shares, s.Spreads = append(s.Shares, 1.0001), append(s.Spreads, 0.12345)
		}
		b.Sessions = append(b.Sessions, s)
	}
	text, err := b.Text()
	require.NoError(t, err)
	got, err := ParseBaseline(text)
	require.NoError(t, err)
	assert.Len(t, got.Sessions, MaxSessions)
}
