package simulator

import (
	"io/fs"
	"math"
	"os"
	"reflect"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestList(t *testing.T) {
	all := List()
	files, err := fs.Glob(embedded, "scenarios/*.toml")
	require.NoError(t, err)
	assert.Len(t, all, len(files), "every file is listed")
	for k, sc := range all {
		assert.Equal(t, names[k], sc.Name)
		assert.NotEmpty(t, sc.Lesson)
		assert.LessOrEqual(t, sc.Seconds, 100.0, "nobody sits through more")
	}
	_, err = Load("storm")
	assert.ErrorContains(t, err, `find scenario "storm": there are calm, gains-high`)
}

// history plays a scenario and keeps its truth every 5 ms.
func history(t *testing.T, name string, seed uint64) []Truth {
	sc, err := Load(name)
	require.NoError(t, err)
	b := New(sc, seed)
	var all []Truth
	var buf []byte
	for done := false; !done; {
		buf, _, done = b.Next(buf[:0])
		all = append(all, b.Truth())
	}
	return all
}

// at returns the truth at a time in seconds.
func at(all []Truth, seconds float64) Truth { return all[int(seconds*1e6)/sliceUS-1] }

// share is a motor's output over the mean of all, averaged over a time.
func share(all []Truth, motor int, from, to float64) float64 {
	sum, n := 0.0, 0.0
	for _, tr := range all {
		if s := float64(tr.AtUS) / 1e6; s >= from && s < to {
			sum += tr.Out[motor-1] * 4 / (tr.Out[0] + tr.Out[1] + tr.Out[2] + tr.Out[3])
			n++
		}
	}
	return sum / n
}

const weight = 0.655 * gravity

func TestCalm(t *testing.T) {
	for seed := range uint64(3) {
		all := history(t, "calm", seed)
		assert.InDelta(t, 0.55, at(all, 20).LiftN/weight, 0.03, "55 %% of its weight in lift")
		lift, peak, rate := 0.0, 0.0, 0.0
		for _, tr := range all {
			lift = max(lift, tr.LiftN)
			for k := range 3 {
				peak, rate = max(peak, tr.Peak[k]), max(rate, math.Abs(tr.Rate[k]))
			}
		}
		assert.Less(t, lift/weight, 0.65)
		assert.Less(t, peak, 0.06)
		assert.Less(t, rate, 40.0)
		assert.Equal(t, [3]int64{-1, -1, -1}, all[len(all)-1].OverLimitUS)
		for m := 1; m <= 4; m++ {
			assert.InDelta(t, 1, share(all, m, 19, 21), 0.05)
		}
		assert.Equal(t, [maxMotors]float64{}, at(all, 4.6).Out, "the stop works")
		assert.Equal(t, [maxMotors]float64{}, at(all, 39).RPM)
	}
}

// In gains-high, the shake passes the limit for every seed, late enough to
// have been heard coming and before the slow person of the story cuts the
// throttle; from half the limit on it grows at some 0.3 to 4 a second. With half
// the gains the same seeds stay quiet.
func TestGainsHighAndHalved(t *testing.T) {
	for seed := range uint64(10) {
		all := history(t, "gains-high", seed)
		over := all[len(all)-1].OverLimitUS[0]
		require.Positive(t, over, "seed %d", seed)
		assert.Greater(t, over, int64(14_000_000), "seed %d", seed)
		assert.Less(t, over, int64(19_600_000), "seed %d", seed)
		half := int64(0)
		for _, tr := range all {
			if tr.Peak[0] < 0.05 {
				half = tr.AtUS
			}
			if tr.AtUS >= over {
				break
			}
		}
		growth := math.Ln2 / (float64(over-half) / 1e6)
		t.Logf("seed %d: limit passed at %.2f s, half of it at %.2f s, mean growth %.2f /s", seed, float64(over)/1e6, float64(half)/1e6, growth)
		assert.Greater(t, growth, 0.3, "seed %d", seed)
		assert.Less(t, growth, 4.0, "seed %d", seed)
		assert.Greater(t, at(all, 19.9).Peak[0], 0.1, "seed %d", seed)
		assert.Less(t, at(all, 25).Peak[0], 0.001, "seed %d", seed)

		peak := 0.0
		for _, tr := range history(t, "gains-halved", seed) {
			peak = max(peak, tr.Peak[0], tr.Peak[1], tr.Peak[2])
		}
		assert.Less(t, peak, 0.03, "seed %d", seed)
	}
}

func TestIdleSlip(t *testing.T) {
	all := history(t, "idle-slip", 1)
	assert.Zero(t, at(all, 5).LiftN)
	assert.InDelta(t, 0.8, at(all, 5.1).Out[0], 1e-9)
	assert.Greater(t, at(all, 5.1).LiftN/weight, 0.5, "within a tenth of a second")
	assert.Greater(t, at(all, 6.2).LiftN/weight, 2.0)
	for _, tr := range all {
		require.Less(t, tr.Angle[0], 20.0, "the lines hold it")
	}
}

func TestWeakMotor(t *testing.T) {
	all := history(t, "weak-motor", 1)
	m3 := share(all, 3, 15, 24)
	assert.Greater(t, m3, 1.25, "medium")
	assert.Less(t, m3, 1.40, "not high")
	assert.Less(t, share(all, 1, 15, 24), 0.8, "its opposite rests")
	assert.InDelta(t, 1, share(all, 2, 15, 24), 0.05)
	assert.InDelta(t, 0, at(all, 20).Angle[0], 0.5, "level")
}

func TestNoseHeavy(t *testing.T) {
	all := history(t, "nose-heavy", 1)
	assert.Less(t, at(all, 1).Angle[1], -5.0, "nose down at rest")
	assert.InDelta(t, 0, at(all, 20).Angle[1], 0.6, "level")
	for m, front := range map[int]bool{1: true, 2: false, 3: false, 4: true} {
		if front {
			assert.Greater(t, share(all, m, 15, 24), 1.22, "m%d", m)
		} else {
			assert.Less(t, share(all, m, 15, 24), 0.8, "m%d", m)
		}
	}
}

func TestStopLate(t *testing.T) {
	all := history(t, "stop-late", 1)
	after := at(all, 17)
	assert.True(t, after.Stopped)
	assert.Greater(t, after.Out[1], 0.1)
	assert.Greater(t, after.RPM[1], 1000.0)
	for _, m := range []int{0, 2, 3} {
		assert.Zero(t, after.Out[m])
		assert.Zero(t, after.RPM[m])
	}
	assert.Zero(t, at(all, 22).RPM[1], "until the pack is out")
}

// Bad scenarios are refused with the line, the key and the reason.
func TestParseErrors(t *testing.T) {
	const head = "name = \"x\"\nlesson = \"y\"\nseconds = 9\n"
	tests := []struct{ name, text, want string }{
		{"empty", "", "read scenario: name: missing"},
		{"syntax", head + "mode = rate\n", "read scenario line 4"},
		{"unknown key", head + "colour = 3\n", "read scenario line 4: colour: no such key"},
		{"unknown table key", head + "[craft]\nmass = 3\n", "read scenario line 5: craft.mass: no such key"},
		{"kind", head + "[craft]\nmass_g = \"heavy\"\n", "read scenario line 5"},
		{"range", head + "\n[craft]\nmass_g = 5\n", "read scenario line 6: craft.mass_g: 5 is not within 20..20000"},
		{"nan", head + "[gains]\nroll_p = nan\n", "read scenario line 5: gains.roll_p: not a finite number"},
		{"mode", head + "mode = \"acro\"\n", "read scenario line 4: mode: \"acro\" is neither rate nor level"},
		{"mass", head + "[craft]\nmass_g = 200\n", "read scenario line 5: craft.mass_g: 200 is not more than all motors and arms, 248"},
		{"stiff", head + "[craft]\nmass_g = 260\npad_n_m = 90000\n", "read scenario line 6: craft.pad_n_m: 90000, with its damping, is too stiff for so light a craft"},
		{"poles", head + "[craft]\nmagnet_poles = 13\n", "read scenario line 5: craft.magnet_poles: 13 is odd"},
		{"baud", head + "[link]\nbaud = 115200\n", "read scenario line 5: link.baud: 115200 carries 10368 bytes a second"},
		{"motor", head + "[[motor]]\nmotor = 5\n", "read scenario line 5: motor 1: motor: 5 is not within 1..4"},
		{"action", head + "[[event]]\nat = 1\ndo = \"dance\"\n", "read scenario line 6: event 1: do: no such action \"dance\""},
		{"no action", head + "[[event]]\nat = 1\n", "read scenario line 4: event 1: do: no such action \"\""},
		{"late", head + "[[event]]\nat = 1\ndo = \"arm\"\n[[event]]\nat = 10\ndo = \"disarm\"\n", "read scenario line 8: event 2: at: 10 is not before the end at 9"},
		{"lacks", head + "[[event]]\nat = 1\ndo = \"throttle\"\n", "read scenario line 4: event 1: to: missing for throttle"},
		{"ignored", head + "[[event]]\nat = 1\ndo = \"arm\"\nmotor = 2\n", "read scenario line 7: event 1: motor: of no use to arm"},
		{"setting", head + "[[event]]\nat = 1\ndo = \"set\"\nname = \"idle\"\nvalue = 1\n", "read scenario line 7: event 1: name: no such setting \"idle\""},
		{"stick", head + "[[event]]\nat = 1\ndo = \"throttle\"\nto = -0.1\n", "read scenario line 7: event 1: to: -0.1 is not within 0..1"},
		{"note", head + "[[event]]\nat = 1\ndo = \"note\"\ntext = \"a*b\"\n", "read scenario line 7: event 1: text: want"},
		{"huge", strings.Repeat("#", 300<<10), "read scenario: over 256 KiB"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := Parse([]byte(tt.text))
			var se *ScenarioError
			require.ErrorAs(t, err, &se)
			assert.Contains(t, err.Error(), tt.want)
			assert.NotContains(t, err.Error(), "\n")
		})
	}
	_, err := Parse([]byte(head))
	assert.NoError(t, err)
}

// New refuses what Check refuses.
func TestNewPanics(t *testing.T) {
	assert.PanicsWithValue(t, "simulator: read scenario: name: missing", func() { New(Default(), 1) })
}

// The table of what may happen stands in the description for people.
func TestReadmeNamesEveryAction(t *testing.T) {
	text, err := os.ReadFile("scenarios/README.md")
	require.NoError(t, err)
	for do, a := range actions {
		row := ""
		for line := range strings.Lines(string(text)) {
			if strings.HasPrefix(line, "| `"+do+"`") {
				row = line
			}
		}
		require.NotEmpty(t, row, do)
		for _, key := range strings.Fields(a.needs + " " + a.may) {
			assert.Contains(t, row, "`"+key+"`", do)
		}
	}
	for _, name := range settingNames {
		assert.Contains(t, string(text), "`"+name+"`")
	}
}

// Every key stands in the description for people, with its range, and its
// example can be run.
func TestReadmeNamesEveryKey(t *testing.T) {
	text, err := os.ReadFile("scenarios/README.md")
	require.NoError(t, err)
	var look func(v reflect.Type)
	look = func(v reflect.Type) {
		for k := range v.NumField() {
			f := v.Field(k)
			switch {
			case f.Type.Kind() == reflect.Struct:
				look(f.Type)
				continue
			case f.Type.Kind() == reflect.Slice:
				look(f.Type.Elem())
				continue
			case v == reflect.TypeFor[Event]():
				continue // held by TestReadmeNamesEveryAction
			}
			key := "`" + f.Tag.Get("toml") + "`"
			low, high, _ := strings.Cut(f.Tag.Get("within"), " ")
			found := false
			for line := range strings.Lines(string(text)) {
				found = found || strings.HasPrefix(line, "|") && strings.Contains(line, key) &&
					(low == "" || strings.Contains(line, low+" to "+high))
			}
			assert.True(t, found, "%s.%s, %s to %s", v.Name(), key, low, high)
		}
	}
	look(reflect.TypeFor[Scenario]())

	_, example, _ := strings.Cut(string(text), "```toml\n")
	example, _, _ = strings.Cut(example, "```")
	sc, err := Parse([]byte(example))
	require.NoError(t, err)
	assert.Equal(t, 1.2, sc.Gains.Scale)
}
