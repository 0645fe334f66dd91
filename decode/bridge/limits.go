package bridge

import (
	"math"

	"tetherbell/decode"
)

// A limit is what a numeric field may hold and how it is rounded.
type limit struct {
	slot     uint8
	min, max float64
	whole    bool
	even     bool
	orZero   bool
	any      bool
	scale    float64 // a value goes out in steps of one over this; 0: as it is
}

// limits is made from the protocol's field table.
var limits = makeLimits()

// scales says how finely a number is sent: 10 to the power of its decimals.
// They are finer than the sensors of a bench are (common practice, no source)
// and keep the longest line under half of what a line may hold.
var scales = map[string]float64{"deg/s": 1e2, "1": 1e5, "rev/min": 1, "m/s^2": 1e3, "N": 1e3, "degC": 1e2, "V": 1e3, "A": 1e3, "Pa": 1e1, "mm": 1e1, "g": 1e1}

func makeLimits() (all [decode.TagCount][]limit) {
	for tag := decode.Unknown + 1; tag < decode.TagCount; tag++ {
		for _, f := range decode.Fields(tag) {
			if f.Slot < 0 {
				continue
			}
			l := limit{slot: uint8(f.Slot), min: f.Min, max: f.Max, whole: f.Kind != decode.Number, even: f.Even, orZero: f.OrZero, any: f.Unbounded(), scale: scales[f.Unit]}
			all[tag] = append(all[tag], l)
		}
	}
	return all
}

// holds reports whether the field may hold v.
func (l *limit) holds(v float64) bool {
	switch {
	case math.IsNaN(v) || math.IsInf(v, 0):
		return false
	case l.any:
		return math.Abs(v) <= maxSetting
	case v == 0 && l.orZero:
		return true
	case l.whole && v != math.Trunc(v), l.even && math.Mod(v, 2) != 0:
		return false
	}
	return v >= l.min && v <= l.max
}

// maxSetting is the largest setting that is sent. Nothing of a craft is as
// large, and a number of 300 digits would not fit a line.
const maxSetting = 1e15

// round gives v in the field's steps. What is not finite stays so. Nine
// decimals are enough for any setting; one of a million or more has no need of
// any, and keeps what it has.
func (l *limit) round(v float64) float64 {
	if l.any && math.Abs(v) < 1e6 {
		return math.Round(v*1e9) / 1e9
	}
	if l.scale == 0 {
		return v
	}
	return math.Round(v*l.scale) / l.scale
}
