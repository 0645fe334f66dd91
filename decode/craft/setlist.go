package craft

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// A Setting is one value of the craft's own settings.
type Setting struct {
	Name  string // in tables of TOML with points: "rate.roll.p"
	Value float64
	Line  int // counted from 1; 0 not known
}

const (
	// listName is what errors call a list of settings.
	listName = "settings list"
	// maxSettings bounds a list; no craft has a tenth of it.
	maxSettings = 5_000
	// maxSettingName is the most bytes of a setting's name.
	maxSettingName = 120
)

// plainNumber is a decimal number as people and programs write it.
var plainNumber = regexp.MustCompile(`^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$`)

// ParseSettingsTOML reads name = value lines, in tables or not, in the order
// of the text. Values are numbers, true (1) or false (0). What is anything
// else is a *FieldError with its line.
func ParseSettingsTOML(data []byte) ([]Setting, error) {
	data = bytes.TrimPrefix(data, []byte("\xEF\xBB\xBF"))
	if err := shallow(data); err != nil {
		return nil, err
	}
	var whole map[string]any
	if err := toml.Unmarshal(data, &whole); err != nil { // what is no TOML, or said twice
		return nil, explainList(err)
	}
	w := listWalk{data: data, line: 1}
	w.p.Reset(data)
	table := ""
	for w.p.NextExpression() {
		e := w.p.Expression()
		switch e.Kind {
		case unstable.Table:
			table, _ = w.key(e)
			table += "."
		case unstable.ArrayTable:
			key, line := w.key(e)
			return nil, listError(line, key, "a list of tables", "write [one table] for each name")
		case unstable.KeyValue:
			if err := w.value(e, table); err != nil {
				return nil, err
			}
		}
	}
	return w.all, checkSettings(w.all)
}

func listError(line int, key, problem, hint string) *FieldError {
	if !printable(key) {
		key = strconv.Quote(key)
	}
	return &FieldError{What: listName, Line: line, Key: key, Problem: problem, Hint: hint}
}

// explainList turns the reader's errors into ours.
func explainList(err error) error {
	const hint = "write name = value, one a line"
	var syntax *toml.DecodeError
	if !errors.As(err, &syntax) {
		return listError(0, "", strings.TrimPrefix(err.Error(), "toml: "), hint)
	}
	line, _ := syntax.Position()
	key := strings.Join(syntax.Key(), ".")
	if strings.Contains(syntax.Error(), "already") {
		return listError(line, key, "written twice", "remove one of the two")
	}
	return listError(line, key, strings.TrimPrefix(syntax.Error(), "toml: "), hint)
}

// A listWalk walks over a document of TOML.
type listWalk struct {
	p    unstable.Parser
	data []byte
	off  int // where line was counted last
	line int
	all  []Setting
}

// lineOf is the line of a place. Places come in the order of the text: it goes
// on counting from the last one, since from the beginning a long list would
// take minutes.
func (w *listWalk) lineOf(off int) int {
	if off < w.off {
		w.off, w.line = 0, 1
	}
	w.line += bytes.Count(w.data[w.off:off], []byte{'\n'})
	w.off = off
	return w.line
}

// maxParts bounds the dots in a name: no name that may be used has more, and
// the reader's time grows with their square.
const maxParts = maxSettingName / 2

// shallow refuses names of very many parts, and very many names, before the
// reader sees them: its time grows with the square of either.
func shallow(data []byte) error {
	w := listWalk{data: data, line: 1}
	w.p.Reset(data)
	for n := 0; w.p.NextExpression(); n++ {
		if err := w.shallow(w.p.Expression()); err != nil {
			return err
		}
		if n > 2*maxSettings { // a table for each would be as many again
			return listError(w.line, "", fmt.Sprintf("over %d settings", maxSettings), "is it a list of settings?")
		}
	}
	return nil // what is no TOML is told by the reader
}

func (w *listWalk) shallow(n *unstable.Node) error {
	switch n.Kind {
	case unstable.KeyValue, unstable.Table, unstable.ArrayTable:
	default:
		return nil
	}
	parts, line := 0, 0
	for it := n.Key(); it.Next(); parts++ {
		if parts == 0 {
			line = w.lineOf(int(it.Node().Raw.Offset))
		}
	}
	if parts > maxParts {
		return listError(line, "", fmt.Sprintf("a name of %d parts", parts), fmt.Sprintf("use at most %d bytes of printable text", maxSettingName))
	}
	if n.Kind != unstable.KeyValue || n.Value().Kind != unstable.InlineTable {
		return nil
	}
	for it := n.Value().Children(); it.Next(); {
		if err := w.shallow(it.Node()); err != nil {
			return err
		}
	}
	return nil
}

// key is the dotted key of a node, and its line.
func (w *listWalk) key(n *unstable.Node) (string, int) {
	var parts []string
	line := 0
	for it := n.Key(); it.Next(); {
		parts = append(parts, string(it.Node().Data))
		line = w.lineOf(int(it.Node().Raw.Offset))
	}
	return strings.Join(parts, "."), line
}

// value keeps one key with its number, or those of an inline table.
func (w *listWalk) value(n *unstable.Node, table string) error {
	key, line := w.key(n)
	name := table + key
	v := n.Value()
	switch v.Kind {
	case unstable.Integer, unstable.Float:
		number, err := numberOf(v)
		if err != nil {
			return listError(line, name, "not a number that can be used: "+string(v.Data), "write a decimal number")
		}
		w.all = append(w.all, Setting{name, number, line})
	case unstable.Bool:
		number := 0.0
		if string(v.Data) == "true" {
			number = 1
		}
		w.all = append(w.all, Setting{name, number, line})
	case unstable.InlineTable:
		for it := v.Children(); it.Next(); {
			if err := w.value(it.Node(), name+"."); err != nil {
				return err
			}
		}
	default:
		return listError(line, name, "no number", "write a decimal number, without quotes or brackets")
	}
	return nil
}

// numberOf reads a number of TOML, hexadecimal and the like too.
func numberOf(v *unstable.Node) (float64, error) {
	text := strings.ReplaceAll(string(v.Data), "_", "")
	if v.Kind == unstable.Integer {
		i, err := strconv.ParseInt(text, 0, 64)
		if len(text) > 1 && (text[0] == '+' || text[0] == '-' || text[0] >= '1') {
			i, err = strconv.ParseInt(text, 10, 64)
		}
		return float64(i), err
	}
	f, err := strconv.ParseFloat(text, 64)
	if err == nil && (math.IsNaN(f) || math.IsInf(f, 0)) {
		err = errors.New("not finite")
	}
	return f, err
}

// ParseSettingsCSV reads lines of name,value, with or without a heading whose
// second word is value. A line that begins with # is none.
func ParseSettingsCSV(data []byte) ([]Setting, error) {
	r := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(data, []byte("\xEF\xBB\xBF"))))
	r.Comment, r.FieldsPerRecord, r.ReuseRecord = '#', -1, true
	var all []Setting
	lines := map[string]int{}
	for first := true; ; first = false {
		record, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		var wrong *csv.ParseError
		if errors.As(err, &wrong) {
			return nil, listError(wrong.Line, "", wrong.Err.Error(), "write name,value, one pair a line")
		}
		if err != nil {
			return nil, listError(0, "", err.Error(), "")
		}
		line, _ := r.FieldPos(0)
		for i := range record {
			record[i] = strings.TrimSpace(record[i])
		}
		if len(record) == 1 && strings.HasPrefix(record[0], "#") || len(record) == 1 && record[0] == "" {
			continue
		}
		if first && len(record) == 2 && strings.EqualFold(record[1], "value") {
			continue
		}
		s, err := pairOf(record, line)
		if err != nil {
			return nil, err
		}
		if at := lines[s.Name]; at > 0 {
			return nil, listError(line, s.Name, fmt.Sprintf("written twice, first in line %d", at), "remove one of the two")
		}
		lines[s.Name] = line
		all = append(all, s)
	}
	return all, checkSettings(all)
}

// pairOf reads one line of name,value.
func pairOf(record []string, line int) (Setting, error) {
	name := strings.Clone(record[0])
	if len(record) != 2 {
		hint := "write name,value, one pair a line"
		if len(record) == 3 && plainNumber.MatchString(record[1]+"."+record[2]) {
			hint = "write numbers with a point: " + record[1] + "." + record[2]
		}
		return Setting{}, listError(line, name, fmt.Sprintf("%d fields where two belong", len(record)), hint)
	}
	text := record[1]
	if share, ok := strings.CutSuffix(text, "%"); ok && plainNumber.MatchString(strings.TrimSpace(share)) {
		return Setting{}, listError(line, name, text+" is percent", "write the bare number that the craft takes")
	}
	if !plainNumber.MatchString(text) {
		return Setting{}, listError(line, name, fmt.Sprintf("%q is no number", text), "write a decimal number")
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil { // too large for any number
		return Setting{}, listError(line, name, text+" is too large", "write a decimal number")
	}
	return Setting{name, v, line}, nil
}

// checkSettings looks at the names, which both forms of a list have.
func checkSettings(all []Setting) error {
	if len(all) == 0 {
		return listError(0, "", "no setting in it", "write name = value, one a line")
	}
	if len(all) > maxSettings {
		return listError(all[maxSettings].Line, "", fmt.Sprintf("over %d settings", maxSettings), "is it a list of settings?")
	}
	seen := make(map[string]int, len(all))
	for i := range all {
		s := &all[i]
		if s.Name == "" || len(s.Name) > maxSettingName || !printable(s.Name) {
			return listError(s.Line, "", fmt.Sprintf("%.40q is not a name", s.Name), fmt.Sprintf("use at most %d bytes of printable text", maxSettingName))
		}
		if at, twice := seen[s.Name]; twice { // "a.b" = 1 beside a = {b = 1}
			return listError(s.Line, s.Name, fmt.Sprintf("written twice, first in line %d", at), "remove one of the two")
		}
		seen[s.Name] = s.Line
	}
	return nil
}
