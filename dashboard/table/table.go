package table

import (
	"strings"

	"tetherbell/decode"
)

// Type says what a column holds.
type Type uint8

// The types of column.
const (
	Seconds Type = iota // engine time; a Cell holds it in microseconds
	Number              // a decimal number
	Whole               // a whole number
	Flag                // true or false
	Text                // UTF-8
)

// A Column is one column of a table.
type Column struct {
	Name  string
	Type  Type
	Unit  string // "" where there is nothing to measure in, "1" for a share
	About string // what it is, for people
	Known bool   // never empty
}

// A Table is what a table is made of, without its rows.
type Table struct {
	Name    string
	About   string
	Columns []Column
}

// A Cell is one value of a row.
type Cell struct {
	Num  float64 // all types but Text; a flag is 0 or 1
	Text []byte  // valid during the call that takes it
	Has  bool    // false: not measured
}

var timeColumn = Column{Name: "t", Type: Seconds, Unit: "s", About: "engine time since the session's first good line", Known: true}

// typeOf says how a field of a line stands in a table.
var typeOf = map[decode.Kind]Type{
	decode.Number: Number, decode.Whole: Whole, decode.Flag: Flag,
	decode.Word: Text, decode.Text: Text, decode.Rest: Text,
}

// OfTag is the table of a tag's lines. Unknown has none.
func OfTag(tag decode.Tag) Table {
	t := Table{Name: tag.String(), About: "the lines of the tag " + tag.String(), Columns: []Column{timeColumn}}
	for _, f := range decode.Fields(tag) {
		t.Columns = append(t.Columns, Column{Name: f.Name, Type: typeOf[f.Kind], Unit: f.Unit, About: f.About})
	}
	return t
}

// Alarms is the table of what rang: an event a row, as check tells it.
var Alarms = Table{Name: "alarms", About: "what rang, and when it changed", Columns: []Column{
	timeColumn,
	{Name: "alarm", Type: Text, About: "name of the alarm", Known: true},
	{Name: "change", Type: Text, About: "raised, worsened, eased, cleared or acknowledged", Known: true},
	{Name: "priority", Type: Text, About: "high, medium, low or note", Known: true},
	{Name: "where", Type: Text, About: "axis, motors, link, pack or craft", Known: true},
	{Name: "value", Type: Number, About: "what was measured, in the row's unit", Known: true},
	{Name: "limit", Type: Number, About: "what it is held against, in the row's unit", Known: true},
	{Name: "unit", Type: Text, About: "unit of value and limit, 1 for a share"},
	{Name: "text", Type: Text, About: "the event in a sentence"},
	{Name: "cause", Type: Text, About: "likely cause"},
	{Name: "action", Type: Text, About: "the first thing to do"},
	{Name: "first", Type: Flag, About: "first of a burst", Known: true},
	{Name: "lasted_s", Type: Number, Unit: "s", About: "of a cleared alarm: how long it was up"},
	{Name: "detail", Type: Text, About: "all that was computed, a JSON object", Known: true},
}}

// Marks is the table of what the person did but acknowledge.
var Marks = Table{Name: "marks", About: "what was noted by hand, or by the card of a guided run", Columns: []Column{
	timeColumn,
	{Name: "by", Type: Text, About: "person or card", Known: true},
	{Name: "text", Type: Text, About: "what was noted"},
}}

// About is the table of one row that tells of the recording.
var About = Table{Name: "recording", About: "the recording that the tables were made of", Columns: []Column{
	{Name: "start_utc", Type: Text, About: "when it began, RFC 3339; t counts from its first good line"},
	{Name: "craft", Type: Text, About: "name of the craft"},
	{Name: "source", Type: Text, About: "what was listened to"},
	{Name: "file", Type: Text, About: "name of the recording", Known: true},
	{Name: "sha256", Type: Text, About: "SHA-256 of the recording's bytes", Known: true},
	{Name: "bytes", Type: Whole, Unit: "B", About: "size of the recording", Known: true},
	{Name: "lines", Type: Whole, About: "good lines, those of unknown tags included", Known: true},
	{Name: "unknown", Type: Whole, About: "good lines of unknown tags: in no table", Known: true},
	{Name: "bad", Type: Whole, About: "lines that were rejected: in no table", Known: true},
	{Name: "lost", Type: Whole, About: "lines that the bridge sent and nobody heard", Known: true},
	{Name: "duration_s", Type: Seconds, Unit: "s", About: "t of the last good line", Known: true},
	{Name: "made_by", Type: Text, About: "program that judged it and made the tables", Known: true},
	{Name: "remarks", Type: Text, About: "what is odd about the recording: damaged, torn, without an end, lines that are missing"},
}}

// all lists the tables that a session may have.
func all() []Table {
	var out []Table
	for tag := decode.Unknown + 1; tag < decode.TagCount; tag++ {
		out = append(out, OfTag(tag))
	}
	return append(out, Alarms, Marks, About)
}

// Info is what a session's tables say of the recording.
type Info struct {
	File     string // name of the recording, without its folder
	Source   string // what was listened to; "" not known
	StartUTC string // RFC 3339; "" not known
	Craft    string // its name; "" not known
	MadeBy   string // program and version
	Remarks  string // what is odd about the recording; "" nothing
	SHA256   string // of the recording's bytes, hexadecimal
	Bytes    int64  // of the recording

	Lines, Unknown, Bad, Lost uint64
	Duration                  int64 // engine time of the last good line, microseconds

	// Ordered says of each tag that its lines lie in the order of t. Streams
	// may lag, so it is looked up before and not taken for granted.
	Ordered [decode.TagCount]bool
}

// row is the recording as the one row of its table.
func (i *Info) row() []Cell {
	return []Cell{
		textCell(i.StartUTC), textCell(i.Craft), textCell(i.Source), textCell(i.File), textCell(i.SHA256),
		numCell(float64(i.Bytes)), numCell(float64(i.Lines)), numCell(float64(i.Unknown)), numCell(float64(i.Bad)),
		numCell(float64(i.Lost)), numCell(float64(i.Duration)), textCell(i.MadeBy), textCell(i.Remarks),
	}
}

func numCell(v float64) Cell { return Cell{Num: v, Has: true} }

// textCell holds a text; an empty one was not told.
func textCell(s string) Cell {
	return Cell{Text: []byte(strings.ToValidUTF8(s, "\uFFFD")), Has: s != ""}
}
