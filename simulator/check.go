package simulator

import (
	"cmp"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"
)

// Check says whether the scenario can be run; what is wrong is a
// *ScenarioError.
func (sc *Scenario) Check() error {
	switch {
	case sc.Name == "":
		return &ScenarioError{Key: "name", Problem: "missing"}
	case !lineText(sc.Name) || strings.Contains(sc.Name, " "):
		return &ScenarioError{Key: "name", Problem: "want one word of at most 60 printable characters"}
	case sc.Seconds == 0:
		return &ScenarioError{Key: "seconds", Problem: "missing"}
	case sc.Lesson == "" || strings.ContainsAny(sc.Lesson, "\r\n"):
		return &ScenarioError{Key: "lesson", Problem: "want one line"}
	case sc.Mode != "rate" && sc.Mode != "level":
		return &ScenarioError{Key: "mode", Problem: fmt.Sprintf("%q is neither rate nor level", sc.Mode)}
	case !lineText(sc.Craft.Name):
		return &ScenarioError{Key: "craft.name", Problem: "want 1 to 60 printable characters without comma and asterisk"}
	case !lineText(sc.Link.Name):
		return &ScenarioError{Key: "link.name", Problem: "want 1 to 60 printable characters without comma and asterisk"}
	case sc.Craft.Poles%2 != 0:
		return &ScenarioError{Key: "craft.magnet_poles", Problem: fmt.Sprintf("%d is odd", sc.Craft.Poles)}
	case len(sc.Events) > maxEvents:
		return &ScenarioError{Key: "event", Problem: fmt.Sprintf("over %d of them", maxEvents)}
	case len(sc.Motors) > maxMotors:
		return &ScenarioError{Key: "motor", Problem: fmt.Sprintf("over %d of them", maxMotors)}
	}
	if err := cmp.Or(sc.checkShares(), within(reflect.ValueOf(sc).Elem(), "")); err != nil {
		return err
	}
	return cmp.Or(sc.checkCraft(), sc.checkMass(), sc.checkEvents(), sc.checkBaud())
}

// checkCraft holds words and what belongs together.
func (sc *Scenario) checkCraft() error {
	c := &sc.Craft
	_, known := layouts[c.Layout]
	_, tested := propellers[c.Propeller]
	switch {
	case !known && c.Layout != custom:
		return &ScenarioError{Key: "craft.layout", Problem: fmt.Sprintf("%q is none of quad-x, quad-plus, hex-x, octo-x, tri, custom", c.Layout)}
	case c.Layout != custom && len(sc.Arms) > 0:
		return &ScenarioError{Key: "arm", Problem: "only layout custom has arms of its own"}
	case c.Layout == custom && (len(sc.Arms) < 4 || len(sc.Arms) > maxMotors):
		return &ScenarioError{Key: "arm", Problem: fmt.Sprintf("layout custom has 4 to %d of them, not %d", maxMotors, len(sc.Arms))}
	case !tested && (c.CT == 0 || c.CP == 0):
		return &ScenarioError{Key: "craft.propeller", Problem: fmt.Sprintf("%q is none of %s", c.Propeller, strings.Join(propellerNames(), ", "))}
	case c.Hold != "tether" && c.Hold != "stand" && c.Hold != "free":
		return &ScenarioError{Key: "craft.hold", Problem: fmt.Sprintf("%q is none of tether, stand, free", c.Hold)}
	case sc.Loop.NotchPoles%2 != 0:
		return &ScenarioError{Key: "loop.notch_poles", Problem: fmt.Sprintf("%d is odd", sc.Loop.NotchPoles)}
	case sc.Loop.SampleMS != math.Trunc(sc.Loop.SampleMS):
		return &ScenarioError{Key: "loop.sample_ms", Problem: fmt.Sprintf("%v is no whole number", sc.Loop.SampleMS)}
	}
	for k := 1; k < len(sc.Arms); k++ {
		if sc.Arms[k].BearingDeg <= sc.Arms[k-1].BearingDeg {
			return &ScenarioError{Key: fmt.Sprintf("arm %d: bearing_deg", k+1), Problem: "arms go clockwise, the first one right of the nose first"}
		}
	}
	if _, ok := newMixer(sc.places(), c.Layout != "tri"); !ok {
		return &ScenarioError{Key: "arm", Problem: "motors placed or turning like this cannot hold every axis"}
	}
	n := len(sc.places())
	stands, owner := standing(n, sc.Motors), [maxMotors]int{}
	for m := range n {
		owner[stands[m]]++
	}
	for k, m := range sc.Motors {
		switch {
		case m.Leads > n:
			return &ScenarioError{Key: fmt.Sprintf("motor %d: leads", k+1), Problem: fmt.Sprintf("%d is not within 1..%d", m.Leads, n)}
		case m.Leads > 0 && owner[m.Leads-1] != 1:
			return &ScenarioError{Key: fmt.Sprintf("motor %d: leads", k+1), Problem: fmt.Sprintf("two motors on the leads of motor %d", m.Leads)}
		}
		if slices.ContainsFunc(sc.Motors[:k], func(o MotorSpec) bool { return o.Motor == m.Motor }) {
			return &ScenarioError{Key: fmt.Sprintf("motor %d: motor", k+1), Problem: fmt.Sprintf("motor %d is described twice", m.Motor)}
		}
		if m.Motor > n {
			return &ScenarioError{Key: fmt.Sprintf("motor %d: motor", k+1), Problem: fmt.Sprintf("%d is not within 1..%d", m.Motor, n)}
		}
	}
	return nil
}

func lineText(s string) bool {
	for _, c := range []byte(s) {
		if c < 0x20 || c > 0x7E || c == ',' || c == '*' {
			return false
		}
	}
	return s != "" && len(s) <= 60
}

// within holds every number against the range in its tag.
func within(v reflect.Value, prefix string) error {
	for k := range v.NumField() {
		f, tag := v.Field(k), v.Type().Field(k).Tag
		key := prefix + tag.Get("toml")
		var err error
		switch f.Kind() {
		case reflect.Struct:
			err = within(f, key+".")
		case reflect.Slice:
			for n := range f.Len() {
				if err = within(f.Index(n), fmt.Sprintf("%s %d: ", key, n+1)); err != nil {
					break
				}
			}
		default:
			err = numberWithin(f, key, tag.Get("within"))
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// numberWithin holds one number against "low high"; other kinds pass.
func numberWithin(f reflect.Value, key, limits string) error {
	var n float64
	switch {
	case f.CanFloat():
		n = f.Float()
	case f.CanInt():
		n = float64(f.Int())
	case f.CanUint():
		n = float64(f.Uint())
	default:
		return nil
	}
	if math.IsNaN(n) || math.IsInf(n, 0) {
		return &ScenarioError{Key: key, Problem: "not a finite number"}
	}
	low, high, ok := strings.Cut(limits, " ")
	if !ok {
		return nil
	}
	lo, _ := strconv.ParseFloat(low, 64)
	hi, _ := strconv.ParseFloat(high, 64)
	if n < lo || n > hi {
		return &ScenarioError{Key: key, Problem: fmt.Sprintf("%v is not within %s..%s", f.Interface(), low, high)}
	}
	return nil
}

// standing tells where each motor's leads end: at its own place, unless leads
// were crossed.
func standing(n int, specs []MotorSpec) (at [maxMotors]int) {
	for m := range n {
		at[m] = m
	}
	for _, s := range specs {
		if s.Leads > 0 && s.Leads <= n && s.Motor <= n {
			at[s.Motor-1] = s.Leads - 1
		}
	}
	return at
}

// checkMass refuses a craft whose parts weigh more than the whole, and one
// that its pads or lines hold so stiffly that the inner step would miss it.
func (sc *Scenario) checkMass() error {
	c := &sc.Craft
	if parts := float64(len(sc.places())) * (c.MotorG + c.ArmG); parts >= c.MassG {
		return &ScenarioError{Key: "craft.mass_g", Problem: fmt.Sprintf("%v is not more than all motors and arms, %v", c.MassG, parts)}
	}
	b := newBody(sc)
	type spring struct {
		key     string
		k, damp float64
	}
	springs := []spring{{"craft.pad_n_m", c.PadNM, c.PadNSM}, {"craft.line_n_m", c.LineNM, c.LineNSM}}
	switch c.Hold {
	case "stand":
		springs = []spring{{"craft.stand_n_m", c.StandNM, c.StandNSM}}
	case "free":
		springs = springs[:1]
	}
	for _, h := range springs {
		if b.tooStiff(h.k, h.damp) {
			return &ScenarioError{Key: h.key, Problem: fmt.Sprintf("%v, with its damping, is too stiff for so light a craft", h.k)}
		}
	}
	if c.YawNMRad/b.inertia[2] > swingLimit || c.YawNMSRad/b.inertia[2] > dampLimit {
		return &ScenarioError{Key: "craft.yaw_nm_rad", Problem: fmt.Sprintf("%v, with its damping, is too stiff for so light a craft", c.YawNMRad)}
	}
	return nil
}

// The inner step is stable for a swing of up to 2/dt and a damping of up to
// 2/dt; a quarter is asked of both.
const (
	swingLimit = 0.25 * (1e6 / stepUS) * (1e6 / stepUS)
	dampLimit  = 0.5 * (1e6 / stepUS)
)

// tooStiff reports whether four springs at the feet swing the body within so
// few inner steps, or damp it within so few, that the steps would go wrong.
func (b *body) tooStiff(k, damp float64) bool {
	least := b.mass // what a foot's push at its distance moves
	for axis, at := range [2]func(f foot) float64{func(f foot) float64 { return f.y }, func(f foot) float64 { return f.x }} {
		for _, f := range append(b.feet[:], b.tips[:b.arms]...) {
			least = math.Min(least, b.inertia[axis]/math.Max(mul(at(f), at(f)), 1e-9))
		}
	}
	return 4*k/least > swingLimit || 4*damp/least > dampLimit
}

// checkEvents holds every event against what its action needs.
func (sc *Scenario) checkEvents() error {
	motors := len(sc.places())
	for k := range sc.Events {
		e := &sc.Events[k]
		bad := func(key, format string, args ...any) error {
			return &ScenarioError{Key: fmt.Sprintf("event %d: %s", k+1, key), Problem: fmt.Sprintf(format, args...)}
		}
		a, ok := actions[e.Do]
		needs := strings.Fields(a.needs)
		switch {
		case !ok:
			return bad("do", "no such action %q", e.Do)
		case e.At >= sc.Seconds:
			return bad("at", "%v is not before the end at %v", e.At, sc.Seconds)
		case e.Do == "set" && settingIndex(e.Name) < 0:
			return bad("name", "no such setting %q", e.Name)
		case e.Do == "set" && !settingMay(e.Name, e.Value):
			return bad("value", "%v is nothing that %s can be", e.Value, e.Name)
		case (e.Do == "tap" || e.Do == "gyro-bias" || e.Do == "reverse" || e.Do == "mixer-reversed") && !slices.Contains(axisNames, e.Name):
			return bad("name", "%q is none of roll, pitch, yaw", e.Name)
		case e.Do == "freeze" && !slices.Contains(stuckNames, e.Name):
			return bad("name", "%q is none of %s", e.Name, strings.Join(stuckNames, ", "))
		case e.Do == "line-breaks" && e.Value != 1 && e.Value != 2 && e.Value != 3 && e.Value != 4:
			return bad("value", "%v is none of the four lines, 1 to 4", e.Value)
		case (e.Do == "break-blade" || e.Do == "miscount") && (e.Value < 0 || e.Value > 4 || e.Do == "break-blade" && e.Value > 1):
			return bad("value", "%v is out of range", e.Value)
		case valueMost[e.Do] > 0 && !(math.Abs(e.Value) <= valueMost[e.Do]) || e.Value < 0 && !slices.Contains(signed, e.Do):
			return bad("value", "%v is out of range", e.Value)
		case slices.Contains(needs, "motor") && (e.Motor < 1 || e.Motor > motors):
			return bad("motor", "%d is not within 1..%d", e.Motor, motors)
		case e.Do == "note" && (!lineText(strings.ReplaceAll(e.Text, ",", " ")) || len(e.Text) > 60):
			return bad("text", "want 1 to 60 printable characters without asterisk")
		case e.Do == "lose" && e.To > 0.9:
			return bad("to", "%v is over 0.9", e.To)
		}
	}
	return nil
}

// valueMost is the largest value that an event may have; signed are those
// whose value may be negative. The README's table has the ranges for people.
var (
	valueMost = map[string]float64{"thrust": 2, "unbalance": 200, "bend-blade": 1, "gyro-bias": 2000, "tap": 2000, "lose": 1000}
	signed    = []string{"bend-blade", "gyro-bias", "tap"}
)

// checkShares holds what goes to a share of one.
func (sc *Scenario) checkShares() error {
	for k := range sc.Events {
		switch e := &sc.Events[k]; e.Do {
		case "throttle", "lose", "flip", "strap":
			if !(e.To >= 0 && e.To <= 1) {
				return &ScenarioError{Key: fmt.Sprintf("event %d: to", k+1), Problem: fmt.Sprintf("%v is not within 0..1", e.To)}
			}
		}
	}
	return nil
}

// checkKeys wants an event to have what it needs and nothing that would be
// ignored.
func (sc *Scenario) checkKeys(at map[string]int) error {
	for k := range sc.Events {
		a := actions[sc.Events[k].Do]
		needs := strings.Fields("at " + a.needs)
		may := append(strings.Fields("do "+a.may), needs...)
		for _, key := range []string{"at", "do", "to", "over", "seconds", "motor", "name", "value", "text"} {
			full := fmt.Sprintf("event %d: %s", k+1, key)
			_, there := at[full]
			switch {
			case !there && slices.Contains(needs, key):
				return &ScenarioError{Key: full, Problem: "missing for " + sc.Events[k].Do}
			case there && !slices.Contains(may, key):
				return &ScenarioError{Key: full, Problem: "of no use to " + sc.Events[k].Do}
			}
		}
	}
	return nil
}

// checkBaud wants the streams to fit the line with a tenth to spare: a bridge
// that sends more falls behind its clock.
func (sc *Scenario) checkBaud() error {
	if sc.Link.Baud == 0 {
		return nil
	}
	room := 0.9 * float64(sc.Link.Baud) / 10 // 8N1: ten bits a byte
	if need := sc.BytesPerSecond(); need > room {
		return &ScenarioError{Key: "link.baud", Problem: fmt.Sprintf("%d carries %.0f bytes a second with a tenth to spare, the streams need about %.0f", sc.Link.Baud, room, need)}
	}
	return nil
}

// BytesPerSecond estimates what the streams take on the line, line ends
// included, from lines of usual length.
func (sc *Scenario) BytesPerSecond() float64 {
	r, n := &sc.Rates, float64(len(sc.places()))
	return 90*r.Axes + (30+7*n)*r.Out + (30+8*n)*r.ERPM + 50*r.Accel + 34*r.Load + (28+5*n)*r.Temp + 40*r.Pack + 41*r.Air + 54*r.State + 45
}
