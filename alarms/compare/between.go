package compare

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Between compares two sessions: a before, b after. The same two give the same
// result, and in the other order its mirror image. Neither is changed.
func Between(a, b *Run) *Result {
	r := &Result{A: a.side("A"), B: b.side("B"), Method: method,
		Remarks: []string{}, Measures: []Finding{}, Rows: []Row{}, Stages: []Stage{}, Settings: []Setting{},
		Craft: []Difference{}, Alarms: []Alarm{}, Missing: []Lack{}}
	w := basisOf(a, b)
	inA, inB := a.stages(w), b.stages(w)
	r.Stages = stagesOf(inA, inB, r.A.Name, r.B.Name)
	r.rows()
	r.missing(a, b)
	r.Settings = settingsOf(a, b, r.A.Name, r.B.Name)
	r.Craft = differences(&a.Craft, &b.Craft)
	r.Alarms = alarmsOf(a, b)
	r.Louder = r.louder(a, b)
	r.SameRecording = a.Digest != "" && a.Digest == b.Digest
	r.Backwards = !a.Start.IsZero() && !b.Start.IsZero() && b.Start.Before(a.Start)
	r.conclude(a, b)
	for i := range r.Stages {
		r.Stages[i].pair = match{} // the blocks are not kept
	}
	return r
}

// side names a session.
func (r *Run) side(name string) Side {
	if r.Name != "" {
		name = r.Name
	}
	return Side{Name: name, Craft: r.Craft.Name, LengthS: seconds(r.length), SteadyS: r.steady()}
}

// steady is how long it was fit to be measured, s.
func (r *Run) steady() float64 { return float64(len(r.blocks)) * seconds(blockTime) }

func (s *stage) seconds() float64 { return float64(len(s.blocks)) * seconds(blockTime) }

// held lists the stretches of time in which the blocks of a stage lie side by
// side.
func (s *stage) held() []Span {
	all := []Span{}
	for i := range s.blocks {
		b := &s.blocks[i]
		end := b.at + seconds(blockTime)
		if n := len(all); n > 0 && s.blocks[i-1].hold == b.hold && b.at-all[n-1].To < seconds(blockTime)/2 {
			all[n-1].To = end
			continue
		}
		all = append(all, Span{b.at, end})
	}
	return all
}

// name is how people call a stage. Idle is known by its output.
func (s *stage) name() string {
	switch {
	case s.idle:
		return fmt.Sprintf("armed idle, output %.2f", s.level)
	case s.by == byOutput:
		return fmt.Sprintf("output %.2f", s.level)
	}
	return fmt.Sprintf("throttle %.2f", s.level)
}

// stagesOf matches the stages of two sessions.
func stagesOf(inA, inB []stage, nameA, nameB string) []Stage {
	all := []Stage{}
	pairs, onlyA, onlyB := matched(inA, inB)
	for _, p := range pairs {
		la, lb := p.a.level, p.b.level
		mid := stage{idle: p.a.idle, by: p.a.by, level: (la + lb) / 2}
		s := Stage{Name: mid.name(), Idle: p.a.idle, LevelA: &la, LevelB: &lb,
			SecondsA: p.a.seconds(), SecondsB: p.b.seconds(), HeldA: p.a.held(), HeldB: p.b.held(), mid: mid.level, pair: p}
		switch shortA, shortB := len(p.a.blocks) < leastBlocks, len(p.b.blocks) < leastBlocks; {
		case shortA && shortB:
			s.WhyNot = fmt.Sprintf("%s and %s held it for under %g s", nameA, nameB, LeastHeld)
		case shortA:
			s.WhyNot = fmt.Sprintf("%s held it for under %g s", nameA, LeastHeld)
		case shortB:
			s.WhyNot = fmt.Sprintf("%s held it for under %g s", nameB, LeastHeld)
		default:
			s.Compared = true
		}
		all = append(all, s)
	}
	lone := func(of []*stage, has, lacks string, first bool) {
		for _, k := range of {
			level := k.level
			s := Stage{Name: k.name(), Idle: k.idle, HeldA: []Span{}, HeldB: []Span{}, mid: level, firstOnly: first}
			if first {
				s.LevelA, s.SecondsA, s.HeldA = &level, k.seconds(), k.held()
			} else {
				s.LevelB, s.SecondsB, s.HeldB = &level, k.seconds(), k.held()
			}
			s.WhyNot = fmt.Sprintf("%s held %s for %.3g s, %s never did", has, k.name(), k.seconds(), lacks)
			all = append(all, s)
		}
	}
	lone(onlyA, nameA, nameB, true)
	lone(onlyB, nameB, nameA, false)
	slices.SortStableFunc(all, func(p, q Stage) int {
		return cmp.Or(order(!p.Compared, !q.Compared), order(!p.Idle, !q.Idle), cmp.Compare(p.mid, q.mid), order(!p.firstOnly, !q.firstOnly))
	})
	return all
}

// LeastHeld is how long a stage must last to be compared.
const LeastHeld = float64(leastBlocks) * float64(blockTime) / 1e6

// order puts no before yes.
func order(p, q bool) int {
	switch {
	case p == q:
		return 0
	case q:
		return -1
	}
	return 1
}

// allStages is the stage of a row over several.
const allStages = "all stages"

// rows works out every measure in every stage, and over all of them.
func (r *Result) rows() {
	var trials []trial
	for k := range measures {
		m := &measures[k]
		pairs := m.pairings(k, r.Stages)
		for _, p := range pairs {
			t := m.trial([]pairing{p})
			t.row.Stage, t.row.Overall = p.stage.Name, len(pairs) == 1
			trials = append(trials, t)
		}
		if len(pairs) > 1 {
			t := m.trial(pairs)
			t.row.Stage, t.row.Overall = allStages, true
			trials = append(trials, t)
		}
	}
	// What has no better and no worse is no part of the verdict, and must not
	// make that less sure.
	decide(trials, alphaOverall, func(t *trial) bool { return !t.short() && t.row.Overall && t.m.sense != noSense })
	decide(trials, alphaStage, func(t *trial) bool { return !t.short() && !t.row.Overall && t.m.sense != noSense })
	decide(trials, alphaOverall, func(t *trial) bool { return !t.short() && t.m.sense == noSense })
	// Rows that are too short for a verdict are shown with as wide an interval as
	// the least sure of the others could have.
	for i := range trials {
		if t := &trials[i]; t.short() {
			t.decide(alphaStage / float64(len(trials)))
		}
	}
	for i := range trials {
		r.Rows = append(r.Rows, trials[i].row)
	}
	for k := range measures {
		r.finding(&measures[k])
	}
}

// decide decides one family of tests.
func decide(trials []trial, alpha float64, in func(*trial) bool) {
	p := make([]float64, len(trials))
	for i := range trials {
		if p[i] = trials[i].row.P; !in(&trials[i]) {
			p[i] = math.NaN()
		}
	}
	for i, level := range holm(p, alpha) {
		if !math.IsNaN(p[i]) {
			trials[i].decide(level)
		}
	}
}

// finding sums the rows of a measure up.
func (r *Result) finding(m *measure) {
	seen := map[Word]int{}
	all := 0
	for i := range r.Rows {
		if r.Rows[i].Measure == m.key {
			seen[r.Rows[i].Verdict]++
			all++
		}
	}
	if all == 0 {
		return
	}
	f := Finding{Measure: m.key, Name: m.name, Verdict: CannotTell, Counts: m.sense != noSense}
	up, down := seen[Better]+seen[More], seen[Worse]+seen[Less]
	switch {
	case up > 0 && down > 0:
		f.Verdict = Mixed
	case seen[Better] > 0:
		f.Verdict = Better
	case seen[Worse] > 0:
		f.Verdict = Worse
	case seen[More] > 0:
		f.Verdict = More
	case seen[Less] > 0:
		f.Verdict = Less
	case seen[Same] == all:
		f.Verdict = Same
	}
	r.Measures = append(r.Measures, f)
}
