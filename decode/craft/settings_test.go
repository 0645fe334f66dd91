package craft

import (
	"encoding/json"
	"errors"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
)

func TestMeaningOfNames(t *testing.T) {
	usual := Settings{}.WithDefaults()
	p, i, d := Meaning{P: true, Gain: true, Axis: -1}, Meaning{I: true, Gain: true, Axis: -1}, Meaning{D: true, Gain: true, Axis: -1}
	on := func(m Meaning, axis int8) Meaning { m.Axis = axis; return m }
	none := Meaning{Axis: -1}
	for name, want := range map[string]Meaning{
		"rate_p_roll": on(p, 0), "roll_p": on(p, 0), "p_roll": on(p, 0), "rate.Roll.P": on(p, 0), "Rate P Roll": on(p, 0), "roll-kp": on(p, 0),
		"rate_i_pitch": on(i, 1), "pitch.ki": on(i, 1), "rate_d_yaw": d, "p": p,
		"level_gain": {Gain: true, Axis: -1}, "gain_roll": {Gain: true, Axis: 0}, "bargain": {Gain: true, Axis: -1},
		"gyro_cut_hz": none, "d_cut_hz": none, "rate_i_limit": none, "roll_p_max": on(none, 0), "spin": none, "pi": none, "rp_roll": on(none, 0),
		"roll_to_pitch_p": p,
		"idle_ready":      {IdleReady: true, Share: true, Axis: -1}, "motor.idle_least": {IdleLeast: true, Share: true, Axis: -1},
		"idle_hz": none, "limit_oscillation": {Share: true, Axis: -1}, "": none,
	} {
		if got := usual.MeaningOf(name); got != want {
			t.Errorf("%q: got %+v, want %+v", name, got, want)
		}
	}
	own := Settings{Proportional: ListOf("swift?", "stiff*"), Roll: "*1"}.WithDefaults()
	for name, want := range map[string]Meaning{
		"swift1": on(p, 0), "swift2": p, "swift": none, "swift12": none, "stiffness": p, "swifté": p, "roll_p": none, "roll_i": i,
	} {
		if got := own.MeaningOf(name); got != want {
			t.Errorf("own names: %q: got %+v, want %+v", name, got, want)
		}
	}
}

// globs agrees with a regular expression that says the same, an outside judge
// of what a pattern is.
func TestGlobs(t *testing.T) {
	parts := []string{"", "a", "*", "?", "ab", "*_", "_b"}
	for _, x := range parts {
		for _, y := range parts {
			for _, z := range parts {
				pattern := x + y + z
				re := regexp.MustCompile("^" + strings.NewReplacer("*", ".*", "?", ".").Replace(pattern) + "$")
				for _, name := range []string{"", "a", "b", "ab", "a_b", "aab", "ba", "abab", "_", "__", "ab_"} {
					if got, want := globs(pattern, name, 0), re.MatchString(name); got != want {
						t.Fatalf("%q with %q: got %v", name, pattern, got)
					}
					if got, want := globs(pattern, name, 1), re.MatchString("_"+name+"_"); got != want {
						t.Fatalf("%q with %q, padded: got %v", name, pattern, got)
					}
				}
			}
		}
	}
	usual := Settings{}.WithDefaults()
	if n := testing.AllocsPerRun(100, func() { usual.MeaningOf("rate_p_roll") }); n != 0 {
		t.Errorf("%v allocations", n)
	}
	if globs(strings.Repeat("*a", 30), strings.Repeat("a", 120)+"b", 1) {
		t.Error("must not match")
	}
}

func TestListsOfACraftFile(t *testing.T) {
	c, err := Parse([]byte("sensors = [\"axes\", 'temp']\n[settings]\ngains = [\n  \"swift*\", # the inner loop\n  \"firm?\",\n]\n"))
	if err != nil {
		t.Fatal(err)
	}
	if c.Sensors != ListOf("axes", "temp") || c.Settings != (Settings{Gains: ListOf("swift*", "firm?")}) {
		t.Errorf("got %+v", c)
	}
	data, err := json.Marshal(c)
	if want := `{"sensors":["axes","temp"],"settings":{"gains":["swift*","firm?"]}}`; err != nil || string(data) != want {
		t.Errorf("got %s, %v", data, err)
	}
	for _, r := range []struct {
		text, key string
		line      int
		says      string
	}{
		{"sensors = [\"axes\", \"wind\"]", "sensors", 1, "use axes, out"},
		{"sensors = \"axes\"", "sensors", 1, "not a list of texts"},
		{"\nsensors = []", "sensors", 2, "not a list of texts"},
		{"sensors = [1]", "sensors", 1, "not a list of texts"},
		{"sensors = [\"axes\", \"axes\"]", "sensors", 1, "twice"},
		{"[settings]\ngains = 3", "settings.gains", 2, "not a list of texts"},
		{"[settings]\n\ngains = [\"a\\nb\"]", "settings.gains", 3, "not a list of texts"},
		{"[settings]\nroll = [\"[ab]*\"]", "settings.roll", 2, "nothing else of that kind"},
		{"[settings]\nroll = [\"\", \"b\"]", "settings.roll", 2, "an empty pattern"},
		{"[settings]\nroll = [\"" + strings.Repeat("a", 61) + "\"]", "settings.roll", 2, "at most 60"},
		{"[settings]\nrol = [\"a\"]", "settings.rol", 2, "did you mean settings.roll"},
		{"[settings]\nmass_g = 3", "settings.mass_g", 2, "put it above [settings]"},
		{"gains = [\"a\"]", "gains", 1, "put it below [settings]"},
		{"settings = 3", "settings", 1, "[settings] on a line of its own"},
		{"[settings]\nroll = [\"a" + strings.Repeat("\",\"a", maxWords) + "\"]", "settings.roll", 2, "33 words"},
	} {
		_, err := Parse([]byte(r.text))
		var fe *FieldError
		if !errors.As(err, &fe) || fe.Key != r.key || fe.Line != r.line || !strings.Contains(err.Error(), r.says) {
			t.Errorf("%s: got %v", r.text, err)
		}
	}
	for _, text := range []string{`{"sensors":[]}`, `{"sensors":null}`, `{"sensors":3}`, `{"settings":{"roll":["[a"]}}`} {
		if got, err := ParseJSON([]byte(text)); err == nil {
			t.Errorf("%s: got %+v", text, got)
		}
	}
}

// The example shows every list, and the defaults that it shows are the defaults.
func TestExampleShowsEveryList(t *testing.T) {
	c, err := Parse(regexp.MustCompile(`(?m)^# ([a-z_]+ = )`).ReplaceAll(Example(), []byte("$1")))
	if err != nil {
		t.Fatal(err)
	}
	if want := (Settings{}).WithDefaults(); c.Settings != want || c.Sensors == "" {
		t.Errorf("got %+v, want %+v", c.Settings, want)
	}
	if n := reflect.TypeOf(Settings{}).NumField(); n != len(settingKeys) {
		t.Errorf("%d lists, %d keys", n, len(settingKeys))
	}
}

func TestInForce(t *testing.T) {
	c := Craft{Name: "Fen Rail", MassG: 900, Arms: threeArms, Limits: Limits{TipRate: 90}, Settings: Settings{Roll: "r*"}}
	got := map[string]InForce{}
	for _, f := range c.InForce() {
		got[f.Key] = f
	}
	for _, want := range []InForce{
		{"name", "Fen Rail", "", true}, {"hold", "tether", "tether", false}, {"sensors", "", "", false}, {"mass_g", "900", "", true},
		{"cells", "", "", false}, {"limits.tip_rate", "90", "150", true}, {"limits.coast_seconds", "1", "1", false},
		{"arm.1", "60 deg, 120 mm, clockwise", "", true}, {"arm.2", "180 deg, 120 mm, counter-clockwise", "", true},
		{"settings.roll", "r*", "*roll*", true}, {"settings.integral", "*_i_*, *_ki_*", "*_i_*, *_ki_*", false},
	} {
		if got[want.Key] != want {
			t.Errorf("%s: got %+v, want %+v", want.Key, got[want.Key], want)
		}
	}
	for _, k := range keys() {
		if _, there := got[k]; !there && !strings.HasPrefix(k, "arm.") { // arms are told one by one
			t.Errorf("%s is not told", k)
		}
	}
}

func TestParseSettings(t *testing.T) {
	want := []Setting{{"idle_ready", 0.05, 0}, {"rate.roll.p", -2e-3, 0}, {"notch", 1, 0}, {"a b", 12, 0}}
	for name, text := range map[string]string{
		"toml":          "# ours\nidle_ready = 0.05\n[rate]\nroll.p = -2e-3 # small\n",
		"toml inline":   "idle_ready = 0.0_5\r\nrate = { roll = { p = -0.002 } }\r\n",
		"csv":           "idle_ready,0.05\n# ours\n\nrate.roll.p , -2e-3\n",
		"csv, heading":  "\xEF\xBB\xBFName,Value\r\nidle_ready,0.05\r\nrate.roll.p,-.002\r\n",
		"csv, no end":   "setting,value\nidle_ready,.05\n\"rate.roll.p\",-0.002",
		"toml, a table": "idle_ready = +0.05\n[rate.roll]\np = -0.002",
	} {
		parse := ParseSettingsTOML
		if strings.HasPrefix(name, "csv") {
			parse = ParseSettingsCSV
		}
		got, err := parse([]byte(text))
		for i := range got {
			if got[i].Line == 0 {
				t.Errorf("%s: no line", name)
			}
			got[i].Line = 0
		}
		if err != nil || !slices.Equal(got, want[:2]) {
			t.Errorf("%s: got %v, %v", name, got, err)
		}
	}
	got, err := ParseSettingsTOML([]byte("idle_ready = 5e-2\nrate.roll.p = -0.002\nnotch = true\n\"a b\" = 0xc"))
	if err != nil || len(got) != 4 || got[3] != (Setting{"a b", 12, 4}) || got[2] != (Setting{"notch", 1, 3}) {
		t.Errorf("got %v, %v", got, err)
	}
}

func TestParseSettingsRefuses(t *testing.T) {
	for _, r := range []struct {
		form, text, key string
		line            int
		says            string
	}{
		{"toml", "a = 1\nb = \"2\"", "b", 2, "without quotes"},
		{"toml", "a = 1\n[t]\nb = [1, 2]", "t.b", 3, "no number"},
		{"toml", "a = nan", "a", 1, "decimal number"},
		{"toml", "a = 99999999999999999999", "", 1, "too large"},
		{"toml", "a = 1\na = 2", "a", 2, "written twice"},
		{"toml", "\"x.y\" = 1\n[x]\ny = 2", "x.y", 3, "first in line 1"},
		{"toml", "[[t]]\nb = 1", "t", 1, "list of tables"},
		{"toml", "a 1", "", 1, "name = value"},
		{"toml", "# nothing", "", 0, "no setting in it"},
		{"toml", "\"\" = 1", "", 1, "not a name"},
		{"csv", "a,1\nb,two", "b", 2, `"two" is no number`},
		{"csv", "a,1\nb,0,05", "b", 2, "write numbers with a point: 0.05"},
		{"csv", "a", "a", 1, "1 fields"},
		{"csv", "a,5%", "a", 1, "percent"},
		{"csv", "a,inf", "a", 1, "no number"},
		{"csv", "a,0x10", "a", 1, "no number"},
		{"csv", "a,1e999", "a", 1, "too large"},
		{"csv", "a,1\nb,2\na,1", "a", 3, "first in line 1"},
		{"csv", "a,1\nb,\"2", "", 2, "name,value"},
		{"csv", ",1", "", 1, "not a name"},
		{"csv", "value,value", "", 0, "no setting in it"},
		{"csv", "a\u202eb,1", "", 1, "not a name"},
		{"csv", "", "", 0, "no setting in it"},
	} {
		parse := ParseSettingsTOML
		if r.form == "csv" {
			parse = ParseSettingsCSV
		}
		got, err := parse([]byte(r.text))
		var fe *FieldError
		if !errors.As(err, &fe) || fe.Key != r.key || fe.Line != r.line || !strings.Contains(err.Error(), r.says) ||
			!strings.HasPrefix(err.Error(), "read settings list") {
			t.Errorf("%q: got %v, %v", r.text, got, err)
		}
	}
}

// FuzzSettings: no text makes a list's readers panic, and what they take is
// whole: named, finite, told once.
func FuzzSettings(f *testing.F) {
	for _, s := range []string{"a = 1", "[t]\na.b = 2 # x", "a,1", "name,value\na,1", "a = {b = 1}", "[[t]]", "a = 0x1F", "\"a\",\"1\"", "a = 1\n\"a\" = 2", "\"a\\nb\" = []", "\"a\nb\",x", "\xEF\xBB\xBF", "# x\n,"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		for _, parse := range []func([]byte) ([]Setting, error){ParseSettingsTOML, ParseSettingsCSV} {
			all, err := parse(text)
			if err != nil {
				if strings.ContainsAny(err.Error(), "\n") {
					t.Fatalf("error of several lines: %q", err)
				}
				continue
			}
			seen := map[string]bool{}
			for _, s := range all {
				if s.Name == "" || s.Line < 1 || seen[s.Name] || s.Value-s.Value != 0 {
					t.Fatalf("took %+v", s)
				}
				seen[s.Name] = true
			}
			if len(all) == 0 {
				t.Fatal("took nothing")
			}
		}
	})
}
