package spoil_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/simulator/spoil"
)

func TestParse(t *testing.T) {
	for _, c := range []struct {
		text string
		want spoil.Fault
	}{
		{"flipped-bits", spoil.Fault{Kind: spoil.FlippedBits, Value: 1e-4, To: spoil.Never}},
		{"lost-bytes=0.25", spoil.Fault{Kind: spoil.LostBytes, Value: 0.25, To: spoil.Never}},
		{"held-up=250@1.5", spoil.Fault{Kind: spoil.HeldUp, Value: 250, From: 1_500_000, To: spoil.Never}},
		{"clock-drift=-500@2-7", spoil.Fault{Kind: spoil.ClockDrift, Value: -500, From: 2_000_000, To: 7_000_000}},
		{"restart", spoil.Fault{Kind: spoil.Restart, Value: 0.5, From: 10_000_000, To: spoil.Never}},
		{"clock-step=-200@0", spoil.Fault{Kind: spoil.ClockStep, Value: -200, To: spoil.Never}},
	} {
		got, err := spoil.Parse(c.text)
		require.NoError(t, err, c.text)
		assert.Equal(t, c.want, got, c.text)
		again, err := spoil.Parse(got.String())
		require.NoError(t, err, got.String())
		assert.Equal(t, got, again)
	}
	for text, says := range map[string]string{
		"":                       `no fault is called ""`,
		"rain":                   `no fault is called "rain"`,
		"lost-bytes=":            "is no number",
		"lost-bytes=much":        "is no number",
		"lost-bytes=NaN":         "is no number",
		"lost-bytes=1.5":         "the value lies within 0 to 1 (chance a byte)",
		"wrong-baud=0.01":        "within 0.0625 to 16",
		"lost-bytes@":            `the time ""`,
		"lost-bytes@-5":          `the time ""`,
		"lost-bytes@5-":          `the time ""`,
		"lost-bytes@5-4":         "it ends before it begins",
		"lost-bytes@2000000":     "within 0 to 1e+06 s",
		"unplugged=2@3-4":        "unplugged=2@3-4: it happens at one moment",
		"lost-bytes=0.1@1e999-2": "is no number",
		"lost-bytes=0x1p-4@1":    "is no number",
		"flipped-bits=0.1@1-2-3": "is no number",
	} {
		_, err := spoil.Parse(text)
		assert.ErrorContains(t, err, says, text)
	}
}

// FuzzParse: whatever is read lies within its bounds, and is read again from what
// it writes.
func FuzzParse(f *testing.F) {
	for k := range spoil.KindCount {
		f.Add(k.String())
		f.Add(k.String() + "=1@2-3")
	}
	f.Add("clock-step=-1e3@0.000001")
	f.Add("lost-bytes=@-")
	f.Fuzz(func(t *testing.T, text string) {
		got, err := spoil.Parse(text)
		if err != nil {
			return
		}
		a := got.Kind.About()
		if got.Value < a.Least || got.Value > a.Most || got.From < 0 || got.To <= got.From {
			t.Fatalf("%q: %+v is out of bounds", text, got)
		}
		again, err := spoil.Parse(got.String())
		if err != nil || again != got {
			t.Fatalf("%q: %+v is written %s and read %+v, %v", text, got, got, again, err)
		}
	})
}
