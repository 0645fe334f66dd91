package detect

import (
	"fmt"
	"math"
	"math/bits"
	"strconv"
	"strings"
)

// slipWords are what programs and tables call the flags.
var slipWords = [slipCount]string{
	"tenfold", "percent", "far", "sign", "to-zero", "from-zero", "dangerous-idle", "idle-step", "unequal", "ratio", "alone", "name",
}

// Each gives the flags of a set one by one, the weightiest first: what is
// dangerous at arming before what is odd.
func (s Slip) Each() []Slip {
	var all []Slip
	for _, f := range []Slip{SlipIdle, SlipIdleStep} {
		if s&f != 0 {
			all = append(all, f)
		}
	}
	for rest := s &^ (SlipIdle | SlipIdleStep); rest != 0; rest &= rest - 1 {
		all = append(all, rest&-rest)
	}
	return all
}

// String names the flags, joined by a blank.
func (s Slip) String() string {
	var words []string
	for _, f := range s.Each() {
		words = append(words, slipWords[bits.TrailingZeros16(uint16(f))])
	}
	return strings.Join(words, " ")
}

// figure writes a number as a person would type it.
func figure(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// times words how much a setting became, after a comma; "" where its ratio is
// no finite number, either way round.
func (c *SettingChange) times() string {
	r, ok := c.Ratio()
	r = math.Abs(r)
	switch {
	case !ok || math.IsInf(1/r, 0):
		return ""
	case r < 1:
		return fmt.Sprintf(", 1/%.3g of it", 1/r)
	}
	return fmt.Sprintf(", %.3g times as much", r)
}

// Tell words one flag of a setting: what is odd, and what to do next. all are
// the settings that it was judged among.
func (c *SettingChange) Tell(s Slip, all []SettingChange) (text, action string) {
	from := fmt.Sprintf("%s went from %s to %s", c.Name, figure(c.Old), figure(c.New))
	ratio, _ := c.Ratio()
	switch s {
	case SlipIdle:
		text = fmt.Sprintf("%s is %s of full output: over %.2f the motors pull at arming", c.Name, figure(c.New), dangerousIdle)
		if c.New > 1 {
			text = fmt.Sprintf("%s is %s, and 1 is full output: over %.2f the motors pull at arming", c.Name, figure(c.New), dangerousIdle)
		}
		return text, "do not arm; write a share of 1, such as 0.05"
	case SlipIdleStep:
		return fmt.Sprintf("%s %s lies far over armed idle: the craft may jump when the stick leaves zero", c.Name, figure(c.New)),
			"bring both closer together"
	case SlipTenfold:
		return from + c.times() + ": the decimal point may have slipped", "read the number again, digit by digit"
	case SlipPercent:
		if r := max(ratio, -ratio); r < percentMost+1 && r > percentLeast-1 || r > 0 && r < 2/percentLeast {
			return from + c.times() + ": percent may have been taken for a fraction", "look up which of the two the craft takes"
		}
		return fmt.Sprintf("%s is %s where a share of 1 belongs: percent may have been taken for a fraction", c.Name, figure(c.New)),
			"write a share of 1: 0.10 for ten percent"
	case SlipFar:
		return from + c.times(), "read the number again, and its unit"
	case SlipSign:
		return from + ": its sign turned", "make sure that it is meant: a gain of the wrong sign drives the craft over"
	case SlipToZero:
		return from, "make sure that it is meant to be off"
	case SlipFromZero:
		return from + ": it was off", "make sure that it is meant to be on"
	case SlipUnequal:
		text = from + ": I and P of this axis were equal, and are no longer"
		if m := c.Other(all); m != nil {
			text = fmt.Sprintf("%s: it was equal to %s, which is now %s", from, m.Name, figure(m.New))
		}
		return text, "set both to the same, or make sure that they should differ"
	case SlipRatio:
		text = from + ": I over P of this axis changed"
		if m := c.Other(all); m != nil && m.Changed() {
			text = fmt.Sprintf("%s (%.3g times), %s to %s: I and P did not move together", from, ratio, m.Name, figure(m.New))
		} else if m != nil {
			text = fmt.Sprintf("%s (%.3g times), %s stays at %s: I and P did not move together", from, ratio, m.Name, figure(m.New))
		}
		return text, "change both by the same factor, or make sure that they should part"
	case SlipAlone:
		return from + ": it went up, and all other gains that changed went down", "was it meant to go down as well? read it again"
	}
	return from, ""
}

// Other is the I gain of a P gain and the other way round, nil for none.
func (c *SettingChange) Other(all []SettingChange) *SettingChange {
	if c.mate > 0 && c.mate <= len(all) {
		return &all[c.mate-1]
	}
	for i := range all {
		if m := all[i].mate; m > 0 && &all[m-1] == c {
			return &all[i]
		}
	}
	return nil
}
