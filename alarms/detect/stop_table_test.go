package detect

import (
	"fmt"
	"math"
	"testing"

	"tetherbell/decode"
)

// flags are the nine things that a state line can say of a halt.
var flags = func() (all [][2]float64) {
	for _, armed := range []float64{1, 0, no} {
		for _, stopped := range []float64{0, 1, no} {
			all = append(all, [2]float64{armed, stopped})
		}
	}
	return all
}()

// A halting is one order of three phases, with motors that go or stand in each.
type halting struct {
	phases [3][2]float64
	goes   [3]bool
}

func (h halting) String() string {
	return fmt.Sprintf("armed,stopped %v goes %v", h.phases, h.goes)
}

// eachHalting walks every order of the flags with every pattern of motors.
func eachHalting(do func(h halting)) {
	for _, a := range flags {
		for _, b := range flags {
			for _, c := range flags {
				for g := range 8 {
					do(halting{[3][2]float64{a, b, c}, [3]bool{g&1 != 0, g&2 != 0, g&4 != 0}})
				}
			}
		}
	}
}

// halted: asserted or disarmed, and known to be so.
func halted(f [2]float64) bool { return f[1] == 1 || f[0] == 0 }

// released: as last known, neither holds.
func released(phases [][2]float64) bool {
	armed, stopped := no, no
	for _, f := range phases {
		if !math.IsNaN(f[0]) {
			armed = f[0]
		}
		if !math.IsNaN(f[1]) {
			stopped = f[1]
		}
	}
	return stopped != 1 && armed != 0
}

// loud counts the findings of a detector that ring at this moment.
func loud(tr *trial) (n int) {
	for _, f := range tr.d.Judge(&tr.b, nil) {
		if f.Level > None {
			n++
		}
	}
	return n
}

// check runs late-stop and spin-disarmed side by side through one order. Where
// motors go while it is known that they may not, exactly one of them rings:
// from due after the phase began to its end. Where they may, or where all
// stands, none rings at the end of a phase. Where it is lost sight of, one that
// rings may go on, and none begins.
func (h halting) check(t *testing.T, length, due, settled float64, streams func(stream) []stream) bool {
	late, spin := newTrial(NewLateStop(), heron), newTrial(NewSpinDisarmed(), heron)
	phase := func(at float64) int { return min(int(at/length+1e-9), 2) }
	all := streams(stream{decode.State, 20, 0, 0, func(at float64) []float64 {
		f := h.phases[phase(at)]
		return state(f[0], f[1], 1, 0)
	}})
	before := 0 // rang at the end of the phase before
	for k, f := range h.phases {
		start := float64(k) * length
		count := func(from, to float64) int {
			late.run(from, to, all...)
			spin.run(from, to, all...)
			return loud(late) + loud(spin)
		}
		early := count(start, start+0.15)
		soon := count(start+0.15, start+due)
		then := count(start+due, start+settled)
		end := count(start+settled, start+length)
		// At once only where motors went on under a halt that was there before.
		carried := before > 0 || k > 0 && h.goes[k-1] && !released(h.phases[:k])
		ok, bad := true, ""
		switch {
		case halted(f) && h.goes[k]:
			ok, bad = soon == 1 && then == 1 && end == 1, "one must ring in time and go on"
			ok = ok && (early == 0 || carried)
		case halted(f) || released(h.phases[:k+1]) || !h.goes[k]:
			ok, bad = then == 0 && end == 0, "none may ring"
		default:
			ok, bad = end <= before && then <= before, "none may begin where it is not known"
		}
		if !ok {
			t.Errorf("%s, phase %d: %s, got %d %d %d %d:%s%s", h, k+1, bad, early, soon, then, end, late.list(), spin.list())
			return false
		}
		before = end
	}
	return true
}

// Whatever the order of stop, arm and lost flags, an output that runs on while
// stopped or disarmed rings within the half second that it is given.
func TestHaltEveryOrderByOutput(t *testing.T) {
	failed := 0
	eachHalting(func(h halting) {
		if failed > 5 {
			return
		}
		if !h.check(t, 2, 0.6, 1.0, func(st stream) []stream {
			return []stream{st, {decode.Out, 50, 0, 0, func(at float64) []float64 {
				if h.goes[min(int(at/2+1e-9), 2)] {
					return all4(0.3)
				}
				return all4(0)
			}}}
		}) {
			failed++
		}
	})
}

// The same for rotors that do not coast, where outputs are not measured: they
// have a second to coast down, and after an unseen run twice that.
func TestHaltEveryOrderBySpeed(t *testing.T) {
	const length = 5.0
	coast := spinDown(20000, 0.2)
	failed := 0
	eachHalting(func(h halting) {
		// Orders with a lost stop flag are left to the outputs: it takes long.
		if failed > 5 || math.IsNaN(h.phases[0][1]) || math.IsNaN(h.phases[1][1]) || math.IsNaN(h.phases[2][1]) {
			return
		}
		if !h.check(t, length, 2.4, 2.6, func(st stream) []stream {
			return []stream{st, {decode.ERPM, 25, 0, 0, func(at float64) []float64 {
				k := min(int(at/length+1e-9), 2)
				switch {
				case h.goes[k]:
					return all4(20000)
				case k > 0 && h.goes[k-1]:
					return all4(coast(at - float64(k)*length))
				}
				return all4(0)
			}}}
		}) {
			failed++
		}
	})
}

// A stop that is released a moment before the state line that says so: what
// starts in between has been allowed to, even with one such line lost.
func TestLateStopAwaitsTheRelease(t *testing.T) {
	for _, hz := range []float64{10, 20, 50} {
		tr := newTrial(NewLateStop(), heron)
		out := stream{decode.Out, 200, 0, 0, from(3.01, all4(0), all4(0.08))}
		tr.run(0, 3.005, stream{decode.State, hz, 0, 0, steady(state(1, 1, 1, 0)...)}, out)
		tr.run(3.005, 3.005+1.9/hz, out)
		tr.run(3.005+1.9/hz, 5, stream{decode.State, hz, 0, 0, steady(state(1, 0, 1, 0)...)}, out)
		tr.silent(t)
	}
}

// A bridge whose armed flag comes in every other line only hides nothing.
func TestHaltWithAFlickeringFlag(t *testing.T) {
	n := 0
	st := stream{decode.State, 20, 0, 0, func(float64) []float64 {
		if n++; n%2 == 0 {
			return state(no, 0, 1, 0)
		}
		return state(0, 0, 1, 0)
	}}
	out := stream{decode.Out, 100, 0, 0, from(2, all4(0), all4(0.1))}
	tr := newTrial(NewSpinDisarmed(), heron)
	tr.run(0, 4, st, out)
	tr.one(t, Motor(0)|Motor(1)|Motor(2)|Motor(3), High, 2.2, 2.35)
	n = 0
	tr = newTrial(NewLateStop(), heron) // nothing has run that it could stop
	tr.run(0, 4, st, out)
	tr.silent(t)
}

// One motor turns, several turn.
func TestHaltStoriesAgree(t *testing.T) {
	one, two := Motor(1), Motor(0)|Motor(1)
	for _, c := range []struct {
		d       Detector
		where   Where
		bySpeed bool
		want    string
	}{
		{&lateStop{}, one, true, "m2 still turns at 0.51 of the speed before, 0.0 s after disarming"},
		{&lateStop{bySpeed: true, byStop: true}, two, true, "m1+m2 still turn at 0.51 of the speed before, 0.0 s after the stop"},
		{&lateStop{}, one, false, "m2 still has an output of 0.510, 0.0 s after disarming"},
		{&lateStop{}, two, false, "m1+m2 still have an output of 0.510, 0.0 s after disarming"},
		{&spinDisarmed{}, one, false, "m2 has an output of 0.510 although the craft is disarmed"},
		{&spinDisarmed{}, two, false, "m1+m2 have an output of 0.510 although the craft is disarmed"},
		{&spinDisarmed{}, one, true, "m2 turns at 0.51 of idle speed although the craft is disarmed"},
		{&spinDisarmed{}, two, true, "m1+m2 turn at 0.51 of idle speed although the craft is disarmed"},
	} {
		switch d := c.d.(type) {
		case *lateStop:
			d.bySpeed = c.bySpeed
		case *spinDisarmed:
			d.bySpeed = c.bySpeed
		}
		if got := c.d.Describe(&Bench{}, Finding{Where: c.where, Value: 0.51}).Text; got != c.want {
			t.Errorf("got %q, want %q", got, c.want)
		}
	}
}
