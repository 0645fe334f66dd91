package dashboard

import (
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/rivo/uniseg"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// clean makes a text from outside fit for a terminal: control and format
// characters go, and so does all that is not exactly one cell wide. Cells are
// written one by one and never read as markup, so nothing needs escaping.
func clean(s string) string {
	plain := true
	for i := 0; i < len(s); i++ {
		if s[i] < 0x20 || s[i] > 0x7E {
			plain = false
			break
		}
	}
	if plain {
		return s
	}
	var b strings.Builder
	for _, r := range s {
		switch {
		case r == '\t' || r == '\n' || r == '\r':
			b.WriteByte(' ')
		case r == utf8.RuneError:
			b.WriteByte('?')
		case !decode.Shown(r):
		case uniseg.StringWidth(string(r)) != 1:
			b.WriteByte('?')
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// num words a value; one that is no number reads as "?".
func num(v float64, digits int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "?"
	}
	if math.Abs(v) >= 1e7 {
		return strconv.FormatFloat(v, 'e', 1, 64)
	}
	s := strconv.FormatFloat(v, 'f', digits, 64)
	if strings.Trim(s, "-0.") == "" {
		return strings.TrimPrefix(s, "-") // no "-0.00"
	}
	return s
}

// signed is num with a sign in front of what is above zero.
func signed(v float64, digits int) string {
	s := num(v, digits)
	if v > 0 && s != "?" {
		return "+" + s
	}
	return s
}

// read words a reading; what was not measured reads as "-".
func read(r detect.Reading, digits int) string {
	if !r.OK {
		return "-"
	}
	return num(r.V, digits)
}

// grouped words a whole number with a space between thousands.
func grouped(v float64) string {
	s := num(v, 0)
	if s == "?" || len(s) <= 4 || strings.ContainsAny(s, "e-") {
		return s
	}
	return s[:len(s)-3] + " " + s[len(s)-3:]
}

// clock words engine time as minutes and seconds.
func clock(us int64, digits int) string {
	if us < 0 {
		us = 0
	}
	s := float64(us) / 1e6
	scale := math.Pow10(digits)
	s = math.Floor(s*scale) / scale // never rounds up into "60.0"
	m := int64(s) / 60
	rest := num(s-float64(m*60), digits)
	if i := strings.IndexByte(rest+".", '.'); i < 2 {
		rest = "0" + rest
	}
	if m >= 60 {
		mm := strconv.FormatInt(m%60, 10)
		if len(mm) < 2 {
			mm = "0" + mm
		}
		return strconv.FormatInt(m/60, 10) + ":" + mm + ":" + rest
	}
	return strconv.FormatInt(m, 10) + ":" + rest
}

// span words a length of time in seconds, short.
func span(s float64) string {
	switch {
	case math.IsNaN(s) || math.IsInf(s, 0) || s < 0:
		return "?"
	case s < 10:
		return num(s, 1) + " s"
	case s < 100:
		return num(s, 0) + " s"
	}
	return clock(int64(math.Min(s, 1e9)*1e6), 0)
}

// size words a number of bytes.
func size(n float64) string {
	switch {
	case math.IsNaN(n) || math.IsInf(n, 0) || n < 0:
		return "?"
	case n < 1e3:
		return num(n, 0) + " B"
	case n < 1e6:
		return num(n/1e3, 1) + " kB"
	case n < 1e9:
		return num(n/1e6, 1) + " MB"
	}
	return num(n/1e9, 1) + " GB"
}

// percent words a share. The screen alone shows percent: events carry
// fractions.
func percent(v float64) string { return num(v*100, 1) + " %" }

func priorityWord(p detect.Priority) string {
	switch p {
	case detect.High:
		return "HIGH"
	case detect.Medium:
		return "MEDIUM"
	case detect.Low:
		return "LOW"
	case detect.Note:
		return "note"
	}
	return ""
}

// The names below stand for values of a later version too, which must not
// bring the screen down.
func kindName(k detect.Kind) string {
	if k >= detect.KindCount {
		return "alarm " + strconv.Itoa(int(k))
	}
	return k.String()
}

func changeName(c alarms.Change) string {
	if c > alarms.Acknowledged {
		return "changed"
	}
	return c.String()
}

// craftWords stand in the banner for an alarm of the whole craft: what it is
// about says more than that the craft is meant.
var craftWords = [detect.KindCount]string{
	detect.GroundThrust: "THRUST", detect.NearLift: "LIFT", detect.StickHigh: "STICK",
	detect.Runaway: "RUNAWAY", detect.HoldLost: "HOLD", detect.VibrationStep: "SHAKE",
	detect.ControlLost: "CONTROL", detect.SettingsSlip: "SETTING", detect.IdleGap: "IDLE",
	detect.ThrottleMismatch: "OUTPUT", detect.PressureDip: "PRESSURE", detect.RotorLine: "ROTORS",
}

// placeWord names in few letters what an alarm is about, for the banner.
func placeWord(k detect.Kind, w detect.Where) string {
	if w == detect.Craft && k < detect.KindCount && craftWords[k] != "" {
		return craftWords[k]
	}
	motors := 0
	for i := range 8 {
		if w&detect.Motor(i) != 0 {
			motors++
		}
	}
	if motors > 2 {
		return "MOTORS"
	}
	if axes := w & (detect.Roll | detect.Pitch | detect.Yaw); axes&(axes-1) != 0 {
		return "AXES" // their names together are too long to be big
	}
	return strings.ToUpper(w.String())
}

// plural joins a count and a noun.
func plural(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return strconv.Itoa(n) + " " + noun + "s"
}

// wrap cuts a text into lines of at most w cells, at spaces where it can.
func wrap(s string, w int) []string {
	if w < 1 {
		return nil
	}
	var out []string
	line, used := "", 0
	for word := range strings.FieldsSeq(s) {
		n := utf8.RuneCountInString(word)
		if used > 0 && used+1+n > w {
			out = append(out, line)
			line, used = "", 0
		}
		if used > 0 {
			line += " "
			used++
		}
		line += word
		used += n
	}
	if used > 0 {
		out = append(out, line)
	}
	return out
}
