package alarms

import (
	"fmt"
	"slices"
	"strings"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

const (
	// lossLasts is how long an alarm must have gone unwatched, or watched, before
	// that is told: one line whose field is empty is no news (common practice, no
	// source).
	lossLasts = detect.Second
	// maxLosses bounds what is told of one session: a value that comes and goes
	// for an hour fills no journal. The list of what is not watched goes on.
	maxLosses = 100
	// helloWait is how long a bridge may send good lines before it has said hello:
	// three of its hellos.
	helloWait = 3 * detect.Second
)

// A Loss says that alarms that were watched are no longer, or are again: while
// the craft is armed nobody may take their silence for good news.
type Loss struct {
	T     int64    // engine microseconds, of telling
	Since int64    // engine microseconds, of the first look that found it so
	Names []string // of the alarms
	Why   string   // "" where they are watched again
}

// String words a loss in one line.
func (l *Loss) String() string {
	names := strings.Join(l.Names, ", ")
	switch {
	case len(l.Names) == 0:
		return l.Why
	case l.Why == "":
		return fmt.Sprintf("watched again since %.1f s: %s", float64(l.Since)/1e6, names)
	}
	text := fmt.Sprintf("not watched any more since %.1f s: %s (%s)", float64(l.Since)/1e6, names, l.Why)
	if act := (Lack{Why: l.Why}).Act(); act != "" {
		text += "; first: " + act
	}
	return text
}

// Stands reports whether this very loss is what a summary tells of an alarm.
func (l *Loss) Stands(n Lack) bool {
	return l.Why != "" && slices.Contains(l.Names, n.Name) && strings.HasSuffix(n.Why, sinceText(l.Since))
}

// loss follows one alarm.
type loss struct {
	told  bool   // that it is not watched any more
	base  string // why it was not watched when last nothing was to be told of it
	why   string // at the last look
	from  int64  // when why began to be other than base
	since int64  // of what was told
}

// losses follow what leaves the watch while the craft is armed.
type losses struct {
	of     []loss
	begun  bool
	all    []Loss
	news   []Loss                      // that were not handed out yet
	arming int64                       // the one that was told of, -1 none
	hellos [decode.MaxBridges]greeting // of each bridge; the first is that of a bench with one
	odd    bool                        // that accel's values are in doubt was told
	asked  bool                        // what there is to ask was
	craft  string                      // why the craft is in doubt, as told last
	load   string                      // and why lift is
	crafts int                         // how many other crafts were told of
}

// A greeting is the hello of a bridge that is heard.
type greeting struct {
	heard bool
	from  int64 // engine microseconds
	done  bool  // it has come, or its lack was told
	mute  bool  // its lack was told, and it has not come since
}

// look reports whether the hello of a bridge that is heard is to be told as lacking.
func (g *greeting) look(now int64, said bool) (lacks bool) {
	switch {
	case g.done || said:
		g.done, g.mute = true, g.mute && !said
		return false
	case now-g.from < helloWait:
		return false
	}
	g.done, g.mute = true, true
	return true
}

// look takes what is not watched now, a reason for each detector.
func (l *losses) look(b *detect.Bench, ds []detect.Detector, now []string) {
	l.greet(b)
	l.doubt(b)
	if b.Now < coverGrace {
		return
	}
	armed := b.ArmedOrUnknown()
	var lost, back []Loss
	for i := range l.of {
		x, why := &l.of[i], now[i]
		if detect.Settling(why) {
			why = ""
		}
		if !l.begun || !x.told && !armed {
			x.base, x.why, x.from = why, why, b.Now
			continue
		}
		if sameReason(x.why, why) {
			if b.Now-x.from < lossLasts || sameReason(x.base, why) {
				continue
			}
			name := ds[i].Kind().String()
			switch {
			case why != "": // newly so, or for another reason
				lost = gather(lost, Loss{T: b.Now, Since: x.from, Names: []string{name}, Why: why})
				x.told, x.since = true, x.from
			case x.told:
				back = gather(back, Loss{T: b.Now, Since: x.from, Names: []string{name}})
				x.told = false
			}
			x.base = why
			continue
		}
		x.why, x.from = why, b.Now
	}
	l.begun = true
	l.arms(b, ds, now)
	for _, n := range append(lost, back...) {
		l.tell(n)
	}
}

func (l *losses) tell(n Loss) {
	if len(l.all) < maxLosses {
		l.all = append(l.all, n)
		l.news = append(l.news, n)
	}
}

// arms tells once of each arming what is not watched from then on: who listens for
// alarms must hear which cannot ring. It is no loss, and a verdict has it elsewhere.
func (l *losses) arms(b *detect.Bench, ds []detect.Detector, now []string) {
	if b.Armed != detect.Yes || b.ArmedAt == l.arming {
		return
	}
	l.arming = b.ArmedAt
	var lacks []Lack
	asked := false
	for i, why := range now {
		n := Lack{ds[i].Kind().String(), why}
		if why != "" && !detect.Settling(why) {
			lacks = append(lacks, n)
			asked = asked || !n.Unasked()
		}
	}
	if !asked || len(l.news) >= maxLosses {
		return
	}
	text := fmt.Sprintf("armed with %d of %d kinds of alarm not watched: ", len(lacks), detect.KindCount)
	l.news = append(l.news, Loss{T: b.Now, Since: b.Now, Why: text + strings.Join(ByReason(lacks), "; ")})
}

// greet tells once of each bridge that it does not say hello.
func (l *losses) greet(b *detect.Bench) {
	if len(b.Bridges) == 0 {
		if l.hellos[0].look(b.Now, b.Streams[decode.Hello].Count > 0) {
			l.tell(Loss{T: b.Now, Since: b.Now, Why: noHello("the bridge")})
		}
		return
	}
	for i := range b.Bridges {
		of, g := &b.Bridges[i], &l.hellos[i]
		if !of.Heard {
			continue // which is told by others
		}
		if !g.heard {
			g.heard, g.from = true, b.Now
		}
		if g.look(b.Now, of.Tags&(1<<decode.Hello) != 0) {
			l.tell(Loss{T: b.Now, Since: b.Now, Why: noHello(of.Name)})
		}
	}
}

// mutes are the bridges whose hello was told as lacking, and has not come since.
func (l *losses) mutes(b *detect.Bench) (out []Lack) {
	for i := range l.hellos {
		if !l.hellos[i].mute {
			continue
		}
		name := "the bridge"
		if i < len(b.Bridges) {
			name = b.Bridges[i].Name
		}
		out = append(out, Lack{decode.Hello.String(), noHello(name)})
	}
	return out
}

// doubt tells once of values that cannot be so and no alarm needs for sure, once
// what there is to ask, and of each other craft. That lift is in doubt is told by the alarms that live
// on it.
func (l *losses) doubt(b *detect.Bench) {
	if why := b.Doubt[decode.Accel]; why != "" && !l.odd {
		l.odd = true
		l.tell(Loss{T: b.Now, Since: b.Now, Why: why})
	}
	if b.Anothers > l.crafts {
		l.crafts = b.Anothers
		l.tell(Loss{T: b.Now, Since: b.Now, Why: b.Another})
	}
	if why := b.Doubt[decode.Craft]; why != l.craft {
		l.craft = why
		if why != "" && !strings.HasPrefix(b.Another, why) { // as which it was told
			l.tell(Loss{T: b.Now, Since: b.Now, Why: beforeArming(why)})
		}
	}
	if why := b.Doubt[decode.Load]; why != l.load {
		l.load = why
		if why != "" && b.Armed == detect.No { // else the alarms that live on it tell
			l.tell(Loss{T: b.Now, Since: b.Now, Why: beforeArming(why)})
		}
	}
	if b.Asks != "" && !l.asked {
		l.asked = true
		l.tell(Loss{T: b.Now, Since: b.Now, Why: b.Asks})
	}
}

// doubted lists the same for who looks at what is not watched.
func doubted(b *detect.Bench) (out []Lack) {
	for _, tag := range [...]decode.Tag{decode.Craft, decode.Accel} {
		if why := b.Doubt[tag]; why != "" {
			out = append(out, Lack{tag.String(), why})
		}
	}
	return out
}

// doubtedTags are the kinds of line whose values are in doubt.
func doubtedTags(b *detect.Bench) (out []decode.Tag) {
	for tag, why := range b.Doubt {
		if why != "" {
			out = append(out, decode.Tag(tag))
		}
	}
	return out
}

func noHello(bridge string) string {
	return "no hello comes from " + bridge + ": whether it restarts cannot be told for sure"
}

// gather joins what is lost for one reason at one time.
func gather(all []Loss, n Loss) []Loss {
	for i := range all {
		if all[i].Why == n.Why && all[i].Since == n.Since {
			all[i].Names = append(all[i].Names, n.Names...)
			return all
		}
	}
	return append(all, n)
}

// sameReason compares reasons but for the figures in them, which may follow a
// value.
func sameReason(a, b string) bool {
	return a == b || a != "" && b != "" && stem(a) == stem(b)
}

// stem drops numbers, but keeps those that name a motor.
func stem(s string) string {
	out := make([]byte, 0, len(s))
	for i := range len(s) {
		if c := s[i]; (c < '0' || c > '9') && c != '.' || i > 0 && s[i-1] == 'm' {
			out = append(out, c)
		}
	}
	return string(out)
}

// Losses returns what has left the watch, or come back to it, since it was last
// called, and what was not watched as the craft was armed.
func (e *Engine) Losses() []Loss {
	l := &e.cover.losses
	news := l.news
	l.news = nil
	return news
}

// AllLosses returns what has left the watch, or come back to it, in all.
func (e *Engine) AllLosses() []Loss { return slices.Clone(e.cover.losses.all) }

// lostNow names what was lost and is not watched yet.
func (c *coverage) lostNow() []Lack {
	var out []Lack
	for i := range c.losses.of {
		if x := &c.losses.of[i]; x.told && c.now[i] != "" {
			out = append(out, Lack{c.detectors[i].Kind().String(), c.now[i]})
		}
	}
	return out
}
