package detect

import (
	"fmt"
	"math"

	"tetherbell/alarms/window"
	"tetherbell/decode"
)

const (
	runTime = 1 * Second // the rise is looked for within this time (the trade's second)
	// stickStill: a hand that holds the stick moves it by less (common practice,
	// no source).
	stickStill = 0.02
	// stickEcho: a craft that lets its throttle follow the stick slowly is still
	// rising so long after the stick stands (common practice, no source).
	stickEcho = Second / 2
	// runSettle after arming, or after the stop is let go: the motors spin up to
	// armed idle by themselves.
	runSettle = 1 * Second
	// runPatience, in periods of the state lines, is how long a rise waits for a
	// line that was read after it: a stick that is raised shows in the outputs
	// first. The next line may be lost, so it is more than two.
	runPatience = 2.5
	runWait     = Second / 10 // and never less: five of the fastest state lines
	// runOpening of the collective throttle: under it nobody is opening it, and
	// there is nothing to wait for.
	runOpening = 0.01
	// runSwing: outputs that swing by so many rises, and are cut at a bound,
	// raise their mean by themselves: a motor cut at the bottom of a swing of
	// amplitude a raises it by a/pi at most, under a sixth of the swing of 2a,
	// and pairs of them on both axes by twice that.
	runSwing  = 3.0
	swingTime = 3 * Second / 10 // one cycle of the slowest rocking, 3 Hz
	// runBack is the share of the limit that must be left for the alarm to stay.
	runBack = 0.5
	// packFell is the fall of the pack's voltage, as a share, from which it may
	// explain more output: less is the noise of its reading.
	packFell = 0.03
	// packLevel: speed or lift that rises by under this share of what the
	// outputs would make of it has stayed level.
	packLevel = 0.25
	// runHole: a stick that is not read for longer than the rise is looked for
	// begins anew. For less it counts as still if it is the same on both sides.
	runHole  = runTime
	stickLen = 128 // stick readings, over two seconds at the fastest
)

// runaway tells of outputs that climb although nobody moves the stick.
type runaway struct {
	out     outBins
	stick   *window.Ring
	read    int64 // newest state line with a stick, -1 none
	free    int64 // motors may settle until then
	stopped Tri
	slot    int64 // newest ended bin
	fresh   bool

	up         bool
	base, held float64 // mean output before, stick then
	value      float64
	cause      string
	thrRise    float64
	seconds    float64
}

// NewRunaway returns the detector of runaway.
func NewRunaway() Detector {
	d := &runaway{out: newOutBins(), stick: window.New(stickLen)}
	d.Reset()
	return d
}

func (*runaway) Kind() Kind { return Runaway }

// Reset drops the windows.
func (d *runaway) Reset() {
	d.out.clear()
	d.stick.Clear()
	d.read, d.free, d.slot = -1, 0, -1
	d.stopped, d.fresh, d.up = Unknown, false, false
}

// Observe fills the windows.
func (d *runaway) Observe(b *Bench, in *Input) {
	if in.S.Tag == decode.State {
		d.state(b, in.At)
		return
	}
	if was := d.out.cur.slot; d.out.take(b, in) {
		d.slot, d.fresh = was, true
	}
}

func (d *runaway) state(b *Bench, at int64) {
	if d.stopped == Yes && b.Stopped == No {
		d.free = at + runSettle
	}
	if b.Stopped != Unknown {
		d.stopped = b.Stopped
	}
	if b.ArmedAt >= 0 {
		d.free = max(d.free, b.ArmedAt+runSettle)
	}
	if !b.Stick[0].OK {
		if d.read >= 0 && at-d.read > runHole {
			d.stick.Clear()
			d.read = -1
		}
		return
	}
	d.stick.Push(at, b.Stick[0].V)
	d.read, d.fresh = at, true
}

// Judge looks for a rise with the stick still.
func (d *runaway) Judge(b *Bench, dst []Finding) []Finding {
	limit := b.Limits.Runaway
	if b.Armed == No || b.Stopped == Yes {
		d.up = false
		return dst
	}
	if d.up {
		if d.stays(b) {
			f := Finding{Where: Craft, Value: d.value, Limit: limit}
			if over(d.value, limit) {
				f.Level = High
			}
			return append(dst, f)
		}
		d.up = false
		return dst
	}
	if !d.fresh && (d.read < 0 || b.Now-d.read < d.patience(b)) || b.Armed != Yes {
		return dst
	}
	d.fresh = false
	if d.slot < 0 || d.read < 0 || !d.find(b) {
		return dst
	}
	d.up = true
	return append(dst, Finding{Where: Craft, Level: High, Value: d.value, Limit: limit})
}

func (d *runaway) patience(b *Bench) int64 {
	return max(runWait, int64(runPatience*b.Streams[decode.State].Period))
}

// stays reports whether what rose is still up. Nobody can call it off by
// lowering the stick; asking for more makes it what was asked.
func (d *runaway) stays(b *Bench) bool {
	if b.Stick[0].OK && over(b.Stick[0].V, d.held+stickStill) {
		return false
	}
	s := d.out.over(d.slot-levelMean/binTime+1, d.slot)
	if v, ok := s.mean(); ok {
		d.value = v - d.base
	}
	return over(d.value, runBack*b.Limits.Runaway)
}

// find looks back from the newest bin, or from the newest whose stick is known,
// for the latest level that the outputs have left by more than the limit.
func (d *runaway) find(b *Bench) bool {
	const span = levelMean / binTime
	end := d.slot
	if !b.Stick[0].OK || b.Now-d.read < d.patience(b) && d.opening() {
		end = min(end, d.read/binTime-1)
	}
	now := d.out.over(end-span+1, end)
	if now.lines < 2 || !d.moved(&now, end, b.Limits.Runaway) {
		return false
	}
	for start := end - span; start >= end-runTime/binTime; start-- {
		before := d.out.over(start-span+1, start)
		is, was, ok := now.rise(&before)
		if !ok || before.lines < 2 || !over(is-was, b.Limits.Runaway) {
			continue
		}
		// The latest start is the one with the most recent stick: an earlier
		// one only looks at more of it.
		if (start-span+1)*binTime < d.free || !d.still(b, (start-span+1)*binTime-stickEcho) {
			return false
		}
		if d.swings(b, &now, &before, end, is-was) || d.byPack(start, end, is/max(was, hair)) {
			return false
		}
		d.base, d.value = was, is-was
		_, d.held = d.stick.At(d.stick.Count() - 1)
		d.seconds = float64((end-start)*binTime) / float64(Second)
		d.tell(b, &now, &before)
		return true
	}
	return false
}

// moved is a quick look: some motor must have risen over the limit since some
// bin, or the mean has not.
func (d *runaway) moved(now *stretch, end int64, limit float64) bool {
	top := math.Inf(-1)
	for i, ok := range now.has {
		if ok {
			top = max(top, now.out[i])
		}
	}
	for slot := end - runTime/binTime - levelMean/binTime; slot < end; slot++ {
		b := d.out.bin(slot)
		if b == nil || top-b.lowest < limit-hair { // no mean of a motor is under the lowest output
			continue
		}
		for i, ok := range now.has {
			if ok && b.n[i] > 0 && now.out[i]-b.out[i] > limit {
				return true
			}
		}
	}
	return false
}

// opening reports whether the collective throttle may be following a stick
// that was not read yet.
func (d *runaway) opening() bool {
	const span = levelMean / binTime
	now := d.out.over(d.slot-1, d.slot)
	before := d.out.over(d.slot-runTime/binTime, d.slot-span)
	return !now.thrOK || !before.thrOK || over(now.thr, before.thr+runOpening)
}

// still reports whether the stick has stood since then, over its zero. With
// the stick at zero ground-thrust watches, but not a craft that may fly.
func (d *runaway) still(b *Bench, since int64) bool {
	low, high, n := math.Inf(1), math.Inf(-1), 0
	for i := d.stick.Count() - 1; i >= 0; i-- {
		at, v := d.stick.At(i)
		low, high = min(low, v), max(high, v)
		n++
		if at < since { // one from before it, so that no movement is missed
			return !over(high-low, stickStill) && (low >= b.Limits.StickIdle || !b.HeldOrGrounded())
		}
	}
	return false
}

// swings reports whether an oscillation that the mixer cuts off explains the
// rise. Where the collective throttle rose as well it does not.
func (d *runaway) swings(b *Bench, now, before *stretch, end int64, rise float64) bool {
	if now.thrOK && before.thrOK && now.thr-before.thr > rise/2 {
		return false
	}
	from := end - swingTime/binTime + 1
	all := d.out.over(from, end)
	cut := all.clipped(b) || !b.IdleLeast.OK // where the least output is not known, it may be
	return cut && d.out.swing(from, end) > runSwing*rise
}

// byPack reports whether the pack explains the rise by a factor: its voltage
// falls, and the controller drives harder for the same speed.
func (d *runaway) byPack(start, end int64, factor float64) bool {
	before, now := d.out.bin(start), d.out.bin(end)
	for k := int64(1); before == nil && k < 8; k++ {
		before = d.out.bin(start - k)
	}
	for k := int64(1); now == nil && k < 8; k++ {
		now = d.out.bin(end - k)
	}
	if before == nil || now == nil {
		return false
	}
	volts := now.volts / before.volts
	known := !math.IsNaN(volts)
	if known && volts > 1-packFell {
		return false
	}
	judged, flat := false, true
	if speed := now.speed / before.speed; !math.IsNaN(speed) && before.speed > 0 {
		judged, flat = true, speed < 1+packLevel*(factor-1)
	}
	if lift := now.lift / before.lift; !math.IsNaN(lift) && before.lift > 1 {
		// Thrust goes by the square of speed, and speed by output and voltage.
		judged, flat = true, flat && lift < 1+packLevel*(factor*factor-1)
	}
	if judged {
		return flat
	}
	return known && factor*volts < 1+packLevel*(factor-1)
}

// tell works out what makes the outputs climb.
func (d *runaway) tell(b *Bench, now, before *stretch) {
	d.thrRise = math.NaN()
	if now.thrOK && before.thrOK {
		d.thrRise = now.thr - before.thr
	}
	switch {
	case b.ControlOK == No:
		d.cause = "control link gone: the craft acts by itself"
	case d.thrRise > d.value/2:
		d.cause = "the craft raises its own throttle: a height or hold mode winds up against the tether"
	case now.clipped(b):
		d.cause = "mixer at its bounds: the controller pushes against the hold-down"
	default:
		d.cause = "outputs rise without stick and throttle"
	}
}

// Describe tells the rise and where it comes from.
func (d *runaway) Describe(b *Bench, f Finding) Story {
	s := Story{
		Unit:   "1",
		Text:   fmt.Sprintf("mean output rose by %.2f with the stick still, limit %.2f within a second", f.Value, f.Limit),
		Cause:  d.cause,
		Action: "press stop; keep clear", // the stick does not hold it: cutting it may not help
		More:   []Fact{{"output_before", d.base}, {"rise_s", d.seconds}, {"stick", d.held}},
	}
	if !math.IsNaN(d.thrRise) {
		s.More = append(s.More, Fact{"throttle_rise", d.thrRise})
	}
	return s
}

// runPace is the slowest stream of outputs of which a tenth of a second holds
// two lines.
const runPace = 20.0

// Missing: outputs and the stick.
func (d *runaway) Missing(b *Bench) string {
	if _, ok := b.MeanOut(); !ok {
		return noOutputs(b)
	}
	switch rate := b.Streams[decode.Out].Rate(); {
	case b.Armed == Unknown:
		return noArmed(b)
	case !b.Stick[0].OK:
		return noStick(b)
	case rate > 0 && rate < runPace:
		return fmt.Sprintf("the stream of outputs is too slow: %.0f a second", rate)
	}
	return ""
}
