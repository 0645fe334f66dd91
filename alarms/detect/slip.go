package detect

import (
	"math"

	"tetherbell/decode/craft"
)

// Slip is what is odd about a setting that changed: a set of flags.
type Slip uint16

// The flags of a changed setting.
const (
	SlipTenfold  Slip = 1 << iota // about 10 times or a tenth of it: the decimal point
	SlipPercent                   // about 100 times or a hundredth, or a share over 1: percent and fraction
	SlipFar                       // another change by more than SlipTenfold
	SlipSign                      // its sign turned
	SlipToZero                    // it became 0
	SlipFromZero                  // it was 0
	SlipIdle                      // a dangerous armed idle, whatever it was before
	SlipIdleStep                  // least flight output too far over armed idle
	SlipUnequal                   // I and P of roll or pitch were equal and are no longer
	SlipRatio                     // I over P of roll or pitch changed
	SlipAlone                     // one gain went up where all others that changed went down
	SlipName                      // in one list only, and its name is nearly that of another: who compares lists sets it
	slipCount    = iota
)

// Bounds of the ratio of two values, either way round. About ten and a hundred
// times: 8 to 12.5, its inverse 0.08 to 0.125, leaves room for a value that
// was retyped and not just shifted (common practice, no source).
const (
	tenfoldLeast = 8.0
	tenfoldMost  = 12.5
	percentLeast = 80.0
	percentMost  = 125.0
	// ratioSlack: I over P may move so much, either way round: gains are typed
	// with two digits at times, and a rounding moves each by up to 5 % (common
	// practice, no source).
	ratioSlack = 1.10
	// aloneLeast: one gain up is odd where so many others went down at least;
	// against a single one it is no rest.
	aloneLeast = 2
	// sameShare: two values that differ by less are one value, printed twice.
	sameShare = 1e-6
)

// A SettingChange is one setting in two lists.
type SettingChange struct {
	Name     string
	Meaning  craft.Meaning
	Old, New float64
	HasOld   bool
	HasNew   bool
	Slips    Slip // what JudgeSettings finds
	mate     int  // of a P gain: index of its I gain, less 1; 0 none
	OldAt    int  // line of the old list, 0 not known
	NewAt    int  // line of the new list, 0 not known
}

// Both reports whether both lists have the setting.
func (c *SettingChange) Both() bool { return c.HasOld && c.HasNew }

// Changed reports whether it is in both lists with different values.
func (c *SettingChange) Changed() bool { return c.Both() && !sameValue(c.Old, c.New) }

// Ratio returns new over old; 0 and false where old is 0, one of them is missing
// or the ratio is no finite number.
func (c *SettingChange) Ratio() (float64, bool) {
	if !c.Both() || c.Old == 0 {
		return 0, false
	}
	r := c.New / c.Old
	if math.IsInf(r, 0) || math.IsNaN(r) {
		return 0, false
	}
	return r, true
}

// sameValue reports whether two values are one, but for rounding in print.
func sameValue(a, b float64) bool {
	return a == b || math.Abs(a-b) <= sameShare*max(math.Abs(a), math.Abs(b))
}

// PairSettings finds for each P gain of roll or pitch the I gain that belongs
// to it: the one whose name differs in one word.
func PairSettings(all []SettingChange) {
	for i := range all {
		pairSetting(all, i)
	}
}

// pairSetting finds the mate of a P gain among all, or the P gain whose mate
// an I gain is. It allocates nothing.
func pairSetting(all []SettingChange, i int) {
	c := &all[i]
	if c.Meaning.Axis < 0 {
		return
	}
	for j := range all {
		p, m := i, j
		if c.Meaning.I {
			p, m = j, i
		}
		x, y := &all[p].Meaning, &all[m].Meaning
		if p != m && x.P && !x.I && y.I && !y.P && x.Axis == y.Axis && all[p].mate == 0 && oneWordApart(all[p].Name, all[m].Name) {
			all[p].mate = m + 1
		}
	}
}

// oneWordApart reports whether two names are the same but for one word.
func oneWordApart(a, b string) bool {
	apart := 0
	for a != "" || b != "" {
		var x, y string
		var moreX, moreY bool
		x, a, moreX = cutWord(a)
		y, b, moreY = cutWord(b)
		if moreX != moreY {
			return false
		}
		if x != y {
			apart++
		}
	}
	return apart == 1
}

// cutWord cuts the first word off a name.
func cutWord(s string) (word, rest string, more bool) {
	for i := range len(s) {
		switch s[i] {
		case '_', '.', '-', ' ', '/', ':':
			return s[:i], s[i+1:], true
		}
	}
	return s, "", false
}

// JudgeSettings sets the flags of all settings, and returns all flags that
// were set. gap is the most that least flight output may lie over armed idle
// (limits.idle_gap_output). It allocates nothing.
func JudgeSettings(all []SettingChange, gap float64) Slip {
	up, ups, downs := -1, 0, 0
	for i := range all {
		c := &all[i]
		c.Slips = slipsOf(c)
		if !c.Meaning.Gain || !c.Changed() || !(c.Old*c.New > 0) {
			continue
		}
		if math.Abs(c.New) > math.Abs(c.Old) {
			up, ups = i, ups+1
		} else {
			downs++
		}
	}
	if ups == 1 && downs >= aloneLeast {
		all[up].Slips |= SlipAlone
	}
	for i := range all {
		if m := all[i].mate; m > 0 {
			judgePair(&all[i], &all[m-1])
		}
	}
	judgeStep(all, gap)
	var any Slip
	for i := range all {
		any |= all[i].Slips
	}
	return any
}

// slipsOf judges a setting by itself.
func slipsOf(c *SettingChange) Slip {
	var s Slip
	if c.HasNew && c.Meaning.IdleReady && over(c.New, dangerousIdle) {
		s |= SlipIdle
	}
	if c.HasNew && c.Meaning.Share && over(c.New, 1) && !(c.HasOld && over(c.Old, 1)) {
		s |= SlipPercent
	}
	switch {
	case !c.Changed():
		return s
	case c.Old == 0 || c.New == 0:
		switch { // a switch that is no gain is 0 and 1 by nature
		case c.Old+c.New == 1 && !c.Meaning.Gain:
		case c.New == 0:
			s |= SlipToZero
		default:
			s |= SlipFromZero
		}
		return s
	case c.Old < 0 != (c.New < 0):
		s |= SlipSign
	}
	r := math.Abs(c.New / c.Old)
	if r = max(r, 1/r); !over(tenfoldLeast, r) {
		switch {
		case !over(r, tenfoldMost):
			s |= SlipTenfold
		case !over(percentLeast, r) && !over(r, percentMost):
			s |= SlipPercent
		default:
			s |= SlipFar
		}
	}
	return s
}

// judgePair judges a P gain and its I gain. What a slip of one of them explains
// is not told twice.
func judgePair(p, i *SettingChange) {
	if !p.Both() || !i.Both() || !p.Changed() && !i.Changed() {
		return
	}
	var s Slip
	switch {
	case sameValue(p.Old, i.Old) && p.Old != 0:
		if sameValue(p.New, i.New) {
			return
		}
		s = SlipUnequal
	case (p.Slips|i.Slips)&(SlipTenfold|SlipPercent|SlipFar|SlipSign) != 0:
		return
	default:
		was, is := i.Old/p.Old, i.New/p.New
		if !(was > 0) || !(is > 0) || math.IsInf(was, 0) || math.IsInf(is, 0) || !over(max(was/is, is/was), ratioSlack) {
			return
		}
		s = SlipRatio
	}
	for _, c := range [2]*SettingChange{p, i} {
		if c.Changed() {
			c.Slips |= s
		}
	}
}

// judgeStep compares least flight output with armed idle of the new list.
func judgeStep(all []SettingChange, gap float64) {
	ready, least := -1, -1
	for i := range all {
		c := &all[i]
		if c.HasNew && c.Meaning.IdleReady && (ready < 0 || c.New < all[ready].New) {
			ready = i
		}
		if c.HasNew && c.Meaning.IdleLeast && (least < 0 || c.New > all[least].New) {
			least = i
		}
	}
	if ready >= 0 && least >= 0 && over(all[least].New-all[ready].New, gap) {
		all[least].Slips |= SlipIdleStep
	}
}
