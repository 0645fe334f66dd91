package craft

import (
	"bytes"
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/pelletier/go-toml/v2"
)

// A Baseline is what a craft showed in the sessions that a person judged good:
// later ones are held against it.
type Baseline struct {
	// Name of the craft, where the baseline is kept by it.
	Name     string    `toml:"name,omitempty" json:"name,omitempty"`
	Sessions []Session `toml:"session,omitempty" json:"session,omitempty"`
}

// A Session is what the motors did in the steady parts of one session.
type Session struct {
	File     string    `toml:"file,omitempty" json:"file,omitempty"`         // the recording's name, for people
	Checksum string    `toml:"checksum,omitempty" json:"checksum,omitempty"` // SHA-256 of the recording, 64 hexadecimal digits
	Seconds  float64   `toml:"seconds" json:"seconds"`                       // of steady throttle
	Output   float64   `toml:"output" json:"output"`                         // mean output of all motors, 0..1
	Shares   []float64 `toml:"shares" json:"shares"`                         // each motor's output over the mean of all
	Spreads  []float64 `toml:"spreads" json:"spreads"`                       // standard deviation of its second-long means
}

const (
	// MaxSessions is how many sessions a baseline keeps: the newest count.
	MaxSessions = 30
	// BaselineSessions is how many accepted sessions make a baseline that is
	// judged by: the owner of the contract asks for three.
	BaselineSessions = 3
	// maxSum is how far the mean of a session's shares may be from one: they
	// are rounded when written.
	maxSum = 0.002
)

// BaselinePath returns where the baseline of a craft file is kept: beside it,
// heron.baseline.toml for heron.toml.
func BaselinePath(file string) string {
	return strings.TrimSuffix(file, filepath.Ext(file)) + ".baseline.toml"
}

// ParseBaseline reads the text of a baseline file, as strictly as a craft file:
// what is wrong is a *FieldError with its line.
func ParseBaseline(data []byte) (Baseline, error) {
	b, err := parseBaseline(data)
	if fe := new(FieldError); errors.As(err, &fe) {
		fe.What = "baseline"
		return Baseline{}, fe
	}
	return b, err
}

func parseBaseline(data []byte) (Baseline, error) {
	if len(data) > maxFile {
		return Baseline{}, &FieldError{Problem: fmt.Sprintf("over %d KiB", maxFile>>10), Hint: "it is no baseline: tetherbell accept writes them"}
	}
	data = bytes.TrimPrefix(data, []byte("\xEF\xBB\xBF")) // some editors put a mark there
	var b Baseline
	if err := toml.NewDecoder(bytes.NewReader(data)).DisallowUnknownFields().Decode(&b); err != nil {
		err = explain(err)
		if fe := new(FieldError); errors.As(err, &fe) {
			fe.Hint = "tetherbell accept writes these files; remove this one to begin anew"
		}
		return Baseline{}, err
	}
	if err := b.check(""); err != nil {
		err.Line = lineOf(places(data), err.Key)
		return Baseline{}, err
	}
	return b, nil
}

// Text returns b as ParseBaseline reads it.
func (b Baseline) Text() ([]byte, error) {
	var out bytes.Buffer
	out.WriteString("# Sessions that were judged good, written by tetherbell accept. Later ones are\n" +
		"# held against them. To take one back, remove its [[session]].\n\n")
	if err := toml.NewEncoder(&out).Encode(b); err != nil {
		return nil, fmt.Errorf("write baseline: %w", err)
	}
	return out.Bytes(), nil
}

// Has reports whether a recording of this checksum is in the baseline.
func (b Baseline) Has(checksum string) bool {
	for _, s := range b.Sessions {
		if s.Checksum == checksum {
			return true
		}
	}
	return false
}

// check reports the first thing that cannot be. prefix stands before its key.
func (b Baseline) check(prefix string) *FieldError {
	bad := func(key, problem, hint string) *FieldError {
		return &FieldError{Key: prefix + key, Problem: problem, Hint: hint}
	}
	if len(b.Name) > maxName || !printable(b.Name) {
		return bad("name", "not a name", fmt.Sprintf("use at most %d bytes of printable text", maxName))
	}
	if len(b.Sessions) > MaxSessions {
		return bad("session", fmt.Sprintf("%d sessions, at most %d", len(b.Sessions), MaxSessions), "remove the oldest")
	}
	for i := range b.Sessions {
		key, problem := b.Sessions[i].wrong()
		if problem == "" && len(b.Sessions[i].Shares) != len(b.Sessions[0].Shares) {
			key, problem = "shares", fmt.Sprintf("%d motors, but %d in the session before", len(b.Sessions[i].Shares), len(b.Sessions[0].Shares))
		}
		if problem == "" && b.Sessions[i].Checksum != "" && (Baseline{Sessions: b.Sessions[:i]}).Has(b.Sessions[i].Checksum) {
			key, problem = "checksum", "the same recording twice"
		}
		if problem != "" {
			return bad(fmt.Sprintf("session.%d.%s", i+1, key), problem, "remove this [[session]] and accept its recording again")
		}
	}
	return nil
}

// wrong names the first key that cannot be, and why. Written so that
// not-a-number is refused as well.
func (s *Session) wrong() (key, problem string) {
	switch {
	case len(s.File) > 255 || !printable(s.File):
		return "file", "not a file's name"
	case s.Checksum != "" && !isChecksum(s.Checksum):
		return "checksum", "not 64 hexadecimal digits"
	case !(s.Seconds >= 1 && s.Seconds <= 1e6):
		return "seconds", plain(s.Seconds) + " is not within 1..1000000"
	case !(s.Output > 0 && s.Output <= 1):
		return "output", plain(s.Output) + " is not over 0 and up to 1"
	case len(s.Shares) < leastArms || len(s.Shares) > MaxMotors:
		return "shares", fmt.Sprintf("%d motors are not within %d..%d", len(s.Shares), leastArms, MaxMotors)
	case len(s.Spreads) != len(s.Shares):
		return "spreads", fmt.Sprintf("%d spreads for %d shares", len(s.Spreads), len(s.Shares))
	}
	sum := 0.0
	for i, v := range s.Shares {
		if !(v >= 0 && v <= MaxMotors) {
			return "shares", fmt.Sprintf("%s is not within 0..%d", plain(v), MaxMotors)
		}
		if w := s.Spreads[i]; !(w >= 0 && w <= MaxMotors) {
			return "spreads", fmt.Sprintf("%s is not within 0..%d", plain(w), MaxMotors)
		}
		sum += v
	}
	if mean := sum / float64(len(s.Shares)); !(mean >= 1-maxSum && mean <= 1+maxSum) {
		return "shares", "they do not average 1"
	}
	return "", ""
}

func isChecksum(s string) bool {
	return len(s) == 64 && strings.Trim(s, "0123456789abcdef") == ""
}

// checkBaselines checks what a craft carries of baselines.
func (c Craft) checkBaselines() error {
	if err := c.Baseline.check("baseline."); err != nil {
		return err
	}
	for i := range c.Known {
		if err := c.Known[i].check(fmt.Sprintf("known.%d.", i+1)); err != nil {
			return err
		}
		if c.Known[i].Name == "" {
			return &FieldError{Key: fmt.Sprintf("known.%d.name", i+1), Problem: "no name", Hint: "a baseline without a craft file is kept by the craft's name"}
		}
	}
	return nil
}

// Choose puts into force the baseline that is kept for the craft's name, where
// no other is.
func (c *Craft) Choose() {
	if len(c.Baseline.Sessions) > 0 || c.Name == "" {
		return
	}
	for _, k := range c.Known {
		if k.Name == c.Name {
			c.Baseline = k
			return
		}
	}
}
