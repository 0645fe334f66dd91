package craft

import (
	"encoding/json"
	"errors"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strings"
	"testing"
)

var heron = Craft{
	Name: "Marsh Heron", Layout: "quad-x", Motors: 4, Poles: 14, Blades: 3, DiameterMM: 178, MassG: 655, Cells: 4,
	Hold: Tether, IdleReady: 0.08, IdleLeast: 0.10,
}

// same compares two craft, their arms and baselines included.
func same(a, b Craft) bool { return reflect.DeepEqual(a, b) }

func TestExample(t *testing.T) {
	c, err := Parse(Example())
	if err != nil {
		t.Fatal(err)
	}
	if !same(c, heron) {
		t.Errorf("got %+v, want %+v", c, heron)
	}
}

// The defaults that the example shows are the defaults: with every "#" before
// a key taken off, the limits are those that WithDefaults gives.
func TestExampleShowsEveryDefault(t *testing.T) {
	text := regexp.MustCompile(`(?m)^# ([a-z_]+ = )`).ReplaceAll(Example(), []byte("$1"))
	c, err := Parse(text)
	if err != nil {
		t.Fatal(err)
	}
	if want := (Limits{}).WithDefaults(c.DiameterMM); c.Limits != want {
		t.Errorf("got %+v, want %+v", c.Limits, want)
	}
	for _, b := range bounds {
		if b.value(&c) == 0 {
			t.Errorf("the example does not show %s", b.key)
		}
	}
}

// Every number of Craft and Limits has its bound, found by the field's own
// tag: a new field cannot be forgotten.
func TestEveryNumberIsBounded(t *testing.T) {
	var c Craft
	n := 0
	walk := func(v reflect.Value, table string) {
		for i := range v.NumField() {
			key := table + strings.Split(v.Type().Field(i).Tag.Get("toml"), ",")[0]
			f := v.Field(i)
			switch f.Kind() {
			case reflect.Int:
				f.SetInt(-3)
			case reflect.Float64:
				f.SetFloat(-3)
			default:
				continue
			}
			n++
			var fe *FieldError
			if err := c.Check(); !errors.As(err, &fe) || fe.Key != key {
				t.Errorf("%s = -3: got %v", key, err)
			}
			f.SetZero()
		}
	}
	v := reflect.ValueOf(&c).Elem()
	walk(v, "")
	walk(v.FieldByName("Limits"), "limits.")
	if n != len(bounds) {
		t.Errorf("%d numbers, %d bounds", n, len(bounds))
	}
}

func TestBoundsTakeTheirEnds(t *testing.T) {
	for _, b := range bounds {
		for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), math.Nextafter(b.low, -1), math.Nextafter(b.high, 1e9), -b.low} {
			if v >= b.low && v <= b.high {
				t.Errorf("%s: %v passes %v..%v", b.key, v, b.low, b.high)
			}
		}
		if b.low <= 0 || b.low >= b.high || b.hint == "" {
			t.Errorf("%s: bad bound %v..%v, hint %q", b.key, b.low, b.high, b.hint)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	cases := []struct {
		name, text, key string
		line            int
		says            string // must stand in the message
	}{
		{"unknown key", "mass_g = 655\nwheels = 4", "wheels", 2, "no such key"},
		{"slip in a key", "[limits]\noscilation = 0.1", "limits.oscilation", 2, "did you mean limits.oscillation"},
		{"limit above its table", "tip_rate = 150", "tip_rate", 1, "below [limits]"},
		{"machine below the limits", "[limits]\nmass_g = 655", "limits.mass_g", 2, "above [limits]"},
		{"unknown table", "[limits]\n[limits.more]\nx = 1", "limits.more", 2, "no such key"},
		{"not a number", "mass_g = nan", "mass_g", 1, "NaN is not within 1..1000000"},
		{"infinite", "\n[limits]\ntip_rate = inf", "limits.tip_rate", 3, "+Inf"},
		{"minus infinite", "[limits]\ntip_rate = -inf", "limits.tip_rate", 2, "-Inf"},
		{"percent for a share", "[limits]\noscillation = 10", "limits.oscillation", 2, "not percent"},
		{"negative limit", "limits.oscillation = -0.1", "limits.oscillation", 1, "-0.1"},
		{"inline table", "limits = { tip_rate = 9000 }", "limits.tip_rate", 1, "9000"},
		{"zero motors", "motors = 0", "motors", 1, "leave the key out"},
		{"zero limit", "[limits]\nstale_seconds = 0.0", "limits.stale_seconds", 2, "leave the key out"},
		{"quoted key", "\"motors\" = 9", "motors", 1, "1..8"},
		{"nine motors", "motors = 9", "motors", 1, "1..8"},
		{"odd poles", "magnet_poles = 13", "magnet_poles", 1, "13 is odd"},
		{"62 poles", "magnet_poles = 62", "magnet_poles", 1, "2..60"},
		{"one blade", "blades = 1", "blades", 1, "2..8"},
		{"fifteen cells", "cells = 15", "cells", 1, "1..14"},
		{"fraction of a motor", "motors = 4.5", "motors", 1, "wrong kind"},
		{"number for a text", "name = 3", "name", 1, "quotes"},
		{"huge number", "motors = 99999999999999999999", "motors", 1, "wrong kind"},
		{"written twice", "motors = 4\nmotors = 4", "motors", 2, "written twice"},
		{"layout", "layout = \"quad\"", "layout", 1, "quad-plus"},
		{"hold", "hold = \"rope\"", "hold", 1, "tether, stand or free"},
		{"name of two lines", "name = \"\"\"a\nb\"\"\"", "name", 1, "printable"},
		{"name with an escape", `name = "a\u001b[31m"`, "name", 1, "printable"},
		{"layout against motors", "layout = \"tri\"\nmotors = 4", "motors", 2, "has 3"},
		{"order against a default", "[limits]\nimbalance_low = 0.3", "limits.imbalance_low", 2, "imbalance_medium 0.25"},
		{"order, upper one set", "[limits]\nimbalance_high = 0.2", "limits.imbalance_high", 2, "imbalance_medium 0.25 must be less"},
		{"never clears", "[limits]\nbad_share = 0.01", "limits.bad_share", 2, "bad_share_clear 0.02"},
		{"near lift", "[limits]\nnear_lift_medium = 0.9", "limits.near_lift_medium", 2, "near_lift_high 0.9"},
		{"arms without their layout", arms(3), "arm", 1, "layout custom alone"},
		{"common arm of a custom layout", "layout = \"custom\"\narm_mm = 150", "arm_mm", 2, "no common arm"},
		{"two arms", "layout = \"custom\"\n" + arms(2), "arm", 2, "2 arms are not within 3..8"},
		{"arms against motors", "motors = 4\nlayout = \"custom\"\n" + arms(3), "motors", 1, "4 motors, but 3 arms"},
		{"bearing that goes back", "layout = \"custom\"\n" + arms(3) + "[[arm]]\nbearing_deg = 100\nlength_mm = 90", "arm.4.bearing_deg", 15, "not more than"},
		{"bearing over the circle", "layout = \"custom\"\n" + arms(3) + "[[arm]]\n\nbearing_deg = 361", "arm.4.bearing_deg", 16, "0..360"},
		{"arm without a length", "layout = \"custom\"\n" + arms(3) + "[[arm]]\nbearing_deg = 301", "arm.4.length_mm", 14, "0 is not within 10..5000"},
		{"length that is no number", "layout = \"custom\"\n" + arms(3) + "[[arm]]\nbearing_deg = 301\nlength_mm = nan", "arm.4.length_mm", 16, "NaN"},
		{"unknown key of an arm", "layout = \"custom\"\n" + arms(3) + "[[arm]]\nbearing = 301", "arm.bearing", 15, "no such key"},
		{"key of an arm outside", "bearing_deg = 45", "bearing_deg", 1, "below an [[arm]]"},
		{"turn that is a number", "[[arm]]\nclockwise = 1", "arm.clockwise", 2, "true or false"},
		{"inline arms", "layout = \"custom\"\narm = [{bearing_deg = 1, length_mm = 90}, {bearing_deg = 2, length_mm = 9}, {bearing_deg = 3, length_mm = 90}]", "arm.2.length_mm", 2, "9 is not"},
		{"zero common arm", "arm_mm = 0", "arm_mm", 1, "leave the key out"},
		{"pack heavier than the craft", "mass_g = 655\npack_g = 655", "pack_g", 2, "655 g, but the whole craft has 655 g"},
		{"a baseline in a craft file", "[baseline]", "baseline", 1, "no such key"},
		{"no value", "motors", "", 1, "key = value"},
		{"noise", "\x00\x01\x02", "", 1, "key = value"},
		{"large", strings.Repeat("# bog\n", 12_000), "", 0, "64 KiB"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			got, err := Parse([]byte(c.text))
			var fe *FieldError
			if !errors.As(err, &fe) {
				t.Fatalf("got %v", err)
			}
			if fe.Key != c.key || fe.Line != c.line || !strings.Contains(err.Error(), c.says) {
				t.Errorf("got key %q line %d: %v", fe.Key, fe.Line, err)
			}
			if !same(got, Craft{}) {
				t.Errorf("a refused file gives %+v", got)
			}
		})
	}
}

func TestParseTakes(t *testing.T) {
	cases := []struct {
		name, text string
		want       Craft
	}{
		{"nothing", "", Craft{}},
		{"a byte order mark and CRLF", "\xEF\xBB\xBFmotors = 4\r\nmass_g = 655\r\n", Craft{Motors: 4, MassG: 655}},
		{"a stand", "hold = \"stand\"\nhold_rated_n = 60", Craft{Hold: Stand, HoldRatedN: 60}},
		{"custom layout", "layout = \"custom\"\nmotors = 5", Craft{Layout: "custom", Motors: 5}},
		{"a custom layout with its arms", "layout = \"custom\"\n" + arms(3), Craft{Layout: "custom", Arms: threeArms}},
		{"no arms at all", "arm = []", Craft{}},
		{"a slipped idle is judged, not refused", "idle_ready = 0.8", Craft{IdleReady: 0.8}},
		{"dotted limits", "limits.bad_share = 0.1\nlimits.bad_share_clear = 0.05", Craft{Limits: Limits{BadShare: 0.1, BadShareClear: 0.05}}},
	}
	for _, c := range cases {
		got, err := Parse([]byte(c.text))
		if err != nil || !same(got, c.want) {
			t.Errorf("%s: got %+v, %v", c.name, got, err)
		}
	}
}

func TestLoad(t *testing.T) {
	dir := t.TempDir()
	good, bad := filepath.Join(dir, "good.toml"), filepath.Join(dir, "bad.toml")
	for path, text := range map[string][]byte{good: Example(), bad: []byte("\n\ncells = 40\n")} {
		if err := os.WriteFile(path, text, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if c, err := Load(good); err != nil || !same(c, heron) {
		t.Errorf("good: %+v, %v", c, err)
	}
	if _, err := Load(bad); err == nil || !strings.Contains(err.Error(), bad+":3: cells: 40 is not within 1..14") {
		t.Errorf("bad: %v", err)
	}
	if _, err := Load(filepath.Join(dir, "none.toml")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("none: %v", err)
	}
	if _, err := Load(dir); err == nil {
		t.Error("a directory was read")
	}
}

func TestCoastFollowsPropeller(t *testing.T) {
	for mm, want := range map[float64]float64{0: 1, 178: 1, 200: 1, 200.1: 3, 380: 3} {
		if got := (Limits{}).WithDefaults(mm).CoastSeconds; got != want {
			t.Errorf("%v mm: got %v s, want %v s", mm, got, want)
		}
	}
	if got := (Limits{CoastSeconds: 2}).WithDefaults(380).CoastSeconds; got != 2 {
		t.Errorf("a set value was replaced by %v", got)
	}
}

// Fill takes every field from the other craft where it is zero, and none where
// it is not.
func TestFill(t *testing.T) {
	full := heron
	full.HoldRatedN, full.RatedA, full.ArmMM, full.PackG = 60, 90, 158, 290
	full.Arms = threeArms
	full.Baseline = Baseline{Sessions: []Session{accepted(1)}}
	full.Known = []Baseline{{Name: "Other", Sessions: []Session{accepted(2)}}}
	full.Sensors, full.Settings = ListOf("axes", "out"), Settings{}.WithDefaults()
	full.Limits = Limits{}.WithDefaults(178)
	if got := (Craft{}).Fill(full); !same(got, full) {
		t.Errorf("empty filled: got %+v, want %+v", got, full)
	}
	v := reflect.ValueOf(full)
	for i := range v.NumField() {
		if v.Field(i).IsZero() {
			t.Errorf("the test's craft lacks %s", v.Type().Field(i).Name)
		}
	}
	other := Craft{Name: "Other", Layout: "tri", Motors: 3, Poles: 2, Blades: 2, DiameterMM: 1, MassG: 1, Cells: 1, Hold: Free,
		HoldRatedN: 1, ArmMM: 10, PackG: 1, Arms: []Arm{{1, 20, true}, {2, 20, true}, {3, 20, true}},
		Baseline: Baseline{Name: "x", Sessions: []Session{accepted(3)}}, Known: []Baseline{{Name: "y"}}, RatedA: 1, IdleReady: 1, IdleLeast: 1, Sensors: "temp", Settings: Settings{Roll: "r"},
		Limits: Limits{Oscillation: 1, LineLoad: 1}}
	if got := full.Fill(other); !same(got, full) {
		t.Errorf("full changed: got %+v, want %+v", got, full)
	}
}

func TestJSON(t *testing.T) {
	full := heron
	full.Limits.TipRate = 90
	full.Layout, full.Motors, full.Arms, full.PackG = "custom", 3, threeArms, 290
	full.Baseline = Baseline{Sessions: []Session{accepted(1), accepted(2)}}
	full.Known = []Baseline{{Name: "Other", Sessions: []Session{accepted(2)}}}
	for _, c := range []Craft{{}, heron, full} {
		data, err := json.Marshal(c)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := ParseJSON(data); err != nil || !same(got, c) {
			t.Errorf("%s: got %+v, %v", data, got, err)
		}
	}
	for _, text := range []string{``, `[]`, `{"motors":9}`, `{"motors":-4}`, `{"wheels":4}`, `{"limits":{"oscillation":-1}}`,
		`{"hold":"rope"}`, `{"mass_g":1e400}`, `{} {}`, `{"name":"a\u0007"}`, `{"limits":{"bad_share":0.01}}`,
		`{"arm":[{"bearing_deg":1,"length_mm":20,"clockwise":true}]}`, `{"pack_g":-1}`, `{"known":[{"session":[]}]}`,
		`{"baseline":{"session":[{"seconds":9,"output":0.3,"shares":[1,1],"spreads":[0,0]}]}}`} {
		if c, err := ParseJSON([]byte(text)); err == nil || !same(c, Craft{}) {
			t.Errorf("%s: got %+v, %v", text, c, err)
		}
	}
	// What a file and a bridge say together may disagree, and is read all the same.
	if _, err := ParseJSON([]byte(`{"layout":"quad-x","motors":6}`)); err != nil {
		t.Error(err)
	}
}

// FuzzParse: no text makes it panic, and what it takes is whole: it passes the
// check and goes through JSON unchanged.
func FuzzParse(f *testing.F) {
	f.Add(Example())
	for _, s := range []string{"motors = 4", "mass_g = nan", "limits = { tip_rate = 150 }", "[limits]\noscillation = 0.1",
		"limits.oscillation = 0.1", "[[limits]]", "name = '''x'''", "\"motors\" = 4", "a.b.c = [1, {d = 2}]", "sensors = [\"axes\"]", "[settings]\ngains = [\"*gain*\", \"stiff?\"]", "settings.roll = [[1]]", "\xEF\xBB\xBF", "x",
		"layout = 'custom'\n" + arms(4), "arm = [{}, {length_mm = 1}]", "arm = [[1]]", "[[arm.x]]"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		c, err := Parse(text)
		if err != nil {
			if !same(c, Craft{}) {
				t.Fatalf("refused, yet %+v", c)
			}
			if strings.ContainsAny(err.Error(), "\n") {
				t.Fatalf("error of several lines: %q", err)
			}
			return
		}
		if err := c.Check(); err != nil {
			t.Fatalf("taken, yet %v", err)
		}
		data, err := json.Marshal(c)
		if err != nil {
			t.Fatal(err)
		}
		if again, err := ParseJSON(data); err != nil || !same(again, c) {
			t.Fatalf("%s: got %+v, %v; want %+v", data, again, err, c)
		}
	})
}
