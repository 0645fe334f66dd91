package detect

import "tetherbell/decode"

const (
	lineFresh = 3 * Second / 2 // speeds older than this say nothing
	// lineLeast is the slowest rotor that is looked at, turns a second.
	lineLeast = 1.0
)

// speeds is the history of the rotors' reported speeds, thinned to one row in
// so many microseconds.
type speeds struct {
	every  int64
	hz     [][decode.MaxMotors]float64 // turns a second, 0 unknown
	at     []int64
	n      int
	motors int
	blades float64
}

func newSpeeds(keep int, every int64) speeds {
	return speeds{every: every, hz: make([][decode.MaxMotors]float64, keep), at: make([]int64, keep)}
}

// set notes the speeds of the rotors. A report without one that could be used
// (dead telemetry, poles not known, nothing turns) is no report.
func (s *speeds) set(b *Bench) {
	if b.Doubt[decode.ERPM] != "" {
		return // a line where none is hides a swing
	}
	if s.n > 0 && b.Now-s.at[s.row(0)] < s.every {
		return
	}
	var row [decode.MaxMotors]float64
	any := false
	motors := min(b.Motors, decode.MaxMotors)
	for i := range motors {
		if r := b.RPM[i]; r.OK && r.V > 60*lineLeast {
			row[i], any = r.V/60, true
		}
	}
	if !any {
		return
	}
	s.motors, s.blades = motors, float64(max(b.Craft.Blades, 2))
	s.n++
	s.hz[s.row(0)], s.at[s.row(0)] = row, b.Now
}

// row is the place of the row that lies i rows before the newest.
func (s *speeds) row(i int) int { return (s.n - 1 - i) % len(s.at) }

// rows is the number of rows that are kept now.
func (s *speeds) rows() int { return min(s.n, len(s.at)) }

// known reports whether speeds were reported lately.
func (s *speeds) known(now int64) bool { return s.n > 0 && now-s.at[s.row(0)] <= lineFresh }
