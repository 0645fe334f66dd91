package link

import (
	"bytes"
	"encoding/json"
	"strings"
)

// Kind says what one line of a recording is.
type Kind uint8

// The kinds of line in a recording. All but Wire are the host's own and
// begin with '#'.
const (
	Wire   Kind = iota // a line as it came from the bridge
	Header             // #session {json}
	At                 // #at SECONDS
	Ack                // #ack ALARM WHERE
	Mark               // #mark text
	Pause              // #pause SECONDS
	Alarm              // #alarm {json}: what was said
	Lost               // #lost COUNT: so many lines could not be recorded here
	End                // #end {json}
	Drill              // #drill TEXT: what a drill scores by, sealed
	Bridge             // #bridge N SECONDS: the lines that follow came from bridge N, in a piece read at that time
	Note               // #note text: what the monitor tells of itself; no input of the engine
	Other              // any other line of the host, or one that does not parse
)

const wirePrefix = "#wire "

// An Item is one line of a recording. Its slices are valid until the next
// item is read.
type Item struct {
	Kind  Kind
	Line  []byte // Wire: the line without its line feed. Else: what follows the word
	MS    int64  // At, Pause: milliseconds
	Count uint64 // Lost; Bridge: its number, from 1
	US    int64  // Bridge: microseconds of the host's clock
	Alarm []byte // Ack
	Where []byte // Ack
}

// ParseItem sorts one line of a recording, given without its line feed. Text
// that no host line can be read from is Other; nothing is an error.
func ParseItem(line []byte, it *Item) {
	*it = Item{Kind: Wire, Line: line}
	if len(line) == 0 || line[0] != '#' {
		it.keepShort()
		return
	}
	if rest, ok := bytes.CutPrefix(line, []byte(wirePrefix)); ok {
		it.Line = rest
		if len(rest) == 0 || rest[0] != '#' {
			it.Kind = Other // only such a line is written so
		}
		it.keepShort()
		return
	}
	word, rest, _ := bytes.Cut(bytes.TrimSuffix(line, []byte{'\r'}), []byte{' '})
	it.Line = rest
	it.Kind = it.parseHost(string(word))
}

// keepShort holds a line of a recording to the length that it could have had
// on the wire.
func (it *Item) keepShort() {
	if len(it.Line) > MaxLine {
		it.Line = it.Line[:MaxLine]
	}
}

func (it *Item) parseHost(word string) Kind {
	ok := true
	kind := Other
	switch word {
	case "#session":
		return Header
	case "#mark":
		return Mark
	case "#note":
		return Note
	case "#alarm":
		return Alarm
	case "#end":
		return End
	case "#drill":
		return Drill
	case "#at":
		kind = At
		it.MS, ok = parseMillis(it.Line)
	case "#pause":
		kind = Pause
		it.MS, ok = parseMillis(it.Line)
	case "#lost":
		kind = Lost
		var n int64
		n, ok = parseWhole(it.Line)
		it.Count = uint64(n)
	case "#bridge":
		kind = Bridge
		ok = it.parseBridge()
	case "#ack":
		kind = Ack
		it.Alarm, it.Where, ok = bytes.Cut(it.Line, []byte{' '})
		ok = ok && len(it.Alarm) > 0 && len(it.Where) > 0
	}
	if !ok {
		return Other
	}
	return kind
}

// A whose keeps whose the lines are, of several bridges. Behind a hole nobody knows
// until a bridge is named again: such lines are blank, for another's would pass for
// a bridge that began anew.
type whose struct{ several, unknown bool }

func (w *whose) see(it *Item) {
	switch it.Kind {
	case Bridge:
		w.several, w.unknown = true, false
	case Lost:
		w.unknown = w.several
	case Wire:
		if w.unknown {
			it.Line = it.Line[:0]
		}
	}
}

// MaxBridges is the most bridges of one recording.
const MaxBridges = 4

func (it *Item) parseBridge() bool {
	number, at, _ := bytes.Cut(it.Line, []byte{' '})
	n, ok := parseWhole(number)
	if !ok || n < 1 || n > MaxBridges {
		return false
	}
	it.Count = uint64(n)
	it.US, ok = parseDecimals(at, 1_000_000)
	return ok
}

// parseMillis reads seconds with at most three decimals that count.
func parseMillis(text []byte) (int64, bool) { return parseDecimals(text, 1000) }

// parseDecimals reads a decimal number in parts, so many of which are one.
func parseDecimals(text []byte, parts int64) (int64, bool) {
	whole, frac, dot := bytes.Cut(text, []byte{'.'})
	s, ok := parseWhole(whole)
	if !ok || (dot && len(frac) == 0) {
		return 0, false
	}
	v := s * parts
	for i, unit := 0, parts/10; i < len(frac); i, unit = i+1, unit/10 {
		if frac[i] < '0' || frac[i] > '9' {
			return 0, false
		}
		v += int64(frac[i]-'0') * unit
	}
	return v, true
}

// maxWhole bounds whole numbers of host lines: seconds of thirty thousand
// years, far from overflow once they are microseconds.
const maxWhole = 1_000_000_000_000

func parseWhole(text []byte) (int64, bool) {
	var v int64
	for _, c := range text {
		if c < '0' || c > '9' || v > maxWhole {
			return 0, false
		}
		v = 10*v + int64(c-'0')
	}
	return v, len(text) > 0 && v <= maxWhole
}

// A SessionHeader is the first line of a recording.
type SessionHeader struct {
	Tool    string          `json:"tool"`
	Version string          `json:"version"`
	Start   string          `json:"start_utc"` // RFC 3339
	Source  string          `json:"source"`
	Baud    int             `json:"baud"`              // 0: not known
	Sources []string        `json:"sources,omitempty"` // of several bridges, the first is bridge 1; empty: Source is the only one
	Bauds   []int           `json:"bauds,omitempty"`   // of each of them
	Craft   json.RawMessage `json:"craft,omitempty"`   // left as it is: its meaning is another's
	Card    string          `json:"card,omitempty"`    // text of the card that the run was made with, left as it is too

	// A recording whose file was lost goes on in another. What stands in the
	// lost one up to a byte is safe; this file repeats what came after it.
	Continues   string `json:"continues,omitempty"` // name of the lost file
	ContinuesAt int64  `json:"continues_at,omitempty"`
}

// ParseHeader reads the JSON of a header, taking what it can: a key that is
// missing or of another type stays zero, unknown keys are ignored. It reports
// false when the text is no JSON object at all.
func ParseHeader(text []byte) (SessionHeader, bool) {
	var h SessionHeader
	var raw map[string]json.RawMessage
	if json.Unmarshal(text, &raw) != nil || raw == nil {
		return h, false
	}
	take := func(key string, into any) {
		if v, ok := raw[key]; ok {
			_ = json.Unmarshal(v, into) // of another type: stays zero
		}
	}
	take("tool", &h.Tool)
	take("version", &h.Version)
	take("start_utc", &h.Start)
	take("source", &h.Source)
	take("baud", &h.Baud)
	take("sources", &h.Sources)
	take("bauds", &h.Bauds)
	h.settleSources()
	h.Craft = raw["craft"]
	take("card", &h.Card)
	take("continues", &h.Continues)
	take("continues_at", &h.ContinuesAt)
	return h, true
}

// mostSource is how long a source's name may be: what is longer would fill a screen.
const mostSource = 120

// SourceName is the name of a source as a header keeps it: text, and of what is too
// long both ends. Alarms name sources: who tells them beside a recording must name
// them so.
func SourceName(name string) string {
	name = strings.ToValidUTF8(name, "\uFFFD")
	if len(name) <= mostSource {
		return name
	}
	const mark = "..."
	half := (mostSource - len(mark)) / 2
	return strings.ToValidUTF8(name[:half], "") + mark + strings.ToValidUTF8(name[len(name)-half:], "")
}

// settleSources holds what a header says of its sources to what can be.
func (h *SessionHeader) settleSources() {
	if h.Baud < 0 || h.Baud > MaxBaud {
		h.Baud = 0
	}
	if len(h.Sources) < 2 || len(h.Sources) > MaxBridges {
		h.Sources, h.Bauds = nil, nil
		return
	}
	for i, name := range h.Sources {
		h.Sources[i] = SourceName(name)
	}
	for len(h.Bauds) < len(h.Sources) {
		h.Bauds = append(h.Bauds, 0)
	}
	h.Bauds = h.Bauds[:len(h.Sources)]
	for i, b := range h.Bauds {
		if b < 0 || b > MaxBaud {
			h.Bauds[i] = 0
		}
	}
}
