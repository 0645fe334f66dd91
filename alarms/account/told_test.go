package account

import (
	"fmt"
	"math"
	"reflect"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
	"tetherbell/decode/craft"
)

// said writes one change as a recording keeps it.
func said(at float64, alarm, change, priority, where string, value, limit float64, text, more string) []byte {
	return fmt.Appendf(nil, `{"t":%.3f,"alarm":%q,"change":%q,"priority":%q,"where":%q,"value":%g,"limit":%g,"text":%q,"detail":{"unit":"1"%s}}`,
		at, alarm, change, priority, where, value, limit, text, more)
}

// A life goes from raise to clear; its text, cause and value are those of its
// worst moment, its priority the highest.
func TestLives(t *testing.T) {
	var k told
	for _, s := range [][]byte{
		said(1, "output-imbalance", "raised", "low", "m3", 0.21, 0.2, "a bit", `,"cause":"mixed","action":"check m3","first":true`),
		said(2, "output-imbalance", "worsened", "medium", "m3", 0.3, 0.25, "more", `,"cause":"weight","action":"move it"`),
		said(2.5, "pack-sag", "raised", "medium", "pack", 3.45, 3.5, "sags", ""),
		said(3, "output-imbalance", "eased", "low", "m3", 0.22, 0.2, "less", ""),
		said(3.5, "output-imbalance", "acknowledged", "low", "m3", 0.22, 0.2, "noted", ""),
		said(4, "output-imbalance", "cleared", "low", "m3", 0.1, 0.2, "gone", ""),
		said(5, "pack-sag", "worsened", "high", "pack", 3.2, 3.3, "sags more", ""),
		said(6, "output-imbalance", "raised", "low", "m3", 0.2, 0.2, "again", ""),
	} {
		require.True(t, k.take(s), string(s))
	}
	for _, s := range []string{"", "{}", `{"alarm":"no-such","change":"raised","priority":"low","where":"m1"}`,
		`{"alarm":"pack-sag","change":"burnt","priority":"low","where":"pack"}`, `{"alarm":"pack-sag","change":"raised","priority":"none","where":"pack"}`,
		`{"alarm":"pack-sag","change":"raised","priority":"low","where":"moon"}`} {
		assert.False(t, k.take([]byte(s)), s)
	}
	assert.Equal(t, []Alarm{
		{At: 1, Until: ptr(4.0), Acknowledged: ptr(3.5), Name: "output-imbalance", Where: "m3", Priority: "medium", First: true,
			Value: 0.3, WorstAt: ptr(2.0), ValueAt: 2, Limit: 0.25, Unit: "1", Text: "more", Cause: "weight", Action: "move it"},
		{At: 2.5, Name: "pack-sag", Where: "pack", Priority: "high", Value: 3.2, WorstAt: ptr(5.0), ValueAt: 5, Reached: ptr(3.2), PassedAt: ptr(5.0), Limit: 3.3, Unit: "1", Text: "sags more"},
		{At: 6, Name: "output-imbalance", Where: "m3", Priority: "low", Value: 0.2, ValueAt: 6, Limit: 0.2, Unit: "1", Text: "again"},
	}, k.account())
	assert.Equal(t, detect.High, k.worst)
	assert.Equal(t, uint64(2), k.raised[detect.OutputImbalance])
}

// What is to be mended first is what explains the worst, or came first of the
// burst; what has nothing to do with it is not.
func TestWhatToFixFirst(t *testing.T) {
	for _, c := range []struct {
		name string
		said [][]byte
		fix  string
		why  string
	}{
		{"alone", [][]byte{
			said(1, "near-lift", "raised", "high", "craft", 6, 5, "lift", ""),
		}, "stay under", "lift, from 1.0 s on; when it rang 6, limit 5"},
		{"explained", [][]byte{
			said(1, "pack-sag", "raised", "low", "pack", 3.4, 3.5, "sags", ""),
			said(2, "settings-slip", "raised", "medium", "craft", 0.8, 0.2, "idle is 0.8", `,"action":"do not arm; correct idle_ready"`),
			said(3, "ground-thrust", "raised", "high", "craft", 0.8, 0.2, "thrust", ""),
		}, "correct idle_ready", "it explains ground-thrust at 3.0 s"},
		{"explained twice over", [][]byte{
			said(1, "rotor-lost", "raised", "high", "m2", 0.1, 0.7, "m2 stands", ""),
			said(1.2, "over-current", "raised", "high", "pack", 90, 60, "current", ""),
			said(2, "pack-sag", "raised", "high", "pack", 3.2, 3.3, "sags", ""),
		}, "check propeller, motor and drive of m2", "m2 stands"},
		{"first of the burst", [][]byte{
			said(1, "windup", "raised", "medium", "roll", 0.2, 0.15, "winds up", `,"first":true,"action":"throttle to zero lets it go; slack the tether"`),
			said(4, "near-lift", "raised", "high", "craft", 6, 5, "lift", ""),
		}, "slack the tether", "it came before near-lift at 4.0 s, and may be its cause"},
		{"the graver one, not the first", [][]byte{
			said(1, "output-imbalance", "raised", "high", "m3", 0.41, 0.4, "uneven", `,"first":true`),
			said(5, "reversed-response", "raised", "high", "pitch", -1, 0, "pitch is reversed", ""),
			said(9, "rising-oscillation", "raised", "high", "roll", 0.05, 0.1, "roll shakes", `,"action":"cut throttle"`),
		}, "lower the gains of roll", "then see to output-imbalance at m3, reversed-response at pitch"},
		{"a bad link, then none", [][]byte{
			said(1, "bad-link", "raised", "medium", "link", 0.08, 0.05, "bad lines", `,"first":true`),
			said(9, "stale-link", "raised", "high", "link", 0.4, 0.3, "silence", ""),
		}, "check cable", "it came before stale-link"},
		{"the first was over", [][]byte{
			said(1, "windup", "raised", "medium", "roll", 0.2, 0.15, "winds up", `,"first":true`),
			said(2, "windup", "cleared", "medium", "roll", 0.1, 0.15, "gone", ""),
			said(4, "near-lift", "raised", "high", "craft", 6, 5, "lift", ""),
		}, "stay under", "lift"},
		{"too long before", [][]byte{
			said(1, "windup", "raised", "medium", "roll", 0.2, 0.15, "winds up", `,"first":true`),
			said(40, "near-lift", "raised", "high", "craft", 6, 5, "lift", ""),
		}, "stay under", "lift"},
		{"a setting was changed", [][]byte{
			said(1, "settings-slip", "raised", "low", "craft", 10, 10, "rate_p_roll is ten times what it was", ""),
			said(30, "rising-oscillation", "raised", "high", "roll", 0.05, 0.1, "roll shakes", `,"action":"cut throttle"`),
		}, "lower the gains of roll", "before that: rate_p_roll is ten times"},
		{"of low ones the shake", [][]byte{
			said(1, "rotor-line", "raised", "low", "craft", 0.4, 1, "folds", ""),
			said(30, "low-margin", "raised", "low", "pitch", 0.02, 0.05, "pitch rings", `,"action":"lower the gains before you go on"`),
		}, "lower the gains of pitch: halve them, then come up in small steps", "pitch rings"},
		{"a slip of the point", [][]byte{
			said(1, "settings-slip", "raised", "low", "craft", 10, 10, "rate_p_roll went from 0.08 to 0.8 (10 times): the decimal point may have slipped", `,"action":"before you go on: read the number again, digit by digit"`),
		}, "correct the setting: rate_p_roll went from 0.08 to 0.8 (10 times); read the number again, digit by digit", "may have slipped"},
		{"an idle of too much", [][]byte{
			said(1, "settings-slip", "raised", "high", "craft", 0.8, 0.2, "idle_ready is 0.8 of full output: over 0.20 the motors pull at arming", `,"action":"before you go on: do not arm; write a share of 1, such as 0.05"`),
		}, "correct the setting: idle_ready is 0.8 of full output; write a share of 1, such as 0.05", "pull at arming"},
	} {
		t.Run(c.name, func(t *testing.T) {
			var k told
			for _, s := range c.said {
				require.True(t, k.take(s))
			}
			worst := k.gravest(k.lives[k.pick()].priority)
			fix, why := k.fix(worst, k.causeOf(worst))
			assert.Contains(t, fix, c.fix)
			assert.Contains(t, why, c.why)
		})
	}
	var k told
	require.True(t, k.take(said(30, "low-margin", "raised", "low", "pitch", 0.02, 0.05, "pitch rings", "")))
	set := []Setting{{Name: "rate_d_pitch"}, {Name: "rate_p_pitch"}, {Name: "rate_p_roll"}}
	assert.Equal(t, "; see rate_p_pitch, rate_d_pitch among the settings", k.gains(0, set))
	assert.Empty(t, k.gains(0, set[2:]))
	var notes told
	require.True(t, notes.take(said(1, "pressure-dip", "raised", "note", "craft", 1, 0.5, "dips", "")))
	assert.Equal(t, -1, notes.pick())
}

// What finds no room is counted and said.
func TestMoreThanIsListed(t *testing.T) {
	c := New(craft.Craft{}, 0)
	for i := range maxAlarms + 70 {
		require.True(t, c.Told(said(float64(i), "bad-link", "raised", "low", "link", 0.06, 0.05, "bad", "")))
		require.True(t, c.Told(said(float64(i)+0.5, "bad-link", "cleared", "low", "link", 0.01, 0.05, "gone", "")))
	}
	for range maxMarks + 3 {
		c.Mark("x")
	}
	a := c.Finish(Ending{Session: Session{Remarks: []string{"torn"}}})
	assert.Len(t, a.Alarms, maxAlarms)
	assert.Len(t, a.Marks, maxMarks)
	assert.Equal(t, uint64(maxAlarms+70), c.Raised()[detect.BadLink])
	assert.Equal(t, []string{"torn", "70 more alarms are not listed", "3 more marks are not listed"}, a.Session.Remarks)
}

// Figures keep nine digits, so that two processors tell the same; a time of hours
// keeps its milliseconds, and there is no minus nought.
func TestRound(t *testing.T) {
	v := struct {
		A float64
		B *float64
		C []float32
		D float64
		E *float64
	}{A: 12345.678, B: ptr(0.1 + 0.2), C: []float32{1.0 / 3}, D: math.Copysign(0, -1)}
	round(reflect.ValueOf(&v))
	assert.Equal(t, 12345.678, v.A)
	assert.Equal(t, 0.3, *v.B)
	assert.Equal(t, float32(0.333333), v.C[0])
	assert.False(t, math.Signbit(v.D))
}
