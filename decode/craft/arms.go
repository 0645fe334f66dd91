package craft

import (
	"errors"
	"fmt"
)

// custom is the layout whose motors are placed by its arms.
const custom = "custom"

// leastArms: fewer motors than three have no layout that holds a craft level.
const leastArms = 3

// armHints are what to write for the numbers of an arm.
var armHints = map[string]string{
	"arm.bearing_deg": "write degrees from the nose, clockwise: 45 is right ahead",
	"arm.length_mm":   "write the millimetres from the middle of the craft to the motor",
	"arm.clockwise":   "write true or false: which way the propeller turns, seen from above",
}

// checkArms reports the first arm that cannot be.
func (c Craft) checkArms() error {
	n := len(c.Arms)
	if n == 0 {
		return nil
	}
	if n < leastArms || n > MaxMotors {
		return &FieldError{Key: "arm", Problem: fmt.Sprintf("%d arms are not within %d..%d", n, leastArms, MaxMotors), Hint: "write an [[arm]] for each motor"}
	}
	for i, a := range c.Arms {
		key := func(name string) string { return fmt.Sprintf("arm.%d.%s", i+1, name) }
		switch {
		case !(a.BearingDeg >= 0 && a.BearingDeg <= 360):
			return &FieldError{Key: key("bearing_deg"), Problem: plain(a.BearingDeg) + " is not within 0..360", Hint: armHints["arm.bearing_deg"]}
		case i > 0 && a.BearingDeg <= c.Arms[i-1].BearingDeg:
			return &FieldError{Key: key("bearing_deg"), Problem: plain(a.BearingDeg) + " is not more than that of the arm before",
				Hint: "write them clockwise, m1 the first one right of the nose"}
		case !(a.LengthMM >= MinArmMM && a.LengthMM <= MaxArmMM):
			return &FieldError{Key: key("length_mm"), Problem: fmt.Sprintf("%s is not within %d..%d", plain(a.LengthMM), MinArmMM, MaxArmMM), Hint: armHints["arm.length_mm"]}
		}
	}
	return nil
}

// firstOf is the first error of several that were joined.
func firstOf(err error) error {
	var fe *FieldError
	if errors.As(err, &fe) {
		return fe
	}
	return err
}
