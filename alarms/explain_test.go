package alarms

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// A play is a time line of findings for two kinds, a letter a step of 10 ms:
// as in stage, of the cause in the first line, of the effect in the second.
func play(t *testing.T, cause, effect detect.Kind, first, second string) []string {
	t.Helper()
	l := newLife()
	tell := &tape{}
	a, b := expand(t, first), expand(t, second)
	require.Len(t, b, len(a))
	level := map[byte]detect.Priority{'h': detect.High, 'm': detect.Medium, 'l': detect.Low, 'n': detect.Note, '-': detect.None}
	now := int64(0)
	for i := range a {
		for k, line := range []string{a, b} {
			kind := [...]detect.Kind{cause, effect}[k]
			var found []detect.Finding
			switch c := line[i]; c {
			case '.':
			case 'a':
				l.acknowledge(now, kind, detect.Craft, tell)
				found = append(found, detect.Finding{Where: detect.Craft, Level: detect.High, Value: 1})
			default:
				found = append(found, detect.Finding{Where: detect.Craft, Level: level[c], Value: 1})
			}
			l.judge(now, kind, found, tell)
		}
		now += 10_000
	}
	var out []string
	for _, ev := range tell.events {
		word := fmt.Sprintf("%s %s %s", ev.Kind, ev.Change, ev.Priority)
		for _, f := range ev.Story.More {
			word += fmt.Sprintf(" (%s %v)", f.Name, f.Value)
		}
		out = append(out, word)
	}
	return out
}

func TestOneCauseOneBell(t *testing.T) {
	const cause, effect = detect.SettingsSlip, detect.GroundThrust
	for _, c := range []struct{ name, cause, effect, want string }{
		{"the effect is not raised beside its cause", "h9", ".3 h6", "settings-slip raised high"},
		{"the cause is no quieter than the effect", "m9", ".3 h6",
			"settings-slip raised medium|settings-slip worsened high (explains ground-thrust)"},
		{"a cause of too low a priority explains nothing", "l9", ".3 h6", "settings-slip raised low|ground-thrust raised high"},
		{"what rang first goes on ringing", ".4 h9", "h9 h4", "ground-thrust raised high|settings-slip raised high"},
		{"an effect outlives its cause", "h5 .95 .95", ".3 h97 h95",
			"settings-slip raised high|settings-slip cleared high (explains ground-thrust)|ground-thrust raised high"},
		{"an acknowledged cause explains nothing new", "h3 a1 h9", ".6 h7",
			"settings-slip raised high|settings-slip acknowledged high|ground-thrust raised high"},
		{"but goes on with what it stood for", "h5 a1 h9", ".3 h7 h5",
			"settings-slip raised high|settings-slip acknowledged high (explains ground-thrust)"},
		{"it eases when the effect is gone", "m9 m9 m99 m99", "h9 .9 .99 .99",
			"settings-slip raised medium|settings-slip worsened high (explains ground-thrust)|settings-slip eased medium (explains ground-thrust)"},
		{"a note is raised beside nothing", "n9", ".3 h6", "settings-slip raised note|ground-thrust raised high"},
	} {
		t.Run(c.name, func(t *testing.T) {
			assert.Equal(t, c.want, strings.Join(play(t, cause, effect, c.cause, c.effect), "|"))
		})
	}
}

// TestWorseFromAnEffectTellsItsAction: who is told to lower a setting while the
// craft lifts is told the wrong thing.
func TestWorseFromAnEffectTellsItsAction(t *testing.T) {
	s := slot{finding: detect.Finding{Level: detect.Medium}, action: "cut throttle", explains: 1 << detect.NearLift}
	s.retell(acting{})
	assert.Equal(t, "cut throttle; lower the setting", s.story.Action)
	s.action = "lower the setting"
	s.retell(acting{})
	assert.Equal(t, "lower the setting", s.story.Action)
}

type acting struct{}

func (acting) tell(detect.Finding, detect.Kind) detect.Story {
	return detect.Story{Action: "lower the setting"}
}
func (acting) emit(Event) {}

// TestRules: the table is short enough to be read, and says nothing twice, of
// itself, or in a circle.
func TestRules(t *testing.T) {
	seen := map[[2]detect.Kind]bool{}
	for _, r := range rules {
		pair := [2]detect.Kind{r.cause, r.effect}
		assert.False(t, seen[pair], "%s explains %s twice", r.cause, r.effect)
		seen[pair] = true
		assert.NotEqual(t, r.cause, r.effect)
		assert.False(t, seen[[2]detect.Kind{r.effect, r.cause}], "%s and %s explain each other", r.cause, r.effect)
		assert.NotEmpty(t, r.why)
		assert.NotEqual(t, detect.None, r.least)
	}
}

// TestCausesAreJudgedFirst: in the round in which both come, the cause comes
// first, else its effect would ring beside it.
func TestCausesAreJudgedFirst(t *testing.T) {
	order := map[detect.Kind]int{}
	for i, d := range newRig(t, 20).e.detectors {
		order[d.Kind()] = i
	}
	require.Len(t, order, int(detect.KindCount), "each kind has one detector")
	for _, r := range rules {
		assert.Less(t, order[r.cause], order[r.effect], "%s before %s", r.cause, r.effect)
	}
}

// TestOneMotorExplainsNoOther: a motor that stands explains its own heat, and
// not that of all.
func TestOneMotorExplainsNoOther(t *testing.T) {
	for _, c := range []struct {
		heat detect.Where
		want int
	}{{detect.M1, 0}, {detect.M1 | detect.M2 | detect.M3 | detect.M4, 1}, {detect.M2, 1}} {
		l, tell := newLife(), &tape{}
		for now := range int64(5) {
			l.judge(now*10_000, detect.RotorLost, []detect.Finding{{Where: detect.M1, Level: detect.High}}, tell)
			l.judge(now*10_000, detect.MotorHeat, []detect.Finding{{Where: c.heat, Level: detect.High}}, tell)
		}
		raised := 0
		for _, ev := range tell.events {
			if ev.Kind == detect.MotorHeat && ev.Change == Raised {
				raised++
			}
		}
		assert.Equal(t, c.want, raised, "%s", c.heat)
	}
}

// TestDeadStreamHidesNoDeadSensor: a stream that stays away is told once, as
// stale; what hangs in another stream is told beside it.
func TestDeadStreamHidesNoDeadSensor(t *testing.T) {
	r := newRig(t, 20)
	wobble := func(k int) []float64 {
		v := float64(k%7) / 10
		return []float64{v, -v, v / 2, 0, 0, 0, 0.01, 0.01, 0, 0.3}
	}
	temp := func(k int) []float64 {
		v := 30 + float64(k%5)/10
		return []float64{v, v, v, v}
	}
	for k := range 600 { // 12 s at 50 a second
		r.pass(20_000)
		r.send(decode.State, 1, 0, 1, 0.3, 0, 0, 0, 1)
		r.send(decode.Out, 0.3, 0.3, 0.3, 0.3)
		if k < 200 { // the temperatures go at 4 s
			r.send(decode.Temp, temp(k)...)
		}
		r.send(decode.Axes, wobble(min(k, 300))...) // the gyro hangs at 6 s
	}
	assert.Contains(t, r.story(detect.StaleLink), "raised medium its sensor or the bridge")
	var frozen []string
	for _, ev := range r.events {
		if ev.Kind == detect.FrozenSensor {
			frozen = append(frozen, ev.Where.String())
		}
	}
	assert.Equal(t, []string{"roll+pitch+yaw"}, frozen, "and not the temperatures, which just do not come")
}
