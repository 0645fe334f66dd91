package main

import (
	"bytes"
	"fmt"
	"hash/crc32"
	"math/rand/v2"
	"strconv"

	"tetherbell/decode"
	"tetherbell/simulator"
)

// A spinups is a bench that goes on for as long as it is asked: one session of
// the simulator after the other, chapters, as one bridge would tell them that
// is never switched off. Its clock (32 bits of microseconds, 71.6 minutes) and
// its line counter (16 bits, under a minute) run on from chapter to chapter, and
// a silence lies between, in which the pack is changed. The clock of the bridge
// is a little slow, as a quartz is.
type spinups struct {
	chapter func(n int) simulator.Scenario

	n       int // chapters begun
	bench   *simulator.Bench
	scene   simulator.Scenario
	boot    uint32 // of the chapter that runs
	begunUS int64  // the bridge's time since all began, where the chapter began
	clock   uint32 // added to the chapter's own
	next    uint16 // line counter that the next line shall have
	count   uint16 // added to the chapter's own
	fresh   bool   // the chapter has sent nothing yet
	last    uint32 // clock of the last line
	raw     []byte
	lines   uint64                        // good ones so far
	alter   func(tag, tail []byte) []byte // what a good line shall say instead; nil: what it says
}

const (
	// hostFaster is by how much the host's clock runs faster than the bridge's:
	// what a quartz is off (common practice, no source).
	hostFaster = 40e-6
	// betweenUS is how long the bridge says nothing between two chapters.
	betweenUS = 20_000_000
)

// hostUS is the host's time of a moment of the bridge.
func hostUS(us int64) int64 { return us + int64(float64(us)*hostFaster) }

// Next gives the lines of the next few milliseconds. It never ends.
func (s *spinups) Next(dst []byte) (out []byte, untilUS int64, done bool) {
	if s.bench == nil {
		s.begin()
	}
	var until int64
	s.raw, until, done = s.bench.Next(s.raw[:0])
	for line := range bytes.Lines(s.raw) {
		dst = s.stamp(dst, line)
	}
	at := s.begunUS + until
	if done {
		s.bench = nil
		s.begunUS = at + betweenUS
		at = s.begunUS
	}
	return dst, hostUS(at), false
}

// begin begins the next chapter.
func (s *spinups) begin() {
	s.scene = s.chapter(s.n)
	s.scene.Link.Boot += s.boot
	for _, e := range s.scene.Events {
		if e.Do == "restart" {
			s.boot++
		}
	}
	s.bench = simulator.New(s.scene, uint64(s.n)+1)
	if s.begunUS > 0 {
		s.clock = s.last + betweenUS - s.scene.Link.ClockUS
	}
	s.n++
	s.fresh = true
}

// stamp appends a line with the clock and the counter that run on. One that
// arrived bad stays as it is.
func (s *spinups) stamp(dst, line []byte) []byte {
	tag, rest, ok := bytes.Cut(line, []byte{','})
	seq, rest, ok2 := bytes.Cut(rest, []byte{','})
	star := bytes.LastIndexByte(rest, '*')
	if !ok || !ok2 || star < 0 || !sealed(line) {
		return append(dst, line...)
	}
	us, tail := rest[:star], []byte(nil)
	if i := bytes.IndexByte(us, ','); i >= 0 {
		us, tail = us[:i], us[i:]
	}
	n, err := strconv.ParseUint(string(seq), 10, 16)
	at, err2 := strconv.ParseUint(string(us), 10, 32)
	if err != nil || err2 != nil {
		panic(fmt.Sprintf("a line of the simulator: %q", line))
	}
	if s.fresh {
		s.count, s.fresh = s.next-uint16(n), false
	}
	s.next, s.last = uint16(n)+s.count+1, uint32(at)+s.clock
	s.lines++
	if s.alter != nil {
		tail = s.alter(tag, tail)
	}
	from := len(dst)
	dst = append(append(dst, tag...), ',')
	dst = append(strconv.AppendUint(dst, uint64(uint16(n)+s.count), 10), ',')
	dst = append(strconv.AppendUint(dst, uint64(s.last), 10), tail...)
	return decode.AppendChecksum(dst, from)
}

// sealed reports whether a line's checksum is right.
func sealed(line []byte) bool {
	line = bytes.TrimRight(line, "\r\n")
	star := len(line) - 9
	if star < 0 || line[star] != '*' {
		return false
	}
	sum, err := strconv.ParseUint(string(line[star+1:]), 16, 32)
	return err == nil && uint32(sum) == crc32.Checksum(line[:star], castagnoli)
}

// spinUps is a sound craft that is spun up again and again, by a person who
// takes more or less time over it: armed idle, the stop tried, throttle in
// steps, small sticks, down, disarmed, a pause.
func spinUps(n int, minutes float64) simulator.Scenario {
	chance := rand.New(rand.NewPCG(uint64(n), 7))
	sc := simulator.Default()
	sc.Name, sc.Lesson, sc.Seconds = "spin-ups", "A sound craft, again and again.", minutes*60
	atKilohertz(&sc)
	if n%2 == 1 {
		sc.Mode = "level"
	}
	at := 2.0
	do := func(wait float64, e simulator.Event) {
		e.At = at
		sc.Events = append(sc.Events, e)
		at += wait * (0.8 + 0.4*chance.Float64())
	}
	for at < sc.Seconds-70 || len(sc.Events) == 0 {
		do(2.5, simulator.Event{Do: "arm"})
		do(0.5, simulator.Event{Do: "stop"})
		do(1.5, simulator.Event{Do: "disarm"})
		do(1, simulator.Event{Do: "release"})
		do(2.5, simulator.Event{Do: "arm"})
		top := 0.2 + 0.07*chance.Float64()
		for _, share := range []float64{0.5, 0.75, 1} {
			do(6, simulator.Event{Do: "throttle", To: top * share, Over: 3})
		}
		for _, stick := range []string{"roll", "pitch", "yaw"} {
			far := 0.04 + 0.03*chance.Float64()
			do(0.6, simulator.Event{Do: stick, To: far, Over: 0.15})
			do(0.6, simulator.Event{Do: stick, To: -far, Over: 0.3})
			do(2, simulator.Event{Do: stick, To: 0, Over: 0.15})
		}
		do(7, simulator.Event{Do: "throttle", To: 0, Over: 4})
		do(12, simulator.Event{Do: "disarm"})
	}
	return sc
}

// atKilohertz has a scenario send 1000 axes lines a second beside the rest.
func atKilohertz(sc *simulator.Scenario) { sc.Rates.Axes, sc.Link.Baud = 1000, 3_000_000 }
