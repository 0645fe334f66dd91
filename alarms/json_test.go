package alarms

import (
	"bytes"
	"encoding/json"
	"math"
	"regexp"
	"strings"
	"testing"
	"unicode"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
)

func TestEventJSON(t *testing.T) {
	ev := Event{
		T: 17_412_000, Kind: detect.RisingOscillation, Change: Raised, Priority: detect.High, Where: detect.Pitch,
		Value: 0.034, Limit: 0.1, First: true, Since: 17_412_000,
		Story: detect.Story{Text: "pitch oscillates", Cause: "gains", Action: "cut throttle", Unit: "1",
			More: []detect.Fact{{Name: "frequency_hz", Value: 12.34567}, {Name: "good", Value: 3}, {Name: "known", Value: true}, {Name: "odd", Value: math.Inf(1)}}},
	}
	const body = `{"t":17.412,"alarm":"rising-oscillation","change":"raised","priority":"high","where":"pitch","value":0.034,"limit":0.1,` +
		`"text":"pitch oscillates","detail":{"unit":"1","cause":"gains","action":"cut throttle","frequency_hz":12.35,"good":3,"known":true,"odd":0,"first":true}`
	assert.Equal(t, body+"}", string(ev.AppendJSON(nil, "")))
	assert.Equal(t, "x"+body+`,"file":"a \"b\"\n.bell"}`, string(ev.AppendJSON([]byte("x"), "a \"b\"\n.bell")))

	ev.Change, ev.T, ev.First = Cleared, 20_912_000, false
	ev.Where = detect.M1 | detect.M3
	got := string(ev.AppendJSON(nil, ""))
	assert.Contains(t, got, `"change":"cleared","priority":"high","where":"m1+m3"`)
	assert.Contains(t, got, `"text":"rising-oscillation at m1+m3 is gone after 3.5 s"`)
	assert.Contains(t, got, `"lasted_s":3.5}}`)
	assert.NotContains(t, got, "first")
}

// TestNothingIsShorterThanNothing: times are rounded, and so is what lies
// between them.
func TestNothingIsShorterThanNothing(t *testing.T) {
	e := New(heron(), Options{})
	e.emit(Event{T: 1_000_400, Since: 1_000_400, Change: Cleared})
	assert.Contains(t, string(e.Events()[0].AppendJSON(nil, "")), `"lasted_s":0}`)
	assert.Contains(t, e.Events()[0].Sentence(), "after 0.0 s")
}

// TestNumbersAreDecimal: never an exponent, NaN or Inf, and no digits beyond
// what is known.
func TestNumbersAreDecimal(t *testing.T) {
	for _, c := range []struct {
		v    float64
		want string
	}{
		{0, "0"}, {math.Copysign(0, -1), "0"}, {0.1, "0.1"}, {1.0 / 3, "0.3333"}, {-2.0 / 3, "-0.6667"},
		{123456, "123500"}, {1e21, "1000000000000000000000"}, {1.5e-7, "0.00000015"},
		{math.NaN(), "0"}, {math.Inf(-1), "0"}, {99999, "100000"}, {5, "5"},
	} {
		assert.Equal(t, c.want, string(appendNumber(nil, c.v)))
	}
}

func TestTextsAreEscaped(t *testing.T) {
	for _, s := range append(nasty, "<script>&", "  ", "\x00\x1f\x7f", "é°") {
		got := appendString(nil, s)
		var back string
		require.NoError(t, json.Unmarshal(got, &back))
		want := []rune(s) // what is no UTF-8 becomes the replacement, byte by byte
		assert.Equal(t, string(want), back)
		assert.False(t, bytes.ContainsAny(got, "\n\r"), "%q", got)
	}
	assert.Equal(t, `"<&>"`, string(appendString(nil, "<&>")), "this is no web page")
}

func TestPlain(t *testing.T) {
	ev := Event{T: 1_500_000, Kind: detect.StaleLink, Change: Raised, Priority: detect.High, Where: detect.Link,
		Story: detect.Story{Text: "no good line", Action: "cut throttle"}}
	assert.Equal(t, "    1.500  HIGH   stale-link         link     raised       no good line >> cut throttle", ev.Plain())
	ev.Change, ev.Since = Cleared, 1_000_000
	assert.Equal(t, "    1.500  HIGH   stale-link         link     cleared      stale-link at link is gone after 0.5 s", ev.Plain())
}

func TestSummaryJSON(t *testing.T) {
	s := Summary{Lines: 7, Bad: 2, Lost: 1, Duration: 12_345_678}
	s.Raised[detect.StaleLink], s.Raised[detect.TipOver] = 2, 1
	s.NotWatched = []Lack{{"near-lift", "no lift"}, {"pack-sag", `"later"`}}
	assert.Equal(t, `{"summary":{"file":"f.bell","lines":7,"bad":2,"lost":1,"duration_s":12.346,`+
		`"alarms":{"tip-over":1,"stale-link":2},"not_watched":{"near-lift":"no lift","pack-sag":"\"later\""}}}`, string(s.AppendJSON(nil, "f.bell")))
	var none Summary
	assert.Equal(t, `{"summary":{"file":"","lines":0,"bad":0,"lost":0,"duration_s":0,"alarms":{},"not_watched":{}}}`, string(none.AppendJSON(nil, "")))
}

// spoken is an event as a reader of the lines sees it.
type spoken struct {
	T        *float64
	Alarm    string
	Change   string
	Priority string
	Where    string
	Value    *float64
	Limit    *float64
	Text     string
	Detail   map[string]any
}

var (
	keys     = regexp.MustCompile(`^\{"t":\d+\.\d{3},"alarm":"[a-z-]+","change":"[a-z]+","priority":"(high|medium|low|note)","where":"[a-z0-9+]+","value":-?[0-9.]+,"limit":-?[0-9.]+,"text":"[^\n]*","detail":\{"unit":"[^\n]*\}\}$`)
	exponent = regexp.MustCompile(`:-?[0-9.]+[eE]`)
)

// TestEveryEventOfALongRun reads all that random sessions say: each event has
// the shape, and each alarm lives by the rules.
func TestEveryEventOfALongRun(t *testing.T) {
	var kinds [detect.KindCount]int
	changes := map[string]int{}
	for seed := range uint64(4) {
		e := New(heron(), Options{Baud: 115200})
		up, was := map[string]bool{}, 0.0
		var raised [detect.KindCount]uint64
		check := func() {
			for i := range e.Events() {
				ev := &e.events[i]
				line := string(ev.AppendJSON(nil, ""))
				var s spoken
				require.NoError(t, json.Unmarshal([]byte(line), &s), line)
				require.Regexp(t, keys, line)
				require.NotRegexp(t, exponent, line)
				require.GreaterOrEqual(t, *s.T, was, line)
				was = *s.T
				require.NotEmpty(t, s.Detail["unit"], line)
				require.NotEmpty(t, s.Text)
				if v, ok := s.Detail["lasted_s"]; ok {
					require.GreaterOrEqual(t, v.(float64), 0.0, line)
				}
				require.False(t, strings.ContainsFunc(ev.Plain(), unicode.IsControl), "%q", ev.Plain())
				place := s.Alarm + " " + s.Where
				switch s.Change {
				case "raised":
					require.False(t, up[place], "raised twice: %s", line)
					up[place] = true
					raised[ev.Kind]++
				case "worsened", "eased", "cleared":
					require.True(t, up[place], "%s of an alarm that is not up: %s", s.Change, line)
					up[place] = s.Change != "cleared"
				}
				kinds[ev.Kind]++
				changes[s.Change]++
			}
		}
		for _, in := range drawSession(seed, 120, seed%2 == 0) {
			in.feed(e)
			check()
		}
		e.Finish()
		check()
		sum := e.Summary()
		require.Equal(t, raised, sum.Raised)
		require.GreaterOrEqual(t, sum.Duration, int64(0))
		var whole map[string]map[string]any
		require.NoError(t, json.Unmarshal(sum.AppendJSON(nil, "x"), &whole))
	}
	// Random sessions hardly ever have what the others need: TestEveryKindSpeaks.
	for _, k := range []detect.Kind{
		detect.RisingOscillation, detect.OutputImbalance, detect.GroundThrust, detect.TipOver, detect.NearLift, detect.LateStop,
		detect.SpinDisarmed, detect.StaleLink, detect.BadLink, detect.SettingsSlip, detect.StickHigh, detect.RotorLost, detect.HoldLost, detect.IdleGap,
	} {
		assert.Positive(t, kinds[k], "%s was never told of", k)
	}
	for _, c := range []string{"raised", "worsened", "eased", "cleared", "acknowledged"} {
		assert.Positive(t, changes[c], c)
	}
}
