package simulator

import (
	"bytes"
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"
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
	if m := motorKey.FindStringSubmatch(name); m != nil {
		motor, _ := strconv.Atoi(m[1])
		target, name = changed.motorSpec(motor), m[2]
		if name == "motor" {
			return &ScenarioError{Key: assignment, Problem: "a motor keeps its number"}
		}
	}
	for _, text := range []string{value, strconv.Quote(value)} { // a bare word is meant as text
		err := toml.NewDecoder(bytes.NewReader([]byte(name + " = " + text + "\n"))).DisallowUnknownFields().Decode(target)
		if err == nil {
			if err = changed.Check(); err != nil {
				return err
			}
			*sc = changed
			return nil
		}
		if e, ok := explain(err).(*ScenarioError); ok && e.Problem == "no such key" {
			return &ScenarioError{Key: name, Problem: "no such key"}
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

// motorSpec returns what is wrong with a motor, for change: a sound one where
// nothing was.
func (sc *Scenario) motorSpec(motor int) *MotorSpec {
	for k := range sc.Motors {
		if sc.Motors[k].Motor == motor {
			return &sc.Motors[k]
		}
	}
	sc.Motors = append(sc.Motors, MotorSpec{Motor: motor, Thrust: 1, Torque: 1, Speed: 1, Unbalance: defaultUnbalance * 1e6})
	return &sc.Motors[len(sc.Motors)-1]
}
