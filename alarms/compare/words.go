package compare

import (
	"math"
	"strconv"
	"strings"
)

// Significant digits of what is told: both ends of an interval have as many.
// A ratio near one needs a digit more than a difference, whose first counts.
const (
	ratioDigits      = 3
	differenceDigits = 2
)

// beyond is how far a row changed, as a multiple of what matters.
func (row *Row) beyond() float64 {
	least := row.Matters
	if row.By == "ratio" {
		least = math.Log(least)
	}
	return math.Abs(row.effect) / least
}

// words is a row as a person reads it.
func (row *Row) words() string {
	text := row.Name
	if row.Measure == measures[balance].key {
		text += " (" + ApartMeans + ")"
	}
	if row.Stage != allStages {
		text += " at " + row.Stage
	}
	if row.By == "ratio" {
		return text + " is " + RatioText(math.Exp(row.effect)) + " times as much (" + RatioText(row.Low) + " to " + RatioText(row.High) + ")"
	}
	unit := ""
	if row.Unit != "1" {
		unit = " " + strings.Replace(row.Unit, "deg", "°", 1)
	}
	return text + " by " + DifferenceText(row.effect) + unit + " (" + DifferenceText(row.Low) + " to " + DifferenceText(row.High) + unit + ")"
}

// ApartMeans says what the measure "outputs apart" is.
const ApartMeans = "the motor that works most less the one that works least, as a share of the mean output"

// RatioText writes a ratio, or an end of its interval.
func RatioText(v float64) string { return digits(v, ratioDigits) }

// DifferenceText writes a difference, or an end of its interval, with its sign.
func DifferenceText(v float64) string {
	s := digits(v, differenceDigits)
	switch {
	case v < 0:
		return "−" + strings.TrimPrefix(s, "-")
	case v > 0:
		return "+" + s
	}
	return s
}

// digits writes so many significant digits, noughts at the end too; what is no
// number is not known.
func digits(v float64, n int) string {
	switch {
	case math.IsNaN(v) || math.IsInf(v, 0):
		return "not known"
	case v == 0:
		return "0"
	}
	// Rounded first: 0.996 with two digits is 1.0.
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(v, 'e', n-1, 64), 64)
	if err != nil {
		return "not known"
	}
	decimals := n - 1 - int(math.Floor(math.Log10(math.Abs(rounded))+1e-12))
	return strconv.FormatFloat(rounded, 'f', max(decimals, 0), 64)
}
