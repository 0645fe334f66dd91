package compare

import (
	"math"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// A Run is one session as a comparison sees it. Make one with a Collector.
type Run struct {
	// Name is how the session is called, such as its file; "" A or B.
	Name string
	// Craft is the machine, as its craft file and the bridge tell it.
	Craft craft.Craft

	blocks    []block
	full      bool // there were more blocks than are kept
	length    int64
	everArmed bool
	streams   [decode.TagCount]uint64
	settings  map[string]setting
	alarms    [detect.KindCount]tally
}

// A tally is what one kind of alarm did.
type tally struct {
	count int
	worst detect.Priority
}

// A setting is one that the craft reported: its newest value and whether it had
// others in this session.
type setting struct {
	value   float64
	changed bool
}

// maxSettings bounds what a bridge that makes up names can take of memory.
const maxSettings = 512

// set takes a set line.
func (r *Run) set(_ int64, s *decode.Sample) {
	v, ok := value(s, decode.SetValue)
	if !ok {
		return
	}
	old, known := r.settings[string(s.Word)]
	switch {
	case known && old.value == v:
	case known:
		r.settings[string(s.Word)] = setting{v, true}
	case len(r.settings) < maxSettings:
		r.settings[string(s.Word)] = setting{value: v}
	}
}

// finish fills in what only a whole hold can tell.
func (r *Run) finish() {
	for i := 0; i < len(r.blocks); {
		end := i + 1
		for end < len(r.blocks) && r.blocks[end].hold == r.blocks[i].hold {
			end++
		}
		heating(r.blocks[i:end])
		shaking(r.blocks[i:end])
		i = end
	}
}

// heating fills in how fast the hottest motor warmed: the difference of two
// neighbouring blocks' mean temperatures. The hottest is the one that warmed
// most over the hold, so that noise does not choose another each time.
func heating(hold []block) {
	m := hottest(hold)
	for k := 1; m >= 0 && k < len(hold); k++ {
		hold[k].v[heat] = (hold[k].temp[m] - hold[k-1].temp[m]) / (hold[k].at - hold[k-1].at)
	}
}

// hottest is the motor that warmed most over a hold, -1 none is known.
func hottest(hold []block) int {
	best, most := -1, math.Inf(-1)
	for m := range decode.MaxMotors {
		if rise := hold[len(hold)-1].temp[m] - hold[0].temp[m]; rise > most {
			best, most = m, rise
		}
	}
	return best
}

// shaking fills in the vibration: the root mean square of the specific force
// about its mean over the whole hold. About a block's own mean a rotor line that
// folds to near nought would vanish, and come back when the rotors turn by a
// hair slower.
func shaking(hold []block) {
	var middle [3]mean
	for i := range hold {
		for k, v := range hold[i].force {
			if !math.IsNaN(v) {
				middle[k].add(v)
			}
		}
	}
	for i := range hold {
		sum := hold[i].trembles
		for k, v := range hold[i].force {
			d := v - middle[k].of(1)
			sum += d * d
		}
		hold[i].v[vibration] = math.Sqrt(sum)
	}
}
