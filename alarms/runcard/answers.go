package runcard

import (
	"math"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

const (
	// answerLag is how long after the stick has gone out its answer is measured:
	// what the receiver and the controller take (common practice, no source).
	answerLag = detect.Second / 20
	// answerLeast, deg/s, and answerOut are the least that an answer is told
	// from its last digit by, as for reversed-response.
	answerLeast = 0.5
	answerOut   = 0.004
	// answerShare of the answer to the other side is an answer at all: a stick
	// is moved farther to one side than to the other, but no channel works to
	// one side alone (common practice, no source).
	answerShare = 0.2
	// restTau is how long the mean of what lies before a movement goes back.
	restTau = 0.3
)

// ways are the two directions of a stick: below zero and above.
const ways = 2

// wayNames spell the directions of each stick, as reversed-response does.
var wayNames = [3][ways]string{{"roll left", "roll right"}, {"pitch nose down", "pitch nose up"}, {"yaw counter-clockwise", "yaw clockwise"}}

// answers follow what each stick's movements to each side are answered with: the
// change against the rest before it, while the stick is out. That the sign is
// right is reversed-response's to show; this shows that it is so both ways.
type answers struct {
	axis [3]axisAnswer
}

type axisAnswer struct {
	rest    [1 + decode.MaxMotors]float64 // demand, and outputs less their mean
	rested  bool
	outAt   int64 // when the stick went out, 0 it rests
	way     int   // to which side
	demand  [ways]mean
	outputs [ways][decode.MaxMotors]mean
}

// look takes one judgement: a stick that is out by half of move is moved.
func (a *answers) look(b *detect.Bench, move float64) {
	for axis := range a.axis {
		if stick := stickNow(b, 1+axis); stick.OK {
			a.axis[axis].look(b, axis, stick.V, move)
		}
	}
}

func (x *axisAnswer) look(b *detect.Bench, axis int, stick, move float64) {
	now := measuredAnswer(b, axis)
	if math.Abs(stick) < move/2 {
		if x.outAt != 0 {
			x.outAt, x.rested = 0, false // what it comes back to is a new rest
		}
		part := 0.01 / restTau // a judgement lasts 10 ms
		for i := range now {
			if !x.rested {
				x.rest[i] = now[i]
			}
			x.rest[i] += part * (now[i] - x.rest[i])
		}
		x.rested = true
		return
	}
	way := 0
	if stick > 0 {
		way = 1
	}
	if x.outAt == 0 || way != x.way {
		x.outAt, x.way = b.Now, way
	}
	if b.Now-x.outAt < answerLag || math.Abs(stick) < move {
		return
	}
	if b.Demand[axis].OK {
		x.demand[way].take(now[0] - x.rest[0])
	}
	for i := range b.Motors {
		if outNow(b, i).OK {
			x.outputs[way][i].take(now[1+i] - x.rest[1+i])
		}
	}
}

// measuredAnswer is what may answer a stick: the axis' demand, and each output
// less the mean of all.
func measuredAnswer(b *detect.Bench, axis int) (v [1 + decode.MaxMotors]float64) {
	v[0] = b.Demand[axis].V
	mean, _ := meanOut(b)
	for i := range b.Motors {
		v[1+i] = b.Out[i].V - mean
	}
	return v
}

// demanded tells to which sides the demand went the stick's way.
func (x *axisAnswer) demanded() (to [ways]bool) {
	size := [ways]float64{-x.demand[0].value(), x.demand[1].value()}
	for way := range to {
		to[way] = size[way] >= max(answerLeast, answerShare*size[1-way])
	}
	return to
}

// driven tells whether the outputs went one way for one side and the other way
// for the other.
func (x *axisAnswer) driven() bool {
	var size [ways]float64
	both := 0.0
	for i := range x.outputs[0] {
		l, r := x.outputs[0][i].value(), x.outputs[1][i].value()
		size[0], size[1], both = size[0]+l*l, size[1]+r*r, both+l*r
	}
	l, r := math.Sqrt(size[0]), math.Sqrt(size[1])
	return both < 0 && min(l, r) >= max(answerOut, answerShare*max(l, r))
}
