package runcard

import (
	"fmt"
	"slices"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// feel is what a person does where no sensor tells.
const feel = "once all rotors stand unplug the pack, then feel "

// temperatures: disarmed for a while, no motor is hot and none is far from the
// others. The hottest of the wait counts: warmth comes out after the stop.
func (r *Run) temperatures(b *detect.Bench, s *Step) {
	r.hint = hint{}
	if armedNow(b) != detect.No {
		r.hint = hint{text: "still armed"}
	}
	begins, done := r.hold(b, r.hint.text == "", s.seconds())
	if begins {
		r.ev.hot, r.ev.heard = [decode.MaxMotors]float64{}, [decode.MaxMotors]bool{}
	}
	if r.ev.since < 0 {
		return
	}
	for i := range b.Motors {
		if t := b.Temp[i]; t.OK && t.At >= r.ev.since {
			if !r.ev.heard[i] || t.V > r.ev.hot[i] {
				r.ev.hot[i] = t.V
			}
			r.ev.heard[i], r.ev.told[i] = true, t.At
		}
	}
	if !done {
		return
	}
	// Warmth goes on coming out to the end of the wait: who told only its
	// beginning has not told it. A slow stream is waited for.
	usual := usualGap(&b.Streams[decode.Temp], lackTime)
	fresh := detect.Where(0)
	for i := range b.Motors {
		if r.ev.heard[i] && r.now-r.ev.told[i] <= usual {
			fresh |= detect.Motor(i)
		}
	}
	if fresh != allMotors(b) && r.now-r.ev.since < int64(s.seconds()*float64(detect.Second))+usual {
		r.hint = hint{text: "waiting for the temperature of ", where: allMotors(b) &^ fresh}
		return
	}
	for i := range b.Motors {
		r.ev.heard[i] = fresh&detect.Motor(i) != 0
	}
	r.closeTemperatures(b, s)
}

func (r *Run) closeTemperatures(b *detect.Bench, s *Step) {
	most, spread := s.MostC, s.SpreadC
	if most == 0 {
		most = b.Limits.HeatMedium
	}
	if spread == 0 {
		spread = b.Limits.HeatOver
	}
	var told []float64
	unheard := detect.Where(0)
	hottest := -1
	for i := range b.Motors {
		if !r.ev.heard[i] {
			unheard |= detect.Motor(i)
			continue
		}
		told = append(told, r.ev.hot[i])
		if hottest < 0 || r.ev.hot[i] > r.ev.hot[hottest] {
			hottest = i
		}
	}
	if hottest < 0 {
		r.byEye("motor temperatures were not seen after the run: " + feel + "each motor")
		return
	}
	slices.Sort(told)
	hot := told[len(told)-1]
	over := 0.0
	if others := told[:len(told)-1]; len(others) > 0 {
		over = hot - (others[(len(others)-1)/2]+others[len(others)/2])/2
	}
	text := fmt.Sprintf("hottest %s with %.0f C (limit %.0f), %.0f over the others (limit %.0f)", detect.Motor(hottest), hot, most, over, spread)
	switch {
	case hot > most || over > spread:
		r.fail(text)
	case unheard != 0:
		r.byEye(text + "; " + names(unheard) + " not seen after the run: " + feel + names(unheard))
	default:
		r.pass(text)
	}
}
