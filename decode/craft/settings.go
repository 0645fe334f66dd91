package craft

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"
)

// Settings say which of the craft's own settings mean what, by patterns of
// their names: every firmware has names of its own. An empty list has the
// default, which WithDefaults gives.
//
// In a pattern * stands for any text, ? for one character. Capitals count as
// small letters, and a point, a blank, a slash, a colon and a hyphen as _. A
// name is also taken as if it had _ at both ends, so that *_p_* finds the word
// p in roll_p, p_roll and rate.p.roll alike.
type Settings struct {
	Proportional List `toml:"proportional,omitempty" json:"proportional,omitempty"` // P gains
	Integral     List `toml:"integral,omitempty" json:"integral,omitempty"`         // I gains
	Derivative   List `toml:"derivative,omitempty" json:"derivative,omitempty"`     // D gains
	Gains        List `toml:"gains,omitempty" json:"gains,omitempty"`               // other gains
	NoGains      List `toml:"no_gains,omitempty" json:"no_gains,omitempty"`         // none, whatever the four above say
	IdleReady    List `toml:"idle_ready,omitempty" json:"idle_ready,omitempty"`     // output when armed, stick at zero
	IdleLeast    List `toml:"idle_least,omitempty" json:"idle_least,omitempty"`     // least output in flight
	Shares       List `toml:"shares,omitempty" json:"shares,omitempty"`             // limits and others that are shares of 1
	Roll         List `toml:"roll,omitempty" json:"roll,omitempty"`                 // of the roll axis
	Pitch        List `toml:"pitch,omitempty" json:"pitch,omitempty"`               // of the pitch axis
}

// A settingKey is one key of the table [settings].
type settingKey struct {
	key   string
	list  func(s *Settings) *List
	usual List // the default
}

// settingKeys are the lists with their defaults: words of control engineering
// and of this project's protocol, no product's names.
var settingKeys = []settingKey{
	{"settings.proportional", func(s *Settings) *List { return &s.Proportional }, ListOf("*_p_*", "*_kp_*")},
	{"settings.integral", func(s *Settings) *List { return &s.Integral }, ListOf("*_i_*", "*_ki_*")},
	{"settings.derivative", func(s *Settings) *List { return &s.Derivative }, ListOf("*_d_*", "*_kd_*")},
	{"settings.gains", func(s *Settings) *List { return &s.Gains }, ListOf("*gain*")},
	{"settings.no_gains", func(s *Settings) *List { return &s.NoGains }, ListOf("*_limit_*", "*_max_*", "*_min_*", "*_cut_*", "*_hz_*", "*_filter_*")},
	{"settings.idle_ready", func(s *Settings) *List { return &s.IdleReady }, ListOf("*_idle_ready_*")},
	{"settings.idle_least", func(s *Settings) *List { return &s.IdleLeast }, ListOf("*_idle_least_*")},
	{"settings.shares", func(s *Settings) *List { return &s.Shares }, ListOf("*_idle_ready_*", "*_idle_least_*", "*_limit_oscillation_*", "*_share_*")},
	{"settings.roll", func(s *Settings) *List { return &s.Roll }, ListOf("*roll*")},
	{"settings.pitch", func(s *Settings) *List { return &s.Pitch }, ListOf("*pitch*")},
}

// WithDefaults returns the patterns with every empty list replaced by its
// default.
func (s Settings) WithDefaults() Settings {
	for _, k := range settingKeys {
		or(k.list(&s), k.usual)
	}
	return s
}

// A Meaning is what a setting is by its name. A name may mean several things;
// none of them is the rule.
type Meaning struct {
	P, I, D              bool
	Gain                 bool // P, I and D gains are gains too
	IdleReady, IdleLeast bool
	Share                bool // a share of 1
	Axis                 int8 // 0 roll, 1 pitch, -1 neither
}

// MeaningOf tells what a setting of that name is. It wants defaults filled in
// (WithDefaults) and allocates nothing.
func (s *Settings) MeaningOf(name string) Meaning {
	m := Meaning{
		P: s.Proportional.finds(name), I: s.Integral.finds(name), D: s.Derivative.finds(name),
		IdleReady: s.IdleReady.finds(name), IdleLeast: s.IdleLeast.finds(name), Share: s.Shares.finds(name),
		Axis: -1,
	}
	m.Gain = m.P || m.I || m.D || s.Gains.finds(name)
	if m.Gain && s.NoGains.finds(name) {
		m.P, m.I, m.D, m.Gain = false, false, false, false
	}
	roll, pitch := s.Roll.finds(name), s.Pitch.finds(name)
	switch {
	case roll && !pitch:
		m.Axis = 0
	case pitch && !roll:
		m.Axis = 1
	}
	return m
}

// finds reports whether a pattern of the list is met by a name.
func (l List) finds(name string) bool {
	for rest := string(l); rest != ""; {
		var p string
		p, rest, _ = strings.Cut(rest, "\n")
		if globs(p, name, 0) || globs(p, name, 1) {
			return true
		}
	}
	return false
}

// globs reports whether a pattern is met by a name with pad underscores at
// both ends. It goes back to the last * alone, which is enough where * stands
// for any text, so that its time is at most the product of both lengths.
func globs(pattern, name string, pad int) bool {
	p, n, star, from := 0, 0, -1, 0
	end := len(name) + 2*pad
	for n < end {
		c := padded(name, n, pad)
		switch {
		case p < len(pattern) && pattern[p] == '*':
			star, from = p, n
			p++
		case p < len(pattern) && pattern[p] == '?':
			p++
			n++
			for n < end && !utf8.RuneStart(padded(name, n, pad)) {
				n++
			}
		case p < len(pattern) && alike(pattern[p]) == c:
			p++
			n++
		case star >= 0:
			from++
			p, n = star+1, from
		default:
			return false
		}
	}
	for p < len(pattern) && pattern[p] == '*' {
		p++
	}
	return p == len(pattern)
}

// padded is the byte at i of a name with pad underscores at both ends.
func padded(name string, i, pad int) byte {
	if i -= pad; i < 0 || i >= len(name) {
		return '_'
	}
	return alike(name[i])
}

// alike maps bytes that count as the same to one of them.
func alike(c byte) byte {
	switch c {
	case '.', '-', ' ', '/', ':':
		return '_'
	}
	if c >= 'A' && c <= 'Z' {
		return c + 'a' - 'A'
	}
	return c
}

// Streams are the tags of the bridge's lines that a bench may have or lack.
var Streams = []string{"axes", "out", "erpm", "accel", "load", "temp", "pack", "air", "state", "set"}

// maxWords bounds one list.
const maxWords = 32

// checkLists looks at patterns and sensors.
func (c *Craft) checkLists() error {
	for _, k := range settingKeys {
		if err := checkList(k.key, *k.list(&c.Settings), `such as ["*_p_*"]`, checkPattern); err != nil {
			return err
		}
	}
	return checkList("sensors", c.Sensors, `such as ["axes", "out", "state"]`, func(s string) (problem, hint string) {
		if slices.Contains(Streams, s) {
			return "", ""
		}
		return fmt.Sprintf("%q is no stream of a bridge", s), "use " + strings.Join(Streams, ", ")
	})
}

func checkList(key string, l List, such string, check func(string) (problem, hint string)) error {
	switch n := strings.Count(string(l), "\n"); {
	case l == notAList:
		return &FieldError{Key: key, Problem: "not a list of texts", Hint: "write texts in brackets, " + such + "; leave it out for the default"}
	case n >= maxWords:
		return &FieldError{Key: key, Problem: fmt.Sprintf("%d words", n+1), Hint: fmt.Sprintf("use at most %d", maxWords)}
	}
	var seen []string
	for w := range l.All() {
		if problem, hint := check(w); problem != "" {
			return &FieldError{Key: key, Problem: problem, Hint: hint}
		}
		if slices.Contains(seen, w) {
			return &FieldError{Key: key, Problem: fmt.Sprintf("%q stands there twice", w), Hint: "remove one of the two"}
		}
		seen = append(seen, w)
	}
	return nil
}

func checkPattern(p string) (problem, hint string) {
	switch {
	case p == "":
		return "an empty pattern", "write a part of a name, with * for any text"
	case len(p) > maxName || !printable(p):
		return fmt.Sprintf("%q is no pattern", p), fmt.Sprintf("use at most %d bytes of printable text", maxName)
	case strings.ContainsAny(p, `[]{}\`):
		return fmt.Sprintf("%q has more than * and ? in it", p), "write * for any text, ? for one character, and nothing else of that kind"
	}
	return "", ""
}
