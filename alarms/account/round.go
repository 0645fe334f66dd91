package account

import (
	"reflect"
	"strconv"
)

const (
	// digits of a figure: what lies beyond them is no knowledge, and the last bits
	// of a sum may differ between processors. A time of hours keeps its
	// milliseconds.
	digits = 9
	// curveDigits of a value of a curve or a spectrum.
	curveDigits = 6
)

// round keeps the digits of every figure of an account that are worth telling.
func round(v reflect.Value) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			round(v.Elem())
		}
	case reflect.Struct:
		for i := range v.NumField() {
			round(v.Field(i))
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			round(v.Index(i))
		}
	case reflect.Float64:
		v.SetFloat(significant(v.Float(), digits))
	case reflect.Float32:
		v.SetFloat(significant(v.Float(), curveDigits))
	}
}

func significant(v float64, n int) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'e', n-1, 64), 64)
	if err != nil || r == 0 {
		return 0 // nought has no sign here
	}
	return r
}
