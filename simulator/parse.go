package simulator

import (
	"bytes"
	"errors"
	"fmt"
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
	if err := spelled(at); err != nil {
		return Scenario{}, err
	}
	for k := range sc.Motors { // what a motor's table leaves out is sound
		m := &sc.Motors[k]
		for _, d := range []struct {
			key   string
			v     *float64
			sound float64
		}{
			{"thrust", &m.Thrust, 1}, {"torque", &m.Torque, 1}, {"speed", &m.Speed, 1},
			{"unbalance_gmm", &m.Unbalance, defaultUnbalance * 1e6},
		} {
			if _, ok := at[fmt.Sprintf("motor %d: %s", k+1, d.key)]; !ok {
				*d.v = d.sound
			}
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
		if se.Line == 0 {
			se.Line = at[se.Key+" 1"] // too many, too few
		}
		return Scenario{}, se
	}
	return sc, nil
}

// spelled wants keys as they are documented: the reader takes any case, and one
// table for a list of one, and what is read then would not be what is checked.
func spelled(at map[string]int) error {
	var first *ScenarioError
	blame := func(key, problem string) {
		if first == nil || at[key] < first.Line {
			first = &ScenarioError{Line: at[key], Key: key, Problem: problem}
		}
	}
	for key := range at {
		if key != strings.ToLower(key) {
			blame(key, "keys are in small letters")
		}
		for _, list := range []string{"motor", "event", "arm"} {
			if strings.HasPrefix(key, list+".") {
				blame(key, "write [["+list+"]], with two brackets: there may be more of them")
			}
		}
	}
	if first == nil {
		return nil
	}
	return first
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
		problem := strings.TrimPrefix(syntax.Error(), "toml: ")
		if strings.Contains(problem, "cannot decode") {
			problem = "value of the wrong kind"
		}
		return &ScenarioError{Line: line, Key: strings.Join(syntax.Key(), "."), Problem: problem}
	}
	return &ScenarioError{Problem: strings.TrimPrefix(err.Error(), "toml: ")}
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
