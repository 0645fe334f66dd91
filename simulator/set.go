package simulator

import (
	"bytes"
	"fmt"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"tetherbell/decode/craft"
)

// motorKey is a key of one motor: motor.3.thrust.
var motorKey = regexp.MustCompile(`^motor\.([1-8])\.([a-z_]+)$`)

// Set changes one key of a scenario, given as name=value: craft.mass_g=700,
// gains.scale=1.2, mode=level, motor.3.thrust=0.6. The names are those of the
// file. An unknown name or a value of another kind is a *ScenarioError, and so
// is a scenario that can no longer be run.
func (sc *Scenario) Set(assignment string) error {
	name, value, ok := strings.Cut(assignment, "=")
	name, value = strings.TrimSpace(name), strings.TrimSpace(value)
	if !ok || name == "" || value == "" || strings.ContainsAny(value, "\r\n") {
		return &ScenarioError{Key: assignment, Problem: "want NAME=VALUE, such as gains.scale=1.2"}
	}
	changed := sc.clone()
	var target any = &changed
	top, _, _ := strings.Cut(name, ".")
	listed := ""
	if m := motorKey.FindStringSubmatch(name); m != nil {
		motor, _ := strconv.Atoi(m[1])
		target, name = changed.motorSpec(motor), m[2]
		if name == "motor" {
			return &ScenarioError{Key: assignment, Problem: "a motor keeps its number"}
		}
		listed = fmt.Sprintf("motor %d: %s", changed.motorAt(motor)+1, name)
	} else if strings.HasPrefix(name, "motor.") {
		return &ScenarioError{Key: name, Problem: "no such key; motors have the numbers 1 to 8"}
	} else if slices.Contains([]string{"motor", "event", "arm"}, top) {
		return &ScenarioError{Key: assignment, Problem: "a list; of a motor one key can be set, as in motor.3.thrust=0.6"}
	}
	for _, text := range []string{value, strconv.Quote(value)} { // a bare word is meant as text
		err := toml.NewDecoder(bytes.NewReader([]byte(name + " = " + text + "\n"))).DisallowUnknownFields().Decode(target)
		if err == nil {
			if err = changed.Check(); err != nil {
				if e, ok := err.(*ScenarioError); ok && e.Key == listed {
					e.Key = assignment
				}
				return err
			}
			*sc = changed
			return nil
		}
		if e, ok := explain(err).(*ScenarioError); ok && e.Problem == "no such key" {
			return &ScenarioError{Key: name, Problem: "no such key" + meant(name, target)}
		}
	}
	return &ScenarioError{Key: name, Problem: fmt.Sprintf("%q is no value for it", value)}
}

// clone copies a scenario, so that a change that fails leaves nothing behind.
func (sc *Scenario) clone() Scenario {
	c := *sc
	c.Arms = append([]Arm(nil), sc.Arms...)
	c.Motors = append([]MotorSpec(nil), sc.Motors...)
	c.Events = append([]Event(nil), sc.Events...)
	return c
}

// meant names the key that was meant, "" when none comes near.
func meant(name string, target any) string {
	if best := craft.Nearest(name, keysOf(reflect.TypeOf(target).Elem(), "")); best != "" {
		return "; did you mean " + best + "?"
	}
	return ""
}

// keysOf lists the keys that a value can be given for.
func keysOf(t reflect.Type, prefix string) (keys []string) {
	for k := range t.NumField() {
		f := t.Field(k)
		key := prefix + f.Tag.Get("toml")
		switch f.Type.Kind() {
		case reflect.Struct:
			keys = append(keys, keysOf(f.Type, key+".")...)
		case reflect.Slice:
		default:
			keys = append(keys, key)
		}
	}
	return keys
}

// motorAt is the place of a motor in the list of those with something wrong.
func (sc *Scenario) motorAt(motor int) int {
	return slices.IndexFunc(sc.Motors, func(m MotorSpec) bool { return m.Motor == motor })
}

// motorSpec returns what is wrong with a motor, for change: a sound one where
// nothing was.
func (sc *Scenario) motorSpec(motor int) *MotorSpec {
	if k := sc.motorAt(motor); k >= 0 {
		return &sc.Motors[k]
	}
	sc.Motors = append(sc.Motors, MotorSpec{Motor: motor, Thrust: 1, Torque: 1, Speed: 1, Unbalance: defaultUnbalance * 1e6})
	return &sc.Motors[len(sc.Motors)-1]
}
