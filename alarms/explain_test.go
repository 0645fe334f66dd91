package alarms

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
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
