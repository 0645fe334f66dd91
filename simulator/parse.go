package simulator

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// A ScenarioError says what is wrong with a scenario and where.
type ScenarioError struct {
	Line    int    // counted from 1; 0 when the scenario is no text or the line is not known
	Key     string // "craft.mass_g", "event 3: to"; "" not known
	Problem string
}

// Error tells line, key and problem in one line.
func (e *ScenarioError) Error() string {
	msg := "read scenario"
	if e.Line > 0 {
		msg += " line " + strconv.Itoa(e.Line)
	}
	if e.Key != "" {
		msg += ": " + e.Key
	}
	return msg + ": " + e.Problem
}

// maxText is the largest scenario: a wrong file is refused, not read.
const maxText = 256 << 10

// maxEvents bounds the events of a scenario.
const maxEvents = 1000

// Parse reads a scenario. What the text leaves out is as in Default. A key
// that is not known, a value out of range and an event that lacks something
// are errors of type *ScenarioError.
func Parse(text []byte) (Scenario, error) {
	if len(text) > maxText {
		return Scenario{}, &ScenarioError{Problem: fmt.Sprintf("over %d KiB", maxText>>10)}
	}
	sc := Default()
	if err := toml.NewDecoder(bytes.NewReader(text)).DisallowUnknownFields().Decode(&sc); err != nil {
		return Scenario{}, explain(err)
	}
	at := places(text)
	for k := range sc.Motors { // what a motor's table leaves out is sound
		if _, ok := at[fmt.Sprintf("motor %d: thrust", k+1)]; !ok {
			sc.Motors[k].Thrust = 1
		}
		if _, ok := at[fmt.Sprintf("motor %d: unbalance_gmm", k+1)]; !ok {
			sc.Motors[k].Unbalance = defaultUnbalance * 1e6
		}
	}
	err := sc.Check()
	if err == nil {
		err = sc.checkKeys(at)
	}
	var se *ScenarioError
	if errors.As(err, &se) {
		se.Line = at[se.Key]
		if table, _, ok := strings.Cut(se.Key, ": "); ok && se.Line == 0 {
			se.Line = at[table]
		}
		return Scenario{}, se
	}
	return sc, nil
}

// explain turns the reader's errors into ours.
func explain(err error) error {
	var unknown *toml.StrictMissingError
	if errors.As(err, &unknown) && len(unknown.Errors) > 0 {
		e := &unknown.Errors[0]
		line, _ := e.Position()
		return &ScenarioError{Line: line, Key: strings.Join(e.Key(), "."), Problem: "no such key"}
	}
	var syntax *toml.DecodeError
	if errors.As(err, &syntax) {
		line, _ := syntax.Position()
		return &ScenarioError{Line: line, Key: strings.Join(syntax.Key(), "."), Problem: strings.TrimPrefix(syntax.Error(), "toml: ")}
	}
	return &ScenarioError{Problem: strings.TrimPrefix(err.Error(), "toml: ")}
}

// Check says whether the scenario can be run; what is wrong is a
// *ScenarioError.
func (sc *Scenario) Check() error {
	switch {
	case sc.Name == "":
		return &ScenarioError{Key: "name", Problem: "missing"}
	case sc.Lesson == "" || strings.ContainsAny(sc.Lesson, "\r\n"):
		return &ScenarioError{Key: "lesson", Problem: "want one line"}
	case sc.Mode != "rate" && sc.Mode != "level":
		return &ScenarioError{Key: "mode", Problem: fmt.Sprintf("%q is neither rate nor level", sc.Mode)}
	case !lineText(sc.Craft.Name):
		return &ScenarioError{Key: "craft.name", Problem: "want 1 to 60 printable characters without comma and asterisk"}
	case !lineText(sc.Link.Name):
		return &ScenarioError{Key: "link.name", Problem: "want 1 to 60 printable characters without comma and asterisk"}
	case sc.Craft.Poles%2 != 0:
		return &ScenarioError{Key: "craft.magnet_poles", Problem: fmt.Sprintf("%d is odd", sc.Craft.Poles)}
	case len(sc.Events) > maxEvents:
		return &ScenarioError{Key: "event", Problem: fmt.Sprintf("over %d of them", maxEvents)}
	case len(sc.Motors) > len(mix):
		return &ScenarioError{Key: "motor", Problem: fmt.Sprintf("over %d of them", len(mix))}
	}
	if err := within(reflect.ValueOf(sc).Elem(), ""); err != nil {
		return err
	}
	return errors.Join(sc.checkMass(), sc.checkEvents(), sc.checkBaud())
}

func lineText(s string) bool {
	for _, c := range []byte(s) {
		if c < 0x20 || c > 0x7E || c == ',' || c == '*' {
			return false
		}
	}
	return s != "" && len(s) <= 60
}

// within holds every number against the range in its tag.
func within(v reflect.Value, prefix string) error {
	for k := range v.NumField() {
		f, tag := v.Field(k), v.Type().Field(k).Tag
		key := prefix + tag.Get("toml")
		switch f.Kind() {
		case reflect.Struct:
			if err := within(f, key+"."); err != nil {
				return err
			}
			continue
		case reflect.Slice:
			for n := range f.Len() {
				if err := within(f.Index(n), fmt.Sprintf("%s %d: ", key, n+1)); err != nil {
					return err
				}
			}
			continue
		}
		var n float64
		switch {
		case f.CanFloat():
			n = f.Float()
		case f.CanInt():
			n = float64(f.Int())
		case f.CanUint():
			n = float64(f.Uint())
		default:
			continue
		}
		if math.IsNaN(n) || math.IsInf(n, 0) {
			return &ScenarioError{Key: key, Problem: "not a finite number"}
		}
		low, high, ok := strings.Cut(tag.Get("within"), " ")
		if !ok {
			continue
		}
		lo, _ := strconv.ParseFloat(low, 64)
		hi, _ := strconv.ParseFloat(high, 64)
		if n < lo || n > hi {
			return &ScenarioError{Key: key, Problem: fmt.Sprintf("%v is not within %s..%s", f.Interface(), low, high)}
		}
	}
	return nil
}

// checkMass refuses a craft whose parts weigh more than the whole.
func (sc *Scenario) checkMass() error {
	c := &sc.Craft
	if parts := 4 * (c.MotorG + c.ArmG); parts >= c.MassG {
		return &ScenarioError{Key: "craft.mass_g", Problem: fmt.Sprintf("%v is not more than four motors and arms, %v", c.MassG, parts)}
	}
	return nil
}

// checkEvents holds every event against what its action needs.
func (sc *Scenario) checkEvents() error {
	for k := range sc.Events {
		e := &sc.Events[k]
		bad := func(key, format string, args ...any) error {
			return &ScenarioError{Key: fmt.Sprintf("event %d: %s", k+1, key), Problem: fmt.Sprintf(format, args...)}
		}
		a, ok := actions[e.Do]
		needs := strings.Fields(a.needs)
		switch {
		case !ok:
			return bad("do", "no such action %q", e.Do)
		case e.At > sc.Seconds:
			return bad("at", "%v is after the end at %v", e.At, sc.Seconds)
		case e.Do == "set" && settingIndex(e.Name) < 0:
			return bad("name", "no such setting %q", e.Name)
		case e.Do == "set" && (e.Value < 0 || e.Value > 10000):
			return bad("value", "%v is not within 0..10000", e.Value)
		case e.Do == "tap" && !slices.Contains(axisNames, e.Name):
			return bad("name", "%q is none of roll, pitch, yaw", e.Name)
		case math.Abs(e.Value) > 10000:
			return bad("value", "%v is not within -10000..10000", e.Value)
		case slices.Contains(needs, "motor") && (e.Motor < 1 || e.Motor > len(mix)):
			return bad("motor", "%d is not within 1..%d", e.Motor, len(mix))
		case e.Do == "note" && (!lineText(strings.ReplaceAll(e.Text, ",", " ")) || len(e.Text) > 60):
			return bad("text", "want 1 to 60 printable characters without asterisk")
		case e.To < 0 && (e.Do == "throttle" || e.Do == "lose" || e.Do == "flip"):
			return bad("to", "%v is under 0", e.To)
		case e.Do == "lose" && e.To > 0.9:
			return bad("to", "%v is over 0.9", e.To)
		}
	}
	return nil
}

// checkKeys wants an event to have what it needs and nothing that would be
// ignored.
func (sc *Scenario) checkKeys(at map[string]int) error {
	for k := range sc.Events {
		a := actions[sc.Events[k].Do]
		needs := strings.Fields("at " + a.needs)
		may := append(strings.Fields("do "+a.may), needs...)
		for _, key := range []string{"at", "do", "to", "over", "seconds", "motor", "name", "value", "text"} {
			full := fmt.Sprintf("event %d: %s", k+1, key)
			_, there := at[full]
			switch {
			case !there && slices.Contains(needs, key):
				return &ScenarioError{Key: full, Problem: "missing for " + sc.Events[k].Do}
			case there && !slices.Contains(may, key):
				return &ScenarioError{Key: full, Problem: "of no use to " + sc.Events[k].Do}
			}
		}
	}
	return nil
}

// checkBaud wants the streams to fit the line with a tenth to spare: a bridge
// that sends more falls behind its clock.
func (sc *Scenario) checkBaud() error {
	if sc.Link.Baud == 0 {
		return nil
	}
	room := 0.9 * float64(sc.Link.Baud) / 10 // 8N1: ten bits a byte
	if need := sc.BytesPerSecond(); need > room {
		return &ScenarioError{Key: "link.baud", Problem: fmt.Sprintf("%d carries %.0f bytes a second with a tenth to spare, the streams need about %.0f", sc.Link.Baud, room, need)}
	}
	return nil
}

// BytesPerSecond estimates what the streams take on the line, line ends
// included, from lines of usual length.
func (sc *Scenario) BytesPerSecond() float64 {
	r := &sc.Rates
	return 90*r.Axes + 58*r.Out + 62*r.ERPM + 50*r.Accel + 34*r.Load + 48*r.Temp + 40*r.Pack + 41*r.Air + 54*r.State + 45
}

// places maps every key of a valid text to its line: "craft.mass_g",
// "event 3", "event 3: to".
func places(text []byte) map[string]int {
	lines := make(map[string]int)
	seen := make(map[string]int)
	var p unstable.Parser
	p.Reset(text)
	table := ""
	for p.NextExpression() {
		e := p.Expression()
		key, line := keyOf(&p, e)
		switch e.Kind {
		case unstable.ArrayTable:
			seen[key]++
			key = fmt.Sprintf("%s %d", key, seen[key])
			lines[key] = line
			table = key + ": "
		case unstable.Table:
			lines[key] = line
			table = key + "."
		case unstable.KeyValue:
			file(&p, e, table, lines)
		}
	}
	return lines
}

// file notes the line of a key, and of the keys inside its value.
func file(p *unstable.Parser, n *unstable.Node, prefix string, lines map[string]int) {
	key, line := keyOf(p, n)
	key = prefix + key
	lines[key] = line
	switch v := n.Value(); v.Kind {
	case unstable.InlineTable:
		for it := v.Children(); it.Next(); {
			file(p, it.Node(), key+".", lines)
		}
	case unstable.Array: // of inline tables: event = [ {...}, {...} ]
		count := 0
		for it := v.Children(); it.Next(); {
			count++
			if it.Node().Kind != unstable.InlineTable {
				continue
			}
			for in := it.Node().Children(); in.Next(); {
				file(p, in.Node(), fmt.Sprintf("%s %d: ", key, count), lines)
			}
		}
	}
}

func keyOf(p *unstable.Parser, n *unstable.Node) (string, int) {
	var parts []string
	line := 0
	for it := n.Key(); it.Next(); {
		parts = append(parts, string(it.Node().Data))
		line = p.Shape(it.Node().Raw).Start.Line
	}
	return strings.Join(parts, "."), line
}
