package compare

import (
	"math"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

const (
	// maxBlocks bounds the memory of a run: four hours of steady holds.
	maxBlocks = 4 * 7200
	// startBlocks are there from the beginning: what a session of an hour needs.
	startBlocks = 7200
	// hole is a gap of the axes stream after which the band filters begin anew.
	hole = detect.Second / 10
	// settleHole is how long they take: three times the slow one's time
	// constant, 1/(2 pi 1.9 0.64) = 0.13 s.
	settleHole = detect.Second * 4 / 10
)

// A Collector takes one session and keeps of it what a comparison needs. It
// keeps nothing of what it is handed, and allocates nothing for a sample but
// for the first lines of a setting.
type Collector struct {
	run    Run
	gate   gate
	motors int // the most seen in out lines
	told   craft.Craft

	control, rate [3]band
	axesAt        int64 // engine time of the last axes line, -1 none
	boot          float64

	sums   sums
	busy   bool  // a block is in the making
	from   int64 // when it began
	inHold bool
	holds  int32
	stays  int32
	stayAt int64 // the gate's levelAt at the last block
}

// NewCollector returns a collector for a session of a craft, as the craft file
// has it; what it leaves open the craft lines fill.
func NewCollector(c craft.Craft) *Collector {
	k := &Collector{axesAt: -1, boot: -1}
	k.run.Craft = c
	k.run.blocks = make([]block, 0, startBlocks)
	k.run.settings = map[string]setting{}
	return k
}

// Sample takes one good line and its engine time, microseconds.
func (c *Collector) Sample(at int64, s *decode.Sample) {
	c.run.length = max(c.run.length, at)
	if s.Tag < decode.TagCount {
		c.run.streams[s.Tag]++
	}
	c.turn(at)
	shut := false
	switch s.Tag {
	case decode.State:
		shut = c.gate.state(at, s)
	case decode.Axes:
		shut = c.axes(at, s)
	case decode.Out:
		c.outs(s)
	case decode.Accel:
		addEach(c.sums.force[:], s, decode.ForceX)
	case decode.Temp:
		addEach(c.sums.temp[:], s, 0)
	case decode.Load:
		c.sums.load.take(s, decode.LoadN)
	case decode.Pack:
		c.sums.volts.take(s, decode.Volts)
		c.sums.amps.take(s, decode.Amps)
	case decode.Hello:
		shut = c.hello(at, s)
	case decode.Craft:
		c.craft(s)
	case decode.Set:
		c.run.set(at, s)
	}
	if shut {
		c.busy, c.inHold = false, false
	}
}

// Event takes what an alarm did.
func (c *Collector) Event(ev *alarms.Event) {
	if ev.Kind >= detect.KindCount {
		return
	}
	a := &c.run.alarms[ev.Kind]
	if ev.Change == alarms.Raised {
		a.count++
	}
	if ev.Change == alarms.Raised || ev.Change == alarms.Worsened {
		a.worst = max(a.worst, ev.Priority)
	}
}

// Run returns what was collected so far. The collector must not be used after.
func (c *Collector) Run() *Run {
	c.run.Craft = c.run.Craft.Fill(c.told)
	if c.run.Craft.Motors == 0 {
		c.run.Craft.Motors = c.motors
	}
	c.run.everArmed = c.gate.everArmed
	c.run.finish()
	return &c.run
}

// turn ends the block whose time is over and begins the next.
func (c *Collector) turn(at int64) {
	if c.busy && at >= c.from+blockTime {
		c.end()
	}
	if !c.gate.open(at) {
		c.busy, c.inHold = false, false
		return
	}
	if c.busy {
		return
	}
	if !c.inHold {
		c.inHold = true
		c.holds++
	}
	c.busy, c.from = true, at
	c.sums = sums{}
	c.gate.anew()
}

// end keeps the block.
func (c *Collector) end() {
	c.busy = false
	b, steady := c.sums.block(c.motorCount(), c.run.Craft.Fill(c.told).Cells)
	if !steady {
		c.inHold, c.gate.levelAt = false, c.from+blockTime
		return
	}
	if len(c.run.blocks) >= maxBlocks {
		c.run.full = true
		return
	}
	if c.gate.levelAt != c.stayAt {
		c.stays, c.stayAt = c.stays+1, c.gate.levelAt
	}
	b.stay = c.stays
	b.hold, b.at, b.age = c.holds-1, seconds(c.from), seconds(c.from-c.gate.levelAt)
	b.idle = c.idle(&b)
	c.run.blocks = append(c.run.blocks, b)
}

// idle reports whether a block is armed idle. Where no throttle stick is told,
// the collective throttle says so, or else the outputs.
func (c *Collector) idle(b *block) bool {
	switch ready := c.run.Craft.IdleReady; {
	case c.gate.told:
		return c.gate.throttle < idleStick
	case !math.IsNaN(b.thr):
		return b.thr < idleStick
	case ready > 0:
		return b.out < ready+idleStick
	}
	return false
}

func (c *Collector) motorCount() int {
	if n := c.run.Craft.Motors; n > 0 {
		return min(n, decode.MaxMotors)
	}
	if c.told.Motors > 0 {
		return min(c.told.Motors, decode.MaxMotors)
	}
	return c.motors
}

// axes takes an axes line.
func (c *Collector) axes(at int64, s *decode.Sample) (shut bool) {
	dt := at - c.axesAt
	switch {
	case c.axesAt < 0 || dt > hole:
		c.control, c.rate = [3]band{}, [3]band{}
		c.gate.hold(at, settleHole)
		shut, dt = true, 0
	case dt <= 0:
		return false // a line that comes twice or late would turn a filter's time back
	}
	c.axesAt = at
	k := stepOf(seconds(dt))
	for i := range 3 {
		if v, ok := value(s, decode.ControlRoll+i); ok {
			c.sums.control[i].add(c.control[i].take(v, k))
		}
		if v, ok := value(s, decode.RateRoll+i); ok {
			c.sums.rate[i].add(c.rate[i].take(v, k))
		}
	}
	if v, ok := value(s, decode.Throttle); ok {
		half := 0
		if at >= c.from+blockTime/2 {
			half = 1
		}
		c.sums.half[half].add(v)
	}
	return c.gate.demands(at, s, k) || shut
}

// outs takes an out line.
func (c *Collector) outs(s *decode.Sample) {
	sum, n := 0.0, 0
	for i := range decode.MaxMotors {
		if v, ok := value(s, i); ok {
			c.sums.out[i].add(v)
			sum += v
			n++
			c.motors = max(c.motors, i+1)
		}
	}
	if c.gate.outKnown = n > 0; n > 0 {
		c.gate.out = sum / float64(n)
	}
}

// hello notes a bridge that began anew: nothing before is joined with what
// follows.
func (c *Collector) hello(at int64, s *decode.Sample) (shut bool) {
	v, ok := value(s, decode.HelloBoot)
	if !ok {
		return false
	}
	shut = c.boot >= 0 && v != c.boot
	c.boot = v
	if shut {
		c.axesAt = -1
		c.gate.hold(at, settleHole)
	}
	return shut
}

// craft takes what the bridge says of the craft. Strings are made only when
// they change.
func (c *Collector) craft(s *decode.Sample) {
	if c.told.Name != string(s.Text) {
		c.told.Name = string(s.Text)
	}
	if c.told.Layout != string(s.Word) {
		c.told.Layout = string(s.Word)
	}
	whole := func(i int, to *int) {
		if v, ok := value(s, i); ok {
			*to = int(v)
		}
	}
	whole(decode.CraftMotors, &c.told.Motors)
	whole(decode.CraftPoles, &c.told.Poles)
	whole(decode.CraftBlades, &c.told.Blades)
	whole(decode.CraftCells, &c.told.Cells)
	if v, ok := value(s, decode.CraftDiameter); ok {
		c.told.DiameterMM = v
	}
	if v, ok := value(s, decode.CraftMass); ok {
		c.told.MassG = v
	}
}

// addEach adds the fields of a line from slot i on, one to each mean.
func addEach(to []mean, s *decode.Sample, i int) {
	for k := range to {
		to[k].take(s, i+k)
	}
}

func seconds(us int64) float64 { return float64(us) / float64(detect.Second) }
