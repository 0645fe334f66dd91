package compare

import (
	"math"
	"time"

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
	// Start is when it began, by its header; zero not known.
	Start time.Time
	// Digest tells recordings apart: that of all their plain text; "" not known.
	Digest string

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
	stretches(r.blocks, func(b *block) int32 { return b.stay }, heating)
	stretches(r.blocks, func(b *block) int32 { return b.hold }, shaking)
}

// stretches hands over neighbouring blocks with the same number together.
func stretches(blocks []block, number func(*block) int32, take func([]block)) {
	for i := 0; i < len(blocks); {
		end := i + 1
		for end < len(blocks) && number(&blocks[end]) == number(&blocks[i]) {
			end++
		}
		take(blocks[i:end])
		i = end
	}
}

// heating fills in how fast the hottest motor warmed while the throttle stood:
// the difference of two neighbouring blocks' mean temperatures. The hottest is
// the one that warmed most over all of it, so that noise does not choose another
// each time.
func heating(stay []block) {
	m := hottest(stay)
	for k := 1; m >= 0 && k < len(stay); k++ {
		stay[k].v[heat] = (stay[k].temp[m] - stay[k-1].temp[m]) / (stay[k].at - stay[k-1].at)
	}
}

// hottest is the motor that warmed most while the throttle stood, -1 none is known.
func hottest(stay []block) int {
	best, most := -1, math.Inf(-1)
	for m := range decode.MaxMotors {
		if rise := stay[len(stay)-1].temp[m] - stay[0].temp[m]; rise > most {
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
