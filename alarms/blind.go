package alarms

import (
	"fmt"

	"tetherbell/alarms/detect"
)

// Everything is the name of a lack of all kinds at once: no good line came, as
// stale-link tells it at that moment.
const Everything = "everything"

// blind keeps account of when no good line came of any bridge. The looks at each
// kind leave such a time out, so that no second counts twice.
type blind struct {
	total int64 // engine microseconds
	armed int64 // of it, with a craft that was armed as last told
	stood int64 // what the monitor itself had stood still, milliseconds, at the last good line
}

// sees ends a silence with a good line. silent is its length as of the last tick.
func (c *course) sees(silent int64, armed bool) {
	total, of := c.blindFor(silent, armed)
	c.blind.total += total
	c.blind.armed += of
	c.blind.stood = c.still.total
}

// blindFor is what a silence adds to it: all of it once it is long enough to ring,
// less what the monitor itself stood still, which is told as that.
func (c *course) blindFor(silent int64, armed bool) (total, of int64) {
	if float64(silent) < c.bench.Limits.StaleSeconds*float64(detect.Second) {
		return 0, 0
	}
	total = max(0, silent-(c.still.total-c.blind.stood)*1000)
	if armed {
		of = total
	}
	return total, of
}

// blindTime tells how long nothing was watched since no good line came, one that
// lasts still among it.
func (c *course) blindTime() []Lack {
	total, armed := c.blindFor(c.bench.Silent, c.bench.LastArmed == detect.Yes)
	total, armed = total+c.blind.total, armed+c.blind.armed
	if total == 0 {
		return nil
	}
	why := "no good lines"
	switch {
	case armed == total:
		why += " while armed"
	case armed > 0:
		why += fmt.Sprintf(", %.1f s of it while armed", float64(armed)/1e6)
	}
	return []Lack{{Everything, why + forTime(total)}}
}

// Called is its name in a headline.
func (l Lack) Called() string {
	if all := l.OfAll(); all != "" {
		return all
	}
	return l.Name
}

// OfAll words a lack that is none of one kind, for a headline; "" for any other.
func (l Lack) OfAll() string {
	switch l.Name {
	case AllAlarms:
		return l.Why
	case Everything:
		why, when := l.when()
		return Everything + when + " (" + why + ")"
	}
	return ""
}
