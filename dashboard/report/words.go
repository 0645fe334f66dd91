package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// significant writes a value with so many significant digits at most, never
// with an exponent and without noughts at the end.
func significant(v float64, digits int) string {
	switch {
	case math.IsNaN(v) || math.IsInf(v, 0):
		return "not known"
	case v == 0:
		return "0"
	}
	decimals := digits - 1 - int(math.Floor(math.Log10(math.Abs(v))))
	return fixed(v, min(max(decimals, 0), 9))
}

// fixed writes so many decimals at most, without noughts at the end.
func fixed(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		return "0"
	}
	return s
}

// number is how values stand in tables and sentences.
func number(v float64) string { return significant(v, 3) }

// doubtful writes a value and its uncertainty: that with two digits, and the
// value as far as those go.
func doubtful(v, doubt float64) (string, string) {
	if !(doubt > 0) || math.IsInf(doubt, 0) {
		return number(v), number(doubt)
	}
	decimals := min(max(1-int(math.Floor(math.Log10(doubt))), 0), 6)
	return strconv.FormatFloat(v, 'f', decimals, 64), strconv.FormatFloat(doubt, 'f', decimals, 64)
}

// absent stands in a table where nothing was measured.
const absent = "not measured"

// measured writes a value that may be absent, with its unit.
func measured(v *float64, unit string) string {
	if v == nil {
		return absent
	}
	return with(number(*v), unit)
}

// with adds a unit to a number.
func with(value, unit string) string {
	if u := unitText(unit); u != "" {
		return value + " " + u
	}
	return value
}

// unitText is a unit as people write it; "1" is none.
func unitText(unit string) string {
	switch unit {
	case "1", "":
		return ""
	case "degC":
		return "°C"
	case "degC/s":
		return "°C/s"
	}
	return unitSigns.Replace(unit)
}

var unitSigns = strings.NewReplacer("sqrt(Hz)", "√Hz", "^2", "²")

// percent writes a share for people.
func percent(share float64) string { return number(100*share) + " %" }

// millis writes a time to the millisecond, as the events of check do.
func millis(t float64) string { return strconv.FormatFloat(t, 'f', 3, 64) }

// second is a time with its unit; long ones stand by the clock, too.
func second(t float64) string {
	s := millis(t) + " s"
	if t >= 120 {
		s += " (" + clock(t) + ")"
	}
	return s
}

// clock writes seconds as min:s, or h:min:s from an hour on.
func clock(t float64) string {
	whole := int(t)
	if whole >= 3600 {
		return fmt.Sprintf("%d:%02d:%02d", whole/3600, whole/60%60, whole%60)
	}
	return fmt.Sprintf("%d:%02d", whole/60, whole%60)
}

// length says how long something took.
func length(s float64) string {
	if s < 120 {
		return fixed(s, 1) + " s"
	}
	whole := int(s)
	if whole < 3600 {
		return fmt.Sprintf("%d min %d s", whole/60, whole%60)
	}
	return fmt.Sprintf("%d h %d min %d s", whole/3600, whole/60%60, whole%60)
}

func clockUnit(s float64) string {
	if s >= 3600 {
		return "h:min:s"
	}
	return "min:s"
}

// startText says when a session began; "" not known.
func startText(rfc string) string {
	t, err := time.Parse(time.RFC3339Nano, rfc)
	if err != nil {
		return rfc
	}
	return t.UTC().Format("2 January 2006, 15:04:05 UTC")
}

// count writes a number of things.
func count[T int | uint64](n T, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// sentence begins with a capital, if not with a name of ours, and ends with a
// full stop.
func sentence(s string) string {
	s = strings.TrimSpace(s)
	if s == "" {
		return ""
	}
	first, _, _ := strings.Cut(s, " ")
	name := strings.Contains(first, "-") || strings.ContainsAny(first, "_0123456789") || first == "tetherbell"
	if c := s[0]; c >= 'a' && c <= 'z' && !name {
		s = string(c-'a'+'A') + s[1:]
	}
	if !strings.ContainsRune(".!?", rune(s[len(s)-1])) {
		s += "."
	}
	return s
}

// priorities from the most urgent down. Each has a shape beside its colour and
// its word: nobody has to tell colours apart.
var priorities = []struct{ word, shape string }{
	{"high", "▲"}, {"medium", "◆"}, {"low", "●"}, {"note", "■"},
}

// priorityText is a priority's shape and word.
func priorityText(word string) string {
	for _, p := range priorities {
		if p.word == word {
			return p.shape + " " + word
		}
	}
	return word
}

// priorityClass is a priority's name as a class, "none" for what is no priority.
func priorityClass(word string) string {
	for _, p := range priorities {
		if p.word == word {
			return word
		}
	}
	return "none"
}
