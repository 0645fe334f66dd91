package detect

import "tetherbell/decode"

// The kinds of line whose values a detector keeps, or weighs with what it keeps;
// those of state are kept by all.
const (
	ofAxes  = 1 << decode.Axes
	ofOut   = 1 << decode.Out
	ofERPM  = 1 << decode.ERPM
	ofAccel = 1 << decode.Accel
	ofLoad  = 1 << decode.Load
	ofTemp  = 1 << decode.Temp
	ofPack  = 1 << decode.Pack
	ofAir   = 1 << decode.Air
	ofEvery = ofAxes | ofOut | ofERPM | ofAccel | ofLoad | ofTemp | ofPack | ofAir
)

var heeded = [KindCount]uint32{
	RisingOscillation: ofAxes | ofOut | ofERPM,
	OutputImbalance:   ofAxes | ofOut | ofERPM | ofAccel | ofLoad,
	GroundThrust:      ofAxes | ofOut | ofERPM | ofLoad,
	TipOver:           ofAxes,
	NearLift:          ofLoad,
	LateStop:          ofOut | ofERPM,
	SpinDisarmed:      ofOut | ofERPM,
	StaleLink:         ofEvery,
	BadLink:           ofEvery,
	SettingsSlip:      0,
	LowMargin:         ofAxes | ofERPM,
	StickHigh:         0,
	Runaway:           ofOut | ofERPM | ofLoad | ofPack,
	RotorLost:         ofOut | ofERPM | ofLoad,
	HoldLost:          ofAxes | ofOut | ofERPM | ofLoad,
	VibrationStep:     ofAxes | ofOut | ofERPM | ofAccel,
	OverCurrent:       ofPack,
	ControlLost:       0,
	FrozenSensor:      ofEvery,
	MotorHeat:         ofOut | ofTemp,
	PackSag:           ofPack,
	Windup:            ofAxes | ofOut,
	ReversedResponse:  ofAxes | ofOut,
	RotorLine:         ofAxes | ofOut | ofERPM | ofAccel,
	IdleGap:           ofOut | ofERPM | ofLoad,
	ThrottleMismatch:  ofAxes | ofOut | ofLoad | ofPack,
	PressureDip:       ofOut | ofERPM | ofAir,
}

// Heeds reports whether a detector of this kind keeps anything of the lines of
// any of these tags, a bit each: it must forget it where they begin anew.
func (k Kind) Heeds(tags uint32) bool { return tags&(heeded[k]|1<<decode.State) != 0 }
