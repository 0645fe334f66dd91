package alarms

import (
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// roundTo keeps n significant digits: what lies beyond them is no knowledge,
// and the last bits of a sum may differ between processors.
func roundTo(v float64, n int) float64 {
	if v == 0 || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'e', n-1, 64), 64)
	if err != nil {
		return v
	}
	return r
}

func appendNumber(dst []byte, v float64) []byte {
	return strconv.AppendFloat(dst, roundTo(v, 4), 'f', -1, 64)
}

// appendString writes a JSON string, without the escaping of <, > and & that
// is meant for web pages, and with an escape for whatever could steer a
// terminal.
func appendString(dst []byte, s string) []byte {
	var b strings.Builder
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(s); err != nil { // a string always encodes
		return append(dst, `""`...)
	}
	return append(dst, decode.EscapeJSON([]byte(strings.TrimSuffix(b.String(), "\n")))...)
}

// AppendJSON writes the event as one JSON object, keys in the order of the
// contract, without a line end. file is named where it is not empty.
func (ev *Event) AppendJSON(dst []byte, file string) []byte {
	dst = append(dst, `{"t":`...)
	dst = strconv.AppendFloat(dst, float64(ev.T)/1e6, 'f', 3, 64)
	dst = append(dst, `,"alarm":"`...)
	dst = append(dst, ev.Kind.String()...)
	dst = append(dst, `","change":"`...)
	dst = append(dst, ev.Change.String()...)
	dst = append(dst, `","priority":"`...)
	dst = append(dst, ev.Priority.String()...)
	dst = append(dst, `","where":"`...)
	dst = append(dst, ev.Where.String()...)
	dst = append(dst, `","value":`...)
	dst = appendNumber(dst, ev.Value)
	dst = append(dst, `,"limit":`...)
	dst = appendNumber(dst, ev.Limit)
	dst = append(dst, `,"text":`...)
	dst = appendString(dst, ev.Sentence())
	dst = append(dst, `,"detail":{"unit":`...)
	dst = appendString(dst, ev.Story.Unit)
	for _, f := range ev.facts() {
		dst = append(dst, ',')
		dst = appendString(dst, f.Name)
		dst = append(dst, ':')
		dst = appendFact(dst, f.Value)
	}
	dst = append(dst, '}')
	if file != "" {
		dst = append(dst, `,"file":`...)
		dst = appendString(dst, file)
	}
	return append(dst, '}')
}

func appendFact(dst []byte, v any) []byte {
	switch v := v.(type) {
	case float64:
		return appendNumber(dst, v)
	case int:
		return strconv.AppendInt(dst, int64(v), 10)
	case bool:
		return strconv.AppendBool(dst, v)
	case string:
		return appendString(dst, v)
	}
	return append(dst, "null"...)
}

// facts are the event's details after its unit.
func (ev *Event) facts() []detect.Fact {
	var out []detect.Fact
	if ev.Story.Cause != "" {
		out = append(out, detect.Fact{Name: "cause", Value: ev.Story.Cause})
	}
	if ev.Story.Action != "" {
		out = append(out, detect.Fact{Name: "action", Value: ev.Story.Action})
	}
	out = append(out, ev.Story.More...)
	if ev.First {
		out = append(out, detect.Fact{Name: "first", Value: true})
	}
	if ev.Change == Cleared {
		out = append(out, detect.Fact{Name: "lasted_s", Value: float64(ev.T-ev.Since) / 1e6})
	}
	return out
}

// Sentence tells the event in words.
func (ev *Event) Sentence() string {
	switch ev.Change {
	case Cleared:
		return fmt.Sprintf("%s at %s is gone after %.1f s", ev.Kind, ev.Where, float64(ev.T-ev.Since)/1e6)
	case Acknowledged:
		return fmt.Sprintf("%s at %s acknowledged", ev.Kind, ev.Where)
	}
	return ev.Story.Text
}

// Plain tells the event on one line of a terminal without a screen.
func (ev *Event) Plain() string {
	word := strings.ToUpper(ev.Priority.String())
	line := fmt.Sprintf("%9.3f  %-6s %-18s %-8s %-12s %s", float64(ev.T)/1e6, word, ev.Kind, ev.Where, ev.Change, ev.Sentence())
	if ev.Change == Raised || ev.Change == Worsened {
		if ev.Story.Cause != "" {
			line += " (likely: " + ev.Story.Cause + ")"
		}
		if ev.Story.Action != "" {
			line += " >> " + ev.Story.Action
		}
	}
	return line
}
