package alarms

import (
	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

const (
	// idleFresh is how old stick and outputs may be that say that a craft idles.
	idleFresh = 3 * detect.Second / 10
	// idleOver is how far an output may lie over armed idle: bridges round to a
	// hundredth or a thousandth.
	idleOver = 0.005
)

// An idling follows since when an armed craft has idled, engine time; -1: it does
// not, or nobody knows.
type idling struct{ since int64 }

// look judges it now. Armed, stick at zero and every output at armed idle or under,
// all of it known and fresh: one output that lies over it, and the outputs do not
// follow the stick. A motor that lines carry beyond the craft's count is one of them.
func (i *idling) look(b *detect.Bench) {
	fresh := func(r detect.Reading) bool { return r.OK && b.Now-r.At <= idleFresh }
	idles := b.Armed == detect.Yes && b.Motors > 0 && b.IdleReady.OK && b.Doubt[decode.Out] == "" &&
		fresh(b.Stick[0]) && b.Stick[0].V < b.Limits.StickIdle
	for m, most := 0, b.Shown(); idles && m < most; m++ {
		idles = fresh(b.Out[m]) && b.Out[m].V <= b.IdleReady.V+idleOver || m >= b.Motors && !b.Out[m].OK
	}
	switch {
	case !idles:
		i.since = -1
	case i.since < 0:
		i.since = b.Now
	}
}

// lasts is for how long.
func (i *idling) lasts(now int64) int64 {
	if i.since < 0 {
		return 0
	}
	return now - i.since
}
