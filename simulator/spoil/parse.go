package spoil

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Form is how a fault is written.
const Form = "KIND[=VALUE][@FROM[-TO]]"

// mostAt bounds the times of a fault: a day and more, and no overflow.
const mostAt = 1e6 // s

// Parse reads a fault as a person writes it: KIND, its value, and from when to
// when, in seconds since the start. What is left out is as usual, and from the
// start to the end.
func Parse(text string) (Fault, error) {
	what, when, timed := strings.Cut(text, "@")
	name, value, valued := strings.Cut(what, "=")
	k, ok := KindNamed(name)
	if !ok {
		return Fault{}, fmt.Errorf("no fault is called %q", name)
	}
	a := &abouts[k]
	f := Fault{Kind: k, Value: a.Usual, To: Never}
	if a.Once {
		f.From = onceAt
	}
	var err error
	if valued {
		if f.Value, err = figure(value); err != nil {
			return Fault{}, fmt.Errorf("%s=%s: the value %w", name, value, err)
		}
		if f.Value < a.Least || f.Value > a.Most {
			return Fault{}, fmt.Errorf("%s=%s: the value lies within %v to %v (%s)", name, value, a.Least, a.Most, a.Unit)
		}
	}
	if !timed {
		return f, nil
	}
	from, to, ends := strings.Cut(when, "-")
	if f.From, err = moment(from); err != nil {
		return Fault{}, fmt.Errorf("%s: the time %q %w", text, from, err)
	}
	switch {
	case !ends:
		return f, nil
	case a.Once:
		return Fault{}, fmt.Errorf("%s: it happens at one moment, and has no end", text)
	}
	if f.To, err = moment(to); err != nil {
		return Fault{}, fmt.Errorf("%s: the time %q %w", text, to, err)
	}
	if f.To <= f.From {
		return Fault{}, fmt.Errorf("%s: it ends before it begins", text)
	}
	return f, nil
}

// String writes a fault so that Parse reads the same.
func (f Fault) String() string {
	s := f.Kind.String() + "=" + strconv.FormatFloat(f.Value, 'f', -1, 64) + "@" + seconds(f.From)
	if f.To != Never {
		s += "-" + seconds(f.To)
	}
	return s
}

func seconds(us int64) string { return strconv.FormatFloat(float64(us)/1e6, 'f', -1, 64) }

func moment(text string) (int64, error) {
	v, err := figure(text)
	if err == nil && !(v >= 0 && v <= mostAt) {
		err = fmt.Errorf("lies within 0 to %v s", float64(mostAt))
	}
	return int64(math.Round(v * 1e6)), err
}

// figure reads a number of digits, as 12, -0.5 or 1e-4.
func figure(text string) (float64, error) {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) || strings.ContainsAny(text, "xXpP_+") {
		return 0, fmt.Errorf("is no number")
	}
	return v, nil
}
