package alarms

import (
	"fmt"
	"slices"
	"strings"

	"tetherbell/alarms/detect"
)

// What may end why an alarm is not watched: since when, or how long it was so.
const (
	sinceWord = " (since "
	forWord   = " (for "
)

func sinceText(us int64) string  { return fmt.Sprintf(sinceWord+"%.1f s)", float64(us)/1e6) }
func forText(seconds int) string { return fmt.Sprintf(forWord+"%d s)", seconds) }
func forTime(us int64) string    { return fmt.Sprintf(forWord+"%.1f s)", float64(us)/1e6) }

// when takes that off.
func (l Lack) when() (why, when string) {
	for _, word := range []string{sinceWord, forWord} {
		if i := strings.LastIndex(l.Why, word); i > 0 && strings.HasSuffix(l.Why, " s)") {
			return l.Why[:i], " " + strings.TrimSuffix(l.Why[i+2:], ")")
		}
	}
	return l.Why, ""
}

// Asked leaves out what nobody expects to be watched.
func Asked(lacks []Lack) []Lack { return slices.DeleteFunc(slices.Clone(lacks), Lack.Unasked) }

// Main reports whether it is the alarm that this monitor is for first of all.
func (l Lack) Main() bool { return l.Name == detect.RisingOscillation.String() }

// ByReason names what is not watched, a text for each reason: what all lack first,
// then what the main alarm lacks, for most often the rest follows from it; what
// nobody asks for last.
func ByReason(lacks []Lack) []string {
	var whys []string
	names := map[string][]string{}
	place := func(l Lack) int {
		switch {
		case l.OfAll() != "":
			return -1
		case l.Main():
			return 0
		case l.Unasked():
			return 2
		}
		return 1
	}
	lacks = slices.Clone(lacks)
	slices.SortStableFunc(lacks, func(a, b Lack) int { return place(a) - place(b) })
	for _, l := range lacks {
		why, when := l.when()
		if names[why] == nil {
			whys = append(whys, why)
		}
		names[why] = append(names[why], l.Name+when)
	}
	for i, why := range whys {
		whys[i] = strings.Join(names[why], ", ") + " (" + why + ")"
	}
	return whys
}
