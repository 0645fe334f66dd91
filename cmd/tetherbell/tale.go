package main

import (
	"encoding/json"
	"fmt"
	"hash/crc32"
	"math"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
)

// A tale is what a list of recordings tells of one. A recording carries it in
// its last line, beside the summary, so that a list is quick.
type tale struct {
	Craft   string    `json:"craft"`
	Verdict string    `json:"verdict"` // high, medium, low, quiet, or empty: not one good line
	Worst   *taleRing `json:"worst"`   // null: nothing rang
	Armed   bool      `json:"ends_armed"`
	Missed  bool      `json:"not_fully_watched"`
}

// A taleRing is the first alarm of the highest priority.
type taleRing struct {
	Alarm    string  `json:"alarm"`
	Where    string  `json:"where"`
	Priority string  `json:"priority"`
	T        float64 `json:"t"` // engine seconds
}

// quiet is the verdict on a session in which nothing rang.
const quiet = "quiet"

// taleOf tells what a desk has come to.
func taleOf(d *desk) tale {
	sum := d.eng.Summary()
	t := tale{Craft: d.eng.CraftName(), Verdict: quiet}
	t.Armed = sum.Lines > 0 && sum.Last.Armed == detect.Yes
	t.Missed = len(alarms.Asked(sum.NotWatched)) > 0
	worst := d.rings.worst
	if worst == nil {
		worst = d.rings.low
	}
	switch {
	case sum.Lines == 0:
		t.Verdict = "empty"
	case worst != nil:
		t.Verdict = worst.priority.String()
		t.Worst = &taleRing{
			Alarm: worst.kind.String(), Where: worst.where.String(), Priority: t.Verdict,
			T: math.Round(float64(worst.at)/1e3) / 1e3,
		}
	}
	return t
}

// A saidCRC is a checksum of what was said: over the JSON of all #alarm lines, eight
// upper-case hexadecimal digits. A recording that was changed since is judged
// again.
type saidCRC struct {
	Said string `json:"said_crc32c"`
}

// appendEnd writes what a recording ends with: the summary as ever, and the
// tale behind it in the same object, and the checksum of what was said.
func appendEnd(dst []byte, d *desk, file string) []byte {
	sum := d.eng.Summary()
	dst = sum.AppendJSON(dst, file)
	text, err := json.Marshal(struct {
		tale
		saidCRC
	}{taleOf(d), saidCRC{saidSum(d.said)}})
	if err != nil { // numbers and words cannot fail
		return dst
	}
	dst = append(dst[:len(dst)-1], ',')
	return append(dst, text[1:]...)
}

// castagnoli is the checksum of the lines, and of what was said.
var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// saidSum writes a checksum of what was said.
func saidSum(sum uint32) string { return fmt.Sprintf("%08X", sum) }

// An ending is what the last line of a recording says.
type ending struct {
	Summary *struct {
		Lines      uint64            `json:"lines"`
		Bad        uint64            `json:"bad"`
		Lost       uint64            `json:"lost"`
		Duration   float64           `json:"duration_s"`
		Alarms     map[string]uint64 `json:"alarms"`
		NotWatched json.RawMessage   `json:"not_watched"`
	} `json:"summary"`
	tale
	saidCRC
}

// parseEnding reads a last line. One of an older tetherbell, or of a
// simulator, has no verdict; one that contradicts itself is none.
func parseEnding(text []byte) ending {
	var e ending
	if json.Unmarshal(text, &e) != nil || e.Summary != nil && e.Summary.Duration < 0 {
		return ending{}
	}
	worst := ""
	if e.Worst != nil {
		worst = e.Worst.Priority
	}
	switch e.Verdict {
	case "", worst:
	case quiet, "empty":
		if worst == "" {
			break
		}
		fallthrough
	default:
		e.tale = tale{}
	}
	return e
}
