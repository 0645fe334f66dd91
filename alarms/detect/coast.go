package detect

import "tetherbell/decode"

const (
	// A coast is learned from a stop that began at this share of the fastest
	// speed of the session or more: how long a slow rotor coasts tells little of
	// a fast one (common practice, no source).
	coastUseful = 0.5
	// coastFaster: a learned coast is not used for a stop from a speed this
	// much higher, which takes longer.
	coastFaster = 1.25
	// Room over a learned coast: half as long again and a fixed part for late
	// speeds and slow streams (common practice, no source).
	coastRoom = 1.5
	coastMore = 0.2
	// coastMost bounds how far slow coasts may stretch the time, in times of the
	// default: learning must not excuse an ESC that lets go later every time.
	coastMost = 2
)

// coasts are the coast-down times of the rotors, learned from clean stops.
type coasts struct {
	fastest [decode.MaxMotors]float64 // electrical speed, of the session
	speed   [decode.MaxMotors]float64 // from which the coast was learned
	seconds [decode.MaxMotors]float64 // 0: not learned yet
}

// learn takes how long after a stop rotor i fell under its share.
func (c *coasts) learn(b *Bench, i int, before float64, took int64) {
	if before < slowRotor*polePairs(b) || before < coastUseful*c.fastest[i] || took <= 0 {
		return
	}
	t := float64(took) / float64(Second)
	if c.seconds[i] > 0 {
		t = (t + c.seconds[i]) / 2 // newer stops count more: packs and bearings change
	}
	c.seconds[i] = t
	c.speed[i] = max(c.speed[i], before)
}

// within returns how long the rotors have to coast down from these speeds:
// the longest of all, so that one alarm can name every motor that goes on.
func (c *coasts) within(b *Bench, before *[decode.MaxMotors]float64) int64 {
	base := b.Limits.CoastSeconds
	most, any := 0.0, false
	for i := range decode.MaxMotors {
		if before[i] < slowRotor*polePairs(b) {
			continue
		}
		own := base
		if c.seconds[i] > 0 && before[i] <= coastFaster*c.speed[i] {
			own = min(coastRoom*c.seconds[i]+coastMore, coastMost*base)
		}
		most, any = max(most, own), true
	}
	if !any {
		most = base
	}
	return int64(max(most, b.Limits.StopSeconds) * float64(Second))
}
