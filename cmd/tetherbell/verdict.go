package main

import (
	"fmt"
	"slices"
	"strings"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
)

// A ring is an alarm that a person had to act on.
type ring struct {
	at       int64 // engine microseconds
	kind     detect.Kind
	where    detect.Where
	priority detect.Priority
	action   string
}

func (r *ring) String() string {
	return fmt.Sprintf("%s at %s, %.3f s", r.kind, r.where, float64(r.at)/1e6)
}

// rings are those that a verdict names. The first two are nil when nothing of
// medium or high priority rang.
type rings struct {
	first *ring // of all
	worst *ring // of the highest priority the first with the strongest action
	low   *ring // the first of low priority
}

// keep takes what changed.
func (r *rings) keep(events []alarms.Event) {
	for i := range events {
		e := &events[i]
		if e.Priority < detect.Low || (e.Change != alarms.Raised && e.Change != alarms.Worsened) {
			continue
		}
		if e.Priority == detect.Low {
			if r.low == nil {
				r.low = newRing(e)
			}
			continue
		}
		if r.worst != nil && !r.worst.yields(e) {
			continue
		}
		r.worst = newRing(e)
		if r.first == nil {
			r.first = r.worst
		}
	}
}

// yields reports whether an event is worse, or asks for more at the same priority:
// what the verdict says to do first is what the banner said.
func (r *ring) yields(e *alarms.Event) bool {
	if e.Priority != r.priority {
		return e.Priority > r.priority
	}
	return alarms.Strength(e.Story.Action)|1 > alarms.Strength(r.action)|1
}

func newRing(e *alarms.Event) *ring {
	return &ring{at: e.T, kind: e.Kind, where: e.Where, priority: e.Priority, action: e.Story.Action}
}

// verdictLines word what a session came to. causes are those of what is not watched.
func verdictLines(file string, sum *alarms.Summary, r rings, n *notes, causes []string) []string {
	lacks := sum.NotWatched
	line := file + ": " + n.only
	if missed := alarms.Asked(lacks); len(missed) > 0 && sum.Lines > 0 {
		line += "NOT FULLY WATCHED: " + lackNames(missed, lacks) + "; "
	}
	out := []string{line + lastWord(sum, n) + verdict(sum, r)}
	if rang := rangText(sum); rang != "" {
		out = append(out, "  rang: "+rang)
	}
	out = append(out, fmt.Sprintf("  %d good lines, %d bad, %d lost in %.1f s", sum.Lines, sum.Bad, sum.Lost, float64(sum.Duration)/1e6))
	if sum.Lines == 0 {
		return out
	}
	out = append(out, causes...)
	for _, l := range alarms.ByReason(lacks) {
		out = append(out, "  not watched: "+l)
	}
	for _, d := range sum.Disagree {
		out = append(out, "  "+d)
	}
	return out
}

// verdict words what a session came to, with what ailed the line, what each
// bridge did where there are several, and the card.
func (d *desk) verdict(file string, sum *alarms.Summary) []string {
	return slices.Concat(verdictLines(file, sum, d.rings, &d.notes, d.misnamedLines()), d.itself.lines(), d.lossLines(sum.NotWatched), d.badCauses(), d.oddTagLines(), d.cableLines(), d.bridgeLines(), d.cardOutcome())
}

// fewLacks is how many kinds the verdict's first line names.
const fewLacks = 3

// lackNames names what was not watched, or counts all kinds that were not: the
// lines below name them.
func lackNames(lacks, all []alarms.Lack) string {
	if len(lacks) > 1 && lacks[0].OfAll() != "" {
		return lacks[0].OfAll() + "; " + lackNames(lacks[1:], all)
	}
	if len(lacks) > fewLacks {
		count := fmt.Sprintf("%d of %d kinds", alarms.LackingKinds(all), detect.KindCount)
		for _, l := range lacks {
			if l.Main() {
				return fmt.Sprintf("%s, %s among them (%s)", count, l.Name, l.Why)
			}
		}
		return count + ", see below"
	}
	names := make([]string, len(lacks))
	for i, l := range lacks {
		names[i] = l.Called()
	}
	return strings.Join(names, ", ")
}

// verdict begins with what was worst, for that is what to act on; what came
// before it may be its cause.
func verdict(sum *alarms.Summary, r rings) string {
	switch {
	case sum.Lines == 0:
		return "not one good line, so nothing was watched"
	case r.worst == nil && sum.Worst == detect.Low:
		return "nothing of medium or high priority; read what is low before you go on"
	case r.worst == nil:
		return "nothing of medium or high priority"
	}
	s := strings.ToUpper(r.worst.priority.String()) + " priority: " + r.worst.String()
	if r.worst.action != "" {
		s += "; first action: " + r.worst.action
	}
	if r.first.kind != r.worst.kind || r.first.where != r.worst.where {
		s += "; what rang before it: " + r.first.String()
	}
	return s
}

// lastWord says that a session ends with an armed craft: what came of it nobody
// has seen, and a quiet session says nothing of that. A recording without its end
// says nothing of what came after it, which somebody may well have seen; nor does
// one that was left before it was over.
func lastWord(sum *alarms.Summary, n *notes) string {
	armed := sum.Last.Armed == detect.Yes
	switch {
	case sum.Lines == 0, n.left:
		return ""
	case n.breaksOff() && armed:
		return "THE RECORDING BREAKS OFF WITH THE CRAFT ARMED: what came then is not in it; "
	case n.breaksOff():
		return "THE RECORDING BREAKS OFF: what came then is not in it; "
	case !armed:
		return ""
	}
	return "IT ENDS WITH THE CRAFT ARMED, and nobody saw what came then; "
}

// rangText counts the alarms by name.
func rangText(sum *alarms.Summary) string {
	var parts []string
	for k, n := range sum.Raised {
		if n > 0 {
			parts = append(parts, fmt.Sprintf("%s %d", detect.Kind(k), n))
		}
	}
	return strings.Join(parts, ", ")
}
