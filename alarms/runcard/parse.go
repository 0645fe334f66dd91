package runcard

import (
	"bytes"
	"errors"
	"fmt"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"tetherbell/decode/craft"
)

// maxText is the largest card: its text goes into a recording's header, whose
// line is at most 64 KiB, and JSON may spell a byte with six.
const maxText = 9 << 10

// The file as it is written. Pointers tell a zero from nothing.
type cardFile struct {
	Name  string     `toml:"name"`
	Title string     `toml:"title"`
	Step  []stepFile `toml:"step"`
}

type stepFile struct {
	ID       string   `toml:"id"`
	Kind     string   `toml:"kind"`
	Say      string   `toml:"say"`
	Why      string   `toml:"why"`
	IfFailed string   `toml:"if_failed"`
	Hands    *bool    `toml:"hands"`
	Released *bool    `toml:"released"`
	Throttle *float64 `toml:"throttle"`
	Seconds  *float64 `toml:"seconds"`
	WithinMS *float64 `toml:"within_ms"`
	Move     *float64 `toml:"move"`
	MostC    *float64 `toml:"most_c"`
	SpreadC  *float64 `toml:"spread_c"`
}

var topKeys = []string{"name", "title", "step"}

var stepKeys = []string{"id", "kind", "say", "why", "if_failed", "hands", "released", "throttle", "seconds", "within_ms", "move", "most_c", "spread_c"}

// what is read, in errors.
const what = "card"

// Parse reads a card. A key that is not known, a value out of range, a value
// that the step's kind has no use for and a step that a person would have to
// tick while the craft is armed are errors of type *Error.
func Parse(data []byte) (*Card, error) {
	if len(data) > maxText {
		return nil, &Error{What: what, Problem: fmt.Sprintf("over %d KiB", maxText>>10), Hint: "name a card; tetherbell card --example prints one"}
	}
	data = bytes.TrimPrefix(data, []byte("\xEF\xBB\xBF")) // some editors put a mark there
	var f cardFile
	if err := toml.NewDecoder(bytes.NewReader(data)).DisallowUnknownFields().Decode(&f); err != nil {
		e := explain(err)
		e.What = what
		return nil, e
	}
	c, err := f.card()
	if err != nil {
		err.What = what
		err.Line, err.Column = placeOf(data, err.Key)
		return nil, err
	}
	c.Text = string(data)
	return c, nil
}

// explain turns the reader's errors into ours.
func explain(err error) *Error {
	var unknown *toml.StrictMissingError
	if errors.As(err, &unknown) && len(unknown.Errors) > 0 {
		e := &unknown.Errors[0]
		line, column := e.Position()
		key := strings.Join(e.Key(), ".")
		return &Error{Line: line, Column: column, Key: key, Problem: "no such key", Hint: meant(key)}
	}
	var syntax *toml.DecodeError
	if errors.As(err, &syntax) {
		line, column := syntax.Position()
		out := &Error{Line: line, Column: column, Key: strings.Join(syntax.Key(), "."),
			Problem: strings.TrimPrefix(syntax.Error(), "toml: "), Hint: `write key = value, and texts in "quotes"`}
		if strings.Contains(out.Problem, "already") {
			out.Problem, out.Hint = "written twice", "remove one of the two"
		} else if out.Key != "" && strings.Contains(out.Problem, "cannot decode") {
			out.Problem, out.Hint = "value of the wrong kind", wanted(out.Key)
		}
		return out
	}
	return &Error{Problem: strings.TrimPrefix(err.Error(), "toml: ")}
}

// meant finds the key that was meant.
func meant(key string) string {
	table, short := "", key
	if i := strings.LastIndexByte(key, '.'); i >= 0 {
		table, short = key[:i], key[i+1:]
	}
	here, elsewhere := topKeys, stepKeys
	if table != "" {
		here, elsewhere = stepKeys, topKeys
	}
	for _, k := range elsewhere {
		if k == short {
			if table == "" {
				return "put it below a [[step]]"
			}
			return "put it above the first [[step]]"
		}
	}
	if near := craft.Nearest(short, here); near != "" {
		return "did you mean " + near
	}
	return "the keys are: " + strings.Join(here, ", ")
}

// wanted says what to write for a key.
func wanted(key string) string {
	short := key[strings.LastIndexByte(key, '.')+1:]
	for _, r := range ranges {
		if r.key == short {
			return fmt.Sprintf("write a number from %g to %g", r.low, r.high)
		}
	}
	if short == "hands" || short == "released" {
		return "write true, or leave it out"
	}
	if short == "step" {
		return "write [[step]] on a line of its own for each step, and its keys below it"
	}
	return `write a text in "quotes"`
}

// placeOf finds the line and the column of a key such as step.2.kind; those of
// its table where it is not written. Steps are counted from 1.
func placeOf(data []byte, key string) (line, column int) {
	var p unstable.Parser
	p.Reset(data)
	prefix, steps := "", 0
	table, _, _ := cutLast(key)
	for p.NextExpression() {
		e := p.Expression()
		it := e.Key()
		var parts []string
		at := [2]int{}
		for first := true; it.Next(); first = false {
			parts = append(parts, string(it.Node().Data))
			if first {
				start := p.Shape(it.Node().Raw).Start
				at = [2]int{start.Line, start.Column}
			}
		}
		name := strings.Join(parts, ".")
		switch e.Kind {
		case unstable.ArrayTable:
			steps++
			name = fmt.Sprintf("%s.%d", name, steps)
			prefix = name + "."
		case unstable.Table:
			prefix = name + "."
		default:
			name = prefix + name
		}
		if name == key {
			return at[0], at[1]
		}
		if name == table {
			line, column = at[0], at[1]
		}
	}
	return line, column
}

// cutLast splits a key at its last dot.
func cutLast(key string) (table, short string, dotted bool) {
	i := strings.LastIndexByte(key, '.')
	if i < 0 {
		return "", key, false
	}
	return key[:i], key[i+1:], true
}
