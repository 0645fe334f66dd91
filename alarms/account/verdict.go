package account

import (
	"fmt"
	"strings"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/alarms/runcard"
)

// burst: alarms that were raised closer to each other than this belong together,
// as the engine counts them.
const burst = 10.0

// verdict says what the session came to, and what to fix first.
func (c *Collector) verdict(out *Account, e *Ending) {
	v := &out.Verdict
	t := &c.told
	v.Worst = t.worst.String()
	if c.bench.Link.Good == 0 {
		v.Headline = "Not one good line, so nothing was watched"
		return
	}
	if c.bench.Armed == detect.Yes {
		v.Ended = "it ends with the craft armed, and nobody saw what came then"
	}
	if e.BreaksOff {
		v.Ended = "the recording breaks off: what came then is not in it"
		if c.bench.Armed == detect.Yes {
			v.Ended = "the recording breaks off with the craft armed: what came then is not in it"
		}
	}
	worst := t.pick()
	v.Headline = c.headline(worst, e)
	step, failed := failedStep(e.Card)
	switch {
	case worst >= 0 && (!failed || t.worst >= detect.Medium):
		gravest := t.gravest(t.lives[worst].priority)
		first := t.causeOf(gravest)
		v.Fix, v.Why = t.fix(gravest, first)
		v.Why += t.gains(first, out.Settings)
	case failed:
		v.Fix, v.Why = step.Do, "step "+step.ID+" of the card failed: "+step.Text
	default:
		v.Fix, v.Why = c.nearest(out)
		if n := t.note(); v.Fix == "" && n >= 0 {
			v.Fix, v.Why = t.fix(n, n)
		}
	}
	switch { // before anything: the next session must not end so
	case v.Ended == "":
	case e.BreaksOff:
		v.Fix = strings.TrimSuffix("find out why the recording breaks off (room on the disk, monitor, computer); then "+v.Fix, "; then ")
	default:
		v.Fix = strings.TrimSuffix("find out why the lines ended with the craft armed (cable, bridge, monitor); then "+v.Fix, "; then ")
	}
}

// gains points to the gains of the axis that is to be lowered, where the craft
// reports them.
func (t *told) gains(i int, set []Setting) string {
	l := &t.lives[i]
	if l.kind != detect.RisingOscillation && l.kind != detect.LowMargin {
		return ""
	}
	var all []string
	for _, term := range []string{"p", "i", "d"} {
		for axis := range strings.SplitSeq(l.Where, "+") {
			for _, s := range set {
				if s.Name == "rate_"+term+"_"+axis {
					all = append(all, s.Name)
				}
			}
		}
	}
	if len(all) == 0 {
		return ""
	}
	return "; see " + strings.Join(all, ", ") + " among the settings"
}

// failedStep is the first step of the card that failed.
func failedStep(v *runcard.View) (s runcard.StepView, ok bool) {
	if v == nil {
		return s, false
	}
	for _, s := range v.Steps {
		if s.State == runcard.Failed {
			return s, true
		}
	}
	return s, false
}

// pick is the alarm that the headline goes by: the first of the highest priority,
// as everywhere; -1 none. Notes are no alarms.
func (t *told) pick() int {
	best := -1
	for i := range t.lives {
		if p := t.lives[i].priority; p > detect.Note && (best < 0 || p > t.lives[best].priority) {
			best = i
		}
	}
	return best
}

// gravest is the alarm of a priority that is to be mended before the others of
// it: the first of the gravest kind.
func (t *told) gravest(p detect.Priority) int {
	best := -1
	for i := range t.lives {
		if l := &t.lives[i]; l.priority == p && (best < 0 || gravity(l.kind) < gravity(t.lives[best].kind)) {
			best = i
		}
	}
	return best
}

// gravity orders kinds by what is to be mended first (common practice, no
// source): a craft that does what nobody asked for, then what grows or breaks by
// itself, then what goes wrong once a stick is moved or nobody hears, then what
// only strains.
func gravity(k detect.Kind) int {
	switch k {
	case detect.SettingsSlip, detect.GroundThrust, detect.StickHigh, detect.IdleGap, detect.LateStop, detect.SpinDisarmed,
		detect.HoldLost, detect.RotorLost, detect.Runaway, detect.TipOver:
		return 0
	case detect.RisingOscillation, detect.LowMargin, detect.VibrationStep, detect.MotorHeat, detect.OverCurrent:
		return 1
	case detect.ReversedResponse, detect.ControlLost, detect.StaleLink:
		return 2
	case detect.RotorLine, detect.ThrottleMismatch, detect.PressureDip:
		return 4
	}
	return 3
}

// note is the first that is no alarm, -1 none.
func (t *told) note() int {
	for i := range t.lives {
		if t.lives[i].priority == detect.Note {
			return i
		}
	}
	return -1
}

// causeOf goes from an alarm to what explains it, as far back as that leads, and
// else to the first of its burst where that is no less than medium and no less
// grave: what came first may be why.
func (t *told) causeOf(i int) int {
	at := i
	for range len(t.lives) {
		next := t.explains(at)
		if next < 0 {
			break
		}
		at = next
	}
	if at != i {
		return at
	}
	for j := i - 1; j >= 0 && t.lives[i].At-t.lives[j].At < burst; j-- {
		l := &t.lives[j]
		grave := gravity(l.kind) <= gravity(t.lives[i].kind) || l.kind == detect.BadLink && t.lives[i].kind == detect.StaleLink
		if l.First && l.priority >= detect.Medium && grave && l.lasts(t.lives[i].At) {
			return j
		}
	}
	return i
}

// lasts reports whether the alarm was up at a time.
func (l *life) lasts(at float64) bool { return l.At <= at && (l.Until == nil || *l.Until >= at) }

// explains is the earliest alarm of the same burst that explains alarm i, -1
// none. It may have been found a little later.
func (t *told) explains(i int) int {
	e := &t.lives[i]
	for j := range t.lives {
		l := &t.lives[j]
		if j == i || l.priority < detect.Medium || l.At < e.At-burst || l.At > e.At+burst/5 || l.Until != nil && *l.Until < e.At {
			continue
		}
		if _, ok := alarms.Explains(l.kind, e.kind, e.Cause); ok {
			if _, back := alarms.Explains(e.kind, l.kind, l.Cause); !back {
				return j
			}
		}
	}
	return -1
}

// headline is one sentence: that the session ended armed or breaks off, and what was worst. That
// nothing rang is worth no more than what was watched.
func (c *Collector) headline(worst int, e *Ending) string {
	s, lacks := "", e.NotWatched
	switch armed := c.bench.Armed == detect.Yes; {
	case e.BreaksOff && armed:
		s = "THE RECORDING BREAKS OFF WITH THE CRAFT ARMED; "
	case e.BreaksOff:
		s = "THE RECORDING BREAKS OFF; "
	case armed:
		s = "IT ENDS WITH THE CRAFT ARMED; "
	}
	t := &c.told
	if worst < 0 {
		s += "nothing rang"
		if m := alarms.Asked(lacks); len(m) > 0 {
			s += ", but not all was watched (" + names(m, lacks) + ")"
		}
		if n := t.note(); n >= 0 {
			s += "; a note says " + t.lives[n].Name
		}
		return s
	}
	l := &t.lives[worst]
	s += fmt.Sprintf("%s at %s from %.1f s on", l.Name, l.Where, l.At)
	switch n := t.others(worst); {
	case n == 1:
		s += ", and another alarm"
	case n > 1:
		s += fmt.Sprintf(", and %d other alarms", n)
	}
	return s
}

// others counts the alarms beside one; notes are none.
func (t *told) others(i int) int {
	n := t.more
	for j := range t.lives {
		if j != i && t.lives[j].priority > detect.Note {
			n++
		}
	}
	return n
}

// fewNames is how many kinds a headline names.
const fewNames = 3

func names(lacks, all []alarms.Lack) string {
	if len(lacks) > 1 && lacks[0].OfAll() != "" {
		return lacks[0].OfAll() + "; " + names(lacks[1:], all)
	}
	if len(lacks) > fewNames {
		return fmt.Sprintf("%d of %d kinds", alarms.LackingKinds(all), detect.KindCount)
	}
	out := make([]string, len(lacks))
	for i, l := range lacks {
		out[i] = l.Called()
	}
	return strings.Join(out, ", ")
}

// fix says what to mend first, and why.
func (t *told) fix(worst, first int) (fix, why string) {
	l := &t.lives[first]
	fix, why = l.mend(), l.Text
	if l.Cause != "" {
		why += " (likely: " + l.Cause + ")"
	}
	why += fmt.Sprintf(", from %.1f s on", l.At)
	if l.Limit != 0 && !ratio(l.kind) {
		why += "; " + l.Course(figure)
	}
	if first != worst {
		w := &t.lives[worst]
		if reason, ok := alarms.Explains(l.kind, w.kind, w.Cause); ok {
			why += fmt.Sprintf("; it explains %s at %.1f s: %s", w.Name, w.At, reason)
		} else {
			why += fmt.Sprintf("; it came before %s at %.1f s, and may be its cause", w.Name, w.At)
		}
	}
	for i := range t.lives { // what was changed may be why
		if s := &t.lives[i]; s.kind == detect.SettingsSlip && i != first && s.At <= l.At {
			why += "; before that: " + s.Text
			break
		}
	}
	return fix, why + t.then(worst, first)
}

// mostThen is how many alarms are named that come after the first one.
const mostThen = 3

// then names what else of medium or high priority is to be looked at.
func (t *told) then(worst, first int) string {
	var out []string
	seen := map[string]bool{t.lives[worst].Name: true, t.lives[first].Name: true}
	for i := range t.lives {
		l := &t.lives[i]
		if _, explained := alarms.Explains(t.lives[first].kind, l.kind, l.Cause); l.priority < detect.Medium || seen[l.Name] || explained {
			continue
		}
		seen[l.Name] = true
		out = append(out, l.Name+" at "+l.Where)
	}
	if len(out) == 0 {
		return ""
	}
	if n := len(out) - mostThen; n > 0 {
		out = append(out[:mostThen], fmt.Sprintf("%d more kinds", n))
	}
	return "; then see to " + strings.Join(out, ", ")
}

// ratio reports whether an alarm's value is a ratio of no unit that its text puts
// better.
func ratio(k detect.Kind) bool {
	switch k {
	case detect.RotorLost, detect.RotorLine, detect.SettingsSlip, detect.ReversedResponse:
		return true
	}
	return false
}

func figure(v float64, unit string) string {
	if unit == "" || unit == "1" {
		return fmt.Sprintf("%.3g", v)
	}
	return fmt.Sprintf("%.3g %s", v, unit)
}

// atOnce begin what a person does in the moment, which mends nothing.
var atOnce = []string{
	"cut throttle", "ease", "press stop", "keep clear", "keep out", "disarm", "do not arm", "throttle", "stop", "let the stick",
	"lower the throttle", "cut power", "the loop steers", "before you go on", "end the run", "take the pack off",
}

// mend is what is to be mended after the run: what the alarm's own advice says
// beyond the moment, else what its kind asks for.
func (l *life) mend() string {
	left := l.later()
	switch l.kind {
	case detect.RisingOscillation, detect.LowMargin: // the advice of the moment does not say by how much
		left = nil
	case detect.SettingsSlip:
		what, _, _ := strings.Cut(l.Text, ": ")
		return strings.Join(append([]string{"correct the setting: " + what}, left...), "; ")
	}
	if len(left) > 0 {
		return strings.Join(left, "; ")
	}
	if f := mends[l.kind]; f != "" {
		return strings.ReplaceAll(f, "$", l.Where)
	}
	return l.Action
}

// later are the parts of the alarm's advice that go beyond the moment.
func (l *life) later() (left []string) {
	action := strings.ReplaceAll(l.Action, alarms.OnceStill, "")
	if l.kind == detect.SettingsSlip {
		action = strings.TrimPrefix(action, "before you go on: ")
	}
	for part := range strings.SplitSeq(action, "; ") {
		now := false
		for _, begin := range atOnce {
			now = now || strings.HasPrefix(part, begin)
		}
		if !now && part != "" {
			left = append(left, part)
		}
	}
	return left
}

// lowerGains: by how much is common practice, no source.
const lowerGains = "lower the gains of $: halve them, then come up in small steps"

// mends say what an alarm asks for after the run, where its own advice is for the
// moment alone; $ is its place.
var mends = [detect.KindCount]string{
	detect.RisingOscillation: lowerGains,
	detect.OutputImbalance:   "find why $ works differently: propeller, motor, or weight",
	detect.GroundThrust:      "find what drives the motors at a stick of zero: armed idle, trims, sensors",
	detect.TipOver:           "find why it turns over: motor order, propellers' sense, sensors' directions",
	detect.NearLift:          "stay under the lift that its hold-down bears, or load it",
	detect.LateStop:          "find why $ does not stop: its drive and the stop's wiring",
	detect.SpinDisarmed:      "find what drives $ while disarmed: its drive and its wiring",
	detect.StaleLink:         "look at the bridge and its cable",
	detect.BadLink:           "check cable, ground and baud",
	detect.SettingsSlip:      "correct the setting",
	detect.LowMargin:         lowerGains,
	detect.StickHigh:         "arm with the throttle stick at zero; check its trim",
	detect.Runaway:           "find what drives the outputs up: sensors, modes, trims",
	detect.RotorLost:         "check propeller, motor and drive of $",
	detect.HoldLost:          "make the hold-down sound before the next run",
	detect.VibrationStep:     "look at each propeller and motor for what broke or came loose",
	detect.OverCurrent:       "find what draws the current: a rotor that is held, or a propeller too large",
	detect.ControlLost:       "find why the control link was lost",
	detect.FrozenSensor:      "check the sensor whose value stood still",
	detect.MotorHeat:         "find why $ heats: filters and gains, propeller, bearing",
	detect.PackSag:           "charge the pack, or change it",
	detect.Windup:            "let the throttle go to zero between runs; slack the tether",
	detect.ReversedResponse:  "put the direction of $ right: stick channel, motor order, mixer",
	detect.RotorLine:         "count the magnets and look at the propellers",
	detect.IdleGap:           "set the least flight output nearer to armed idle",
	detect.ThrottleMismatch:  "find why throttle and outputs differ",
}
