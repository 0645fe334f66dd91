package detect

import (
	"fmt"

	"gonum.org/v1/gonum/mathext"
)

// The happenings of bad-link.
const (
	badShare uint8 = iota // bad and lost lines
	badLoad               // the line is nearly full
)

const (
	linkBuckets = 50 // of linkBucket each: the window of five seconds
	linkBucket  = Second / 10
	// badDoubt is the chance that the true share lies under the lower bound:
	// 99.9 % sure.
	badDoubt = 0.001
	// sureFor: the bound is asked a hundred times a second. A line that loses 5 %
	// for ever would in the end be taken for a worse one by chance; such chances
	// last for parts of a second (common practice, no source).
	sureFor = 1 * Second
	// longestRun is the longest run of faults, in lines, that is taken for one
	// knock on the cable. Longer holes are as bad as they are long: a link that
	// is away for a fifth of the time is a bad link, in however few pieces
	// (common practice, no source).
	longestRun = 8.0
	// bitsPerByte on a serial line with 8 data bits, no parity, 1 stop bit.
	bitsPerByte = 10
	// loadBelief: a line that carries over 110 % of its capacity does not run
	// at that baud (USB ports of their own ignore it), so the baud tells
	// nothing. The margin covers a bridge clock that is off and the window's
	// edge (common practice, no source).
	loadBelief = 1.10
)

// BadLinkDetector tells when too many lines are bad or lost, and when the
// serial line is nearly full. Of several bridges each is judged by itself, and
// the worst is told.
type BadLinkDetector struct {
	lossWindow              // of the whole bench
	each       []lossWindow // of several bridges
	last       int          // the bridge that was told last
}

// A lossWindow is what one wire brought in the last five seconds.
type lossWindow struct {
	ring  [linkBuckets]LinkCounts // totals at the start of each bucket
	at    int64                   // number of the newest bucket
	begun bool
	first int64

	win   LinkCounts // what the window holds
	span  float64    // seconds the window covers
	bound float64
	made  LinkCounts // what the bound was made for
	since int64      // engine time since when the bound is over the limit, -1 when it is not
	own   OwnCounts  // as known last
	lossy bool       // lines are lost: the load is not blamed until they no longer are
}

// NewBadLink returns the detector of bad-link.
func NewBadLink() *BadLinkDetector { return &BadLinkDetector{lossWindow: lossWindow{since: -1}} }

// Kind is BadLink.
func (*BadLinkDetector) Kind() Kind { return BadLink }

// Observe needs nothing: the totals come with the bench.
func (d *BadLinkDetector) Observe(*Bench, *Input) {}

// Missing is never so.
func (*BadLinkDetector) Missing(*Bench) string { return "" }

// Reset keeps the window: a restart of the bridge is no reason to forget how
// bad the line was.
func (*BadLinkDetector) Reset() {}

// Share returns the share of bad and lost lines of the last five seconds.
func (d *lossWindow) Share() float64 {
	n := d.win.Good + d.win.Bad + d.win.Lost
	if n == 0 {
		return 0
	}
	return float64(d.win.Bad+d.win.Lost) / float64(n)
}

// BytesPerSecond returns what the wire brought in the last five seconds.
func (d *lossWindow) BytesPerSecond() float64 {
	if d.span < 0.5 {
		return 0
	}
	return float64(d.win.Bytes) / d.span
}

// roll moves the window to now, where the wire has brought so much in all.
func (d *lossWindow) roll(now int64, all *LinkCounts) {
	total := all.net()
	if d.own != all.Own {
		d.own = all.Own
		d.forgive(&total)
	}
	bucket := now / linkBucket
	if !d.begun {
		d.begun, d.at, d.first = true, bucket, now
		d.ring = [linkBuckets]LinkCounts{}
	}
	for steps := 0; d.at < bucket && steps < linkBuckets; steps++ {
		d.at++
		d.ring[d.at%linkBuckets] = total
	}
	d.at = bucket
	old := d.ring[(d.at+1)%linkBuckets]
	d.win = LinkCounts{
		Good: total.Good - old.Good, Bad: total.Bad - old.Bad, Lost: total.Lost - old.Lost,
		Bytes: total.Bytes - old.Bytes, Faults: total.Faults - old.Faults,
	}
	d.span = min(seconds(now-d.first), float64(linkBuckets-1)*seconds(linkBucket)+seconds(now%linkBucket))
}

// forgive takes faults that turned out not to be the line's out of what was
// kept: no total of the past is beyond that of now.
func (d *lossWindow) forgive(total *LinkCounts) {
	for i := range d.ring {
		r := &d.ring[i]
		r.Bad, r.Lost, r.Faults = min(r.Bad, total.Bad), min(r.Lost, total.Lost), min(r.Faults, total.Faults)
	}
}

// Judge compares the lower bound of the share with the limit, and the load
// with the capacity of the baud.
func (d *BadLinkDetector) Judge(b *Bench, dst []Finding) []Finding {
	d.roll(b.Now, &b.Link)
	if b.Bridges != nil {
		return d.judgeEach(b, dst)
	}
	return d.judge(b, b.Baud, dst)
}

// judge judges one wire.
func (d *lossWindow) judge(b *Bench, baud int, dst []Finding) []Finding {
	level := Low
	if b.ArmedOrUnknown() {
		level = Medium
	}
	share := Finding{Where: Link, Value: d.Share(), Limit: b.Limits.BadShare, Case: badShare}
	load := Finding{Where: Link, Limit: b.Limits.LineLoad, Case: badLoad}
	if baud > 0 && d.span >= seconds(linkBucket)*(linkBuckets-1) {
		load.Value = d.BytesPerSecond() * bitsPerByte / float64(baud)
	}
	over := d.lasts(b.Now, share.Value > share.Limit && d.lower() > share.Limit)
	full := load.Value > load.Limit && load.Value < loadBelief
	// A full line loses lines: both come together. One alarm tells of it, and
	// does not turn into the other and back as the share swings about its limit.
	d.lossy = over || d.lossy && share.Value > b.Limits.BadShareClear
	switch {
	case over:
		share.Level = level
		return append(dst, share)
	case d.lossy:
		return append(dst, share)
	case full:
		load.Level = level
		return append(dst, load)
	case load.Value > 0.95*load.Limit && load.Value < loadBelief:
		return append(dst, load)
	}
	return dst
}

// lasts reports whether the bound has been over the limit for sureFor.
func (d *lossWindow) lasts(now int64, over bool) bool {
	switch {
	case !over:
		d.since = -1
	case d.since < 0:
		d.since = now
	}
	return over && now-d.since >= sureFor
}

// lower returns the lower 99.9 % bound of the share (Clopper and Pearson,
// Biometrika 26, 1934, 404-413: a quantile of the beta distribution). Lines
// are lost in bursts, which are no independent faults: both numbers are
// shortened to those that would be as sure.
func (d *lossWindow) lower() float64 {
	now := d.win
	now.Bytes = 0 // the bound does not depend on them
	if d.made == now {
		return d.bound
	}
	d.made = now
	bad := d.win.Bad + d.win.Lost
	d.bound = LowerShare(float64(bad), float64(d.win.Good+bad), float64(d.win.Faults))
	return d.bound
}

// LowerShare is the lower 99.9 % bound of the share of bad of n lines that
// came in the given number of runs.
func LowerShare(bad, n, runs float64) float64 {
	if bad <= 0 || n <= 0 {
		return 0
	}
	// A run that began before the window is not among its runs, but is one.
	long := min(bad/max(1, runs), longestRun)
	// In a chain of two states whose faults come in runs of mean length L and
	// make up the share s, neighbours are alike by r = 1 - 1/(L(1-s)), and the
	// mean of n of them is as sure as that of n(1-r)/(1+r) independent ones.
	// Faults that fall singly have L = 1/(1-s): nothing is taken off.
	same := max(1, 2*long*(1-bad/n)-1)
	same = min(same, bad)
	k, m := bad/same, n/same
	return mathext.InvRegIncBeta(k, m-k+1, badDoubt)
}

// Describe tells how bad the link is.
func (d *BadLinkDetector) Describe(b *Bench, f Finding) Story {
	if b.Bridges == nil {
		return d.describe(b, b.Baud, f)
	}
	return d.describeBridge(b, f)
}

func (d *lossWindow) describe(b *Bench, baud int, f Finding) Story {
	s := Story{Unit: "1", Action: "ease off; " + checkLine, Ails: Ailing{What: Spoilt}}
	if b.Armed == No { // there is nothing to ease
		s.Action = checkLine + " before you arm"
	}
	if f.Case == badLoad {
		s.Cause, s.Ails.What = "line nearly full", Overfull
		s.Text = fmt.Sprintf("the serial line carries %.0f %% of what %d baud can: lines will be lost", 100*f.Value, baud)
		s.Action = "raise the baud or lower the stream rates"
		s.More = append(s.More, Fact{"bytes_per_s", d.BytesPerSecond()}, Fact{"baud", baud})
		return s
	}
	s.Cause = "lines lost"
	if d.win.Bad > d.win.Lost {
		s.Cause = "lines damaged"
	}
	s.Text = fmt.Sprintf("%.1f %% of the lines of the last 5 s are bad or lost", 100*f.Value)
	s.More = append(s.More, Fact{"bad", int(d.win.Bad)}, Fact{"lost", int(d.win.Lost)}, Fact{"good", int(d.win.Good)}, Fact{"lower_bound", d.lower()})
	return s
}
