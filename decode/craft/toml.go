package craft

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// maxFile is the largest craft file: a wrong file is refused, not read.
const maxFile = 64 << 10

// Load reads a craft file. What is wrong with its content is a *FieldError
// with file and line.
func Load(path string) (Craft, error) {
	f, err := os.Open(path)
	if err != nil {
		return Craft{}, fmt.Errorf("read craft file: %w", err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxFile+1))
	if err != nil {
		return Craft{}, fmt.Errorf("read craft file: %w", err)
	}
	c, err := Parse(data)
	var fe *FieldError
	if errors.As(err, &fe) {
		fe.File = path
	}
	return c, err
}

// Parse reads the text of a craft file. Every key is optional; one that is not
// known, a value out of range, a zero and a number that is not finite are
// errors of type *FieldError.
func Parse(data []byte) (Craft, error) {
	if len(data) > maxFile {
		return Craft{}, &FieldError{Problem: fmt.Sprintf("over %d KiB", maxFile>>10), Hint: "name a craft file; see the example for what one looks like"}
	}
	data = bytes.TrimPrefix(data, []byte("\xEF\xBB\xBF")) // some editors put a mark there
	var c Craft
	err := toml.NewDecoder(bytes.NewReader(data)).DisallowUnknownFields().EnableUnmarshalerInterface().Decode(&c)
	if err != nil {
		return Craft{}, explain(err)
	}
	if len(c.Arms) == 0 {
		c.Arms = nil // an empty list is none
	}
	lines := places(data)
	if err := errors.Join(zeroes(&c, lines), c.Check(), c.checkLayout()); err != nil {
		var fe *FieldError
		errors.As(err, &fe) // the first
		fe.Line = lineOf(lines, fe.Key)
		return Craft{}, fe
	}
	return c, nil
}

// zeroes refuses a zero that was written: it would silently mean not known,
// or the default of a limit, and never what its writer had in mind.
func zeroes(c *Craft, lines map[string]int) error {
	for _, b := range bounds {
		if _, written := lines[b.key]; written && b.value(c) == 0 {
			return &FieldError{Key: b.key, Problem: fmt.Sprintf("0 is not within %s..%s", plain(b.low), plain(b.high)),
				Hint: "leave the key out where it is not known or the default will do"}
		}
	}
	return nil
}

// explain turns the reader's errors into ours.
func explain(err error) error {
	var unknown *toml.StrictMissingError
	if errors.As(err, &unknown) && len(unknown.Errors) > 0 {
		e := &unknown.Errors[0]
		line, _ := e.Position()
		key := strings.Join(e.Key(), ".")
		return &FieldError{Line: line, Key: key, Problem: "no such key", Hint: suggest(key)}
	}
	var syntax *toml.DecodeError
	if errors.As(err, &syntax) {
		line, _ := syntax.Position()
		key := strings.Join(syntax.Key(), ".")
		if strings.Contains(syntax.Error(), "already") {
			return &FieldError{Line: line, Key: key, Problem: "written twice", Hint: "remove one of the two"}
		}
		if hint, ok := wanted(key); ok {
			return &FieldError{Line: line, Key: key, Problem: "value of the wrong kind", Hint: hint}
		}
		return &FieldError{Line: line, Key: key, Problem: strings.TrimPrefix(syntax.Error(), "toml: "),
			Hint: `write key = value, and texts in "quotes"`}
	}
	return &FieldError{Problem: strings.TrimPrefix(err.Error(), "toml: ")}
}

// wanted says what to write for a known key.
func wanted(key string) (string, bool) {
	switch key {
	case "name", "layout", "hold":
		return `write a text in "quotes"`, true
	case "arm":
		return "write [[arm]] on a line of its own for each motor, and below it bearing_deg, length_mm and clockwise", true
	case "limits":
		return "write [limits] on a line of its own and the limits below it", true
	case "settings":
		return "write [settings] on a line of its own and the lists below it", true
	}
	if hint, ok := armHints[key]; ok {
		return hint, true
	}
	for _, b := range bounds {
		if b.key == key {
			return b.hint, true
		}
	}
	return "", false
}

// suggest finds the key that was meant.
func suggest(key string) string {
	const none = "remove it, or see the example file for the keys there are"
	for _, k := range keys() {
		if k != key && short(k) == short(key) {
			if table := strings.TrimSuffix(k, short(k)); table != "" {
				if table == "arm." {
					return "put it below an [[arm]]"
				}
				return "put it below [" + strings.TrimSuffix(table, ".") + "]"
			}
			return "put it above [" + strings.TrimSuffix(strings.TrimSuffix(key, short(key)), ".") + "]"
		}
	}
	if best := Nearest(key, keys()); best != "" {
		return "did you mean " + best
	}
	return none
}

// Nearest finds the key that was meant by one that is not known, tables aside:
// at most two letters of its own name are off. "" when none is.
func Nearest(key string, known []string) string { return NearestWithin(key, known, 2) }

// NearestWithin is Nearest with its own bound of letters that are off: names of
// three or four letters have a neighbour at two.
func NearestWithin(key string, known []string, most int) string {
	best, least := "", most+1
	for _, k := range known {
		if d := distance(short(k), short(key)); d < least {
			best, least = k, d
		}
	}
	return best
}

// keys are all keys of a craft file.
func keys() []string {
	all := []string{"name", "layout", "hold", "sensors", "arm.bearing_deg", "arm.length_mm", "arm.clockwise"}
	for _, b := range bounds {
		all = append(all, b.key)
	}
	for _, k := range settingKeys {
		all = append(all, k.key)
	}
	return all
}

// distance counts the letters to change, add or drop to get from a to b.
func distance(a, b string) int {
	if len(a) > maxName || len(b) > maxName {
		return maxName
	}
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		corner := row[0]
		row[0] = i + 1
		for j := range len(b) {
			d := corner
			if a[i] != b[j] {
				d = 1 + min(corner, row[j], row[j+1])
			}
			corner, row[j+1] = row[j+1], d
		}
	}
	return row[len(b)]
}

// lineOf is the line of a key, or of the table that should hold it.
func lineOf(lines map[string]int, key string) int {
	for {
		if n, ok := lines[key]; ok {
			return n
		}
		dot := strings.LastIndexByte(key, '.')
		if dot < 0 {
			return 0
		}
		key = key[:dot]
	}
}

// places maps every key of a valid document to its line. The tables of an
// array are numbered from 1: arm.2.length_mm.
func places(data []byte) map[string]int {
	lines := make(map[string]int)
	many := make(map[string]int)
	var p unstable.Parser
	p.Reset(data)
	table := ""
	for p.NextExpression() {
		e := p.Expression()
		switch e.Kind {
		case unstable.Table:
			table = note(&p, e, "", lines) + "."
		case unstable.ArrayTable:
			key := note(&p, e, "", lines)
			many[key]++
			numbered := fmt.Sprintf("%s.%d", key, many[key])
			lines[numbered] = lineHere(&p, e)
			table = numbered + "."
		case unstable.KeyValue:
			note(&p, e, table, lines)
		}
	}
	return lines
}

// lineHere is the line of a table's name.
func lineHere(p *unstable.Parser, n *unstable.Node) int {
	it := n.Key()
	it.Next()
	return p.Shape(it.Node().Raw).Start.Line
}

// note files the line of a key, and of the keys of inline tables behind it.
func note(p *unstable.Parser, n *unstable.Node, prefix string, lines map[string]int) string {
	var parts []string
	line := 0
	for it := n.Key(); it.Next(); {
		parts = append(parts, string(it.Node().Data))
		line = p.Shape(it.Node().Raw).Start.Line
	}
	key := prefix + strings.Join(parts, ".")
	if _, told := lines[key]; !told { // of an array, the first
		lines[key] = line
	}
	if n.Kind != unstable.KeyValue {
		return key
	}
	switch v := n.Value(); v.Kind {
	case unstable.InlineTable:
		noteAll(p, v, key, lines)
	case unstable.Array:
		i := 0
		for it := v.Children(); it.Next(); {
			if it.Node().Kind == unstable.InlineTable {
				i++
				numbered := fmt.Sprintf("%s.%d", key, i)
				lines[numbered] = line
				noteAll(p, it.Node(), numbered, lines)
			}
		}
	}
	return key
}

func noteAll(p *unstable.Parser, table *unstable.Node, key string, lines map[string]int) {
	for it := table.Children(); it.Next(); {
		note(p, it.Node(), key+".", lines)
	}
}
