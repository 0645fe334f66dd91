package report

import (
	"fmt"
	"math"
	"math/rand/v2"

	"tetherbell/alarms/account"
)

func at(v float64) *float64 { return &v }

// curveOf samples a function; hole says where nothing was measured.
func curveOf(name, unit string, lengthS float64, n int, value func(t float64) (lo, hi float64), hole func(t float64) bool) *account.Curve {
	c := &account.Curve{Name: name, Unit: unit, Step: lengthS / float64(n)}
	for i := range n {
		t := (float64(i) + 0.5) * c.Step
		if hole != nil && hole(t) {
			c.Min, c.Max = append(c.Min, nil), append(c.Max, nil)
			continue
		}
		l, h := value(t)
		lo, hi := float32(l), float32(h)
		c.Min, c.Max = append(c.Min, &lo), append(c.Max, &hi)
	}
	return c
}

// spectrumOf has a floor that falls, and lines.
func spectrumOf(unit string, lines map[float64]float64) *account.Spectrum {
	s := &account.Spectrum{Name: "control_roll", Unit: unit, BinHz: 0.5, Spans: 41, TopHz: 250,
		Orders: []account.RotorLine{
			{Order: "once a turn", LowHz: 96, HighHz: 118},
			{Order: "blades pass", LowHz: 192, HighHz: 236},
			{Order: "twice the blades", LowHz: 28, HighHz: 116, Folded: true},
		}}
	rng := rand.New(rand.NewPCG(1, 2))
	for k := range 501 {
		f := float64(k) * s.BinHz
		v := 2e-3 / (1 + f/20) * (0.7 + 0.6*rng.Float64())
		for at, amp := range lines {
			v += amp / (1 + math.Pow((f-at)/0.8, 2))
		}
		s.Root = append(s.Root, float32(v))
	}
	return s
}

// rich is an account in which every part has something to say.
func rich(lengthS float64) *account.Account {
	rng := rand.New(rand.NewPCG(3, 4))
	const n = 1800
	ramp := func(t float64) float64 {
		u := t / lengthS
		switch {
		case u < 0.1 || u > 0.9:
			return 0
		case u < 0.5:
			return 0.12 + 0.5*(u-0.1)
		}
		return 0.32 - 0.5*(u-0.5)
	}
	silent := func(t float64) bool { return t > 0.62*lengthS && t < 0.66*lengthS }
	noisy := func(scale, noise float64) func(float64) (float64, float64) {
		return func(t float64) (float64, float64) {
			v := ramp(t) * scale
			w := noise * (0.5 + rng.Float64())
			return v - w, v + w
		}
	}
	a := &account.Account{
		Session: account.Session{File: "runs/20261125T074111Z.bell", Tool: "tetherbell 0.1.0", Start: "2026-11-25T07:41:11Z", Source: "/dev/ttyUSB0", Baud: 921600,
			Judged: "the alarms are those of the day", Remarks: []string{"its last line (12 bytes without a line end) is dropped"}},
		Craft: account.Craft{Name: "Marsh Heron", Layout: "quad-x", Motors: 4, MassG: 655, PropellerMM: 178, Blades: 3, Poles: 14, Cells: 4, Hold: "stand", HoldRatedN: 18, ArmMM: 125},
		Verdict: account.Verdict{Worst: "high", Headline: "roll oscillates at 14.2 Hz and grows towards the limit", Fix: "lower the gains of roll and pitch by a third before you go on",
			Why: "rising-oscillation at roll, 6.290 s: 0.045 of full output, doubling every 0.8 s", Ended: ""},
		LengthS: lengthS, Armed: []account.Span{{From: 0.08 * lengthS, To: 0.92 * lengthS}},
		Stopped: []account.Span{{From: 0, To: 0.03 * lengthS}, {From: 0.91 * lengthS, To: lengthS}}, Silent: []account.Span{{From: 0.62 * lengthS, To: 0.66 * lengthS}},
		Throttle: curveOf("throttle", "1", lengthS, n, noisy(1, 0.004), silent), Stick: curveOf("stick_throttle", "1", lengthS, n, noisy(0.95, 0), silent),
		Lift: curveOf("load_n", "N", lengthS, n, noisy(22, 0.2), silent), WeightN: at(6.42),
		Alarms: []account.Alarm{
			{At: 0.3 * lengthS, Until: at(0.45 * lengthS), Name: "low-margin", Where: "roll", Priority: "low", First: true, Value: 0.031, Limit: 0.05, Unit: "1", Text: "roll rings near its margin: damping ratio 0.031", Cause: "loop gain too high", Action: "lower the gains before you go on"},
			{At: 0.4 * lengthS, Until: at(0.7 * lengthS), Acknowledged: at(0.5 * lengthS), Name: "output-imbalance", Where: "m3", Priority: "medium", Value: 0.273, Limit: 0.25, Unit: "1", Text: "output of m3 is 1.27 times the mean of the motors", Cause: "weight off centre, or m3 pulls less", Action: "ease off; once rotors stand, check propeller and motor m3"},
			{At: 0.5 * lengthS, Name: "rising-oscillation", Where: "roll", Priority: "high", Value: 0.045, Limit: 0.1, Unit: "1", Text: "roll oscillates at 14.2 Hz, 0.045 of full output, and grows: 0.9 s to the limit", Cause: "loop gain too high", Action: "cut throttle"},
			{At: 0.62 * lengthS, Until: at(0.66 * lengthS), Name: "stale-link", Where: "link", Priority: "high", First: true, Value: 0.31, Limit: 0.3, Unit: "s", Text: "no good line for 0.31 s", Action: "cut throttle"},
			{At: 0.8 * lengthS, Until: at(0.82 * lengthS), Name: "pressure-dip", Where: "craft", Priority: "note", Value: 0.8, Limit: 0.5, Unit: "m", Text: "pressure altitude fell by 0.8 m"},
		},
		Marks:      []account.Mark{{At: 0.2 * lengthS, Text: "tether hooked, area clear", By: "person"}, {At: 0.55 * lengthS, Text: "felt it in the stand, stick held", By: "person"}},
		Vibration:  spectrumOf("m/s^2/sqrt(Hz)", map[float64]float64{107: 0.9, 214: 0.2}),
		Settings:   []account.Setting{{Name: "idle_ready", Value: 0.08}, {Name: "rate.roll.p", Value: 0.12, Was: []account.Change{{Value: 0.1, Until: 0.2 * lengthS}}}},
		NotWatched: []account.Lack{{Name: "pressure-dip", Why: "no air pressure"}, {Name: "over-current", Why: "no rated current in the craft file (rated_a)", Unasked: true}},
		Disagree:   []string{"the craft file has 14 magnet poles, the bridge 12"},
		Balance: account.Balance{Known: true, Why: "it rests on 3 holds of 2 s and more, with the craft level within 1 deg", ForwardMM: 6, RightMM: -2.4, ErrMM: 1.8,
			Direction: "6 mm forward and 2.4 mm left", YawTwist: at(0.021), YawErr: at(0.006), Holds: 3},
		Card: &account.Card{Title: "First spin", Outcome: "ended at step 3", Steps: []account.Step{
			{Name: "stop test", Text: "assert stop with the rotors at idle", State: "passed"}, {Name: "slow rise", Text: "raise throttle to 0.2 within 10 s", State: "failed", Reason: "rising-oscillation rang"}}},
	}
	a.Pack = account.Pack{Volts: curveOf("volts", "V", lengthS, n, func(t float64) (float64, float64) { v := 16.4 - 2*ramp(t); return v - 0.02, v + 0.02 }, silent),
		Amps: curveOf("amps", "A", lengthS, n, noisy(60, 0.5), silent), RestV: at(4.11), LeastV: at(3.94), MostA: at(19.6), UsedMAh: at(214), UsedWh: at(3.4), Ohm: at(0.034), OhmErr: at(0.002)}
	a.Air = account.Air{Height: curveOf("height_m", "m", lengthS, n, noisy(-2, 0.1), silent), Dip: at(-0.8), Pascal: at(101211)}
	a.Link = account.Link{Lines: 24091, Bad: 3, Lost: 17, Share: 0.00083, Causes: map[string]uint64{"checksum": 2, "too long": 1}, LongestS: 0.31, BytesPerS: 41200,
		Streams: []account.Stream{{Tag: "axes", Lines: 20000, PerS: 500, LongestS: 0.31}, {Tag: "out", Lines: 4000, PerS: 100, LongestS: 0.32}}}
	for i, name := range []string{"roll", "pitch", "yaw"} {
		a.Axes[i] = axisOf(name, lengthS, silent, ramp, i == 0)
	}
	for m := range 4 {
		share := []float64{0.96, 0.89, 1.19, 0.96}[m]
		a.Motors = append(a.Motors, account.Motor{Number: m + 1, Output: curveOf(fmt.Sprintf("out_%d", m+1), "1", lengthS, n, noisy(share, 0.01), silent),
			RPM:   curveOf(fmt.Sprintf("rpm_%d", m+1), "rev/min", lengthS, n, noisy(share*21000, 60), silent),
			Temp:  curveOf(fmt.Sprintf("temp_%d", m+1), "degC", lengthS, n, func(t float64) (float64, float64) { v := 22 + 30*share*t/lengthS; return v, v }, func(t float64) bool { return int(t/lengthS*n)%9 != 0 }),
			Share: at(share), ShareErr: at(0.004), OutputPeak: at(0.4 * share), RPMPeak: at(8123.4 * share), TempStart: at(22.1), TempPeak: at(22 + 30*share), TempRise: at(0.8)})
	}
	return a
}

func axisOf(name string, lengthS float64, silent func(float64) bool, ramp func(float64) float64, bad bool) account.Axis {
	x := account.Axis{Name: name, Limit: 0.1, ControlRMS: at(0.011), ControlPeak: at(0.046), ControlMean: at(-0.0031), RateRMS: at(2.41),
		Spectrum: spectrumOf("1/sqrt(Hz)", map[float64]float64{14.2: 0.004})}
	wave := func(scale float64) func(t float64) (float64, float64) {
		return func(t float64) (float64, float64) {
			v := 0.006 + 0.03*ramp(t)
			if bad && t > 0.45*lengthS && t < 0.6*lengthS {
				v += 0.05 * (t/lengthS - 0.45) / 0.15
			}
			return -v * scale, v * scale
		}
	}
	x.Control = curveOf("control_"+name, "1", lengthS, 1800, wave(1), silent)
	x.Rate = curveOf("rate_"+name, "deg/s", lengthS, 1800, wave(300), silent)
	if bad {
		x.Strongest = &account.Tone{Hz: 14.2, Amplitude: 0.045, Share: 0.81, At: 0.55 * lengthS}
		x.Found = []string{"it oscillates at 14.2 Hz and grows: loop gain too high"}
	}
	return x
}

// bare is an account of a session in which nothing but a line was heard.
func bare() *account.Account {
	a := &account.Account{Session: account.Session{File: "bare.bell", Judged: "the alarms were worked out again"},
		Verdict: account.Verdict{Worst: "none", Headline: "nothing of medium or high priority"}}
	for i, name := range []string{"roll", "pitch", "yaw"} {
		a.Axes[i] = account.Axis{Name: name, Limit: 0.1}
	}
	return a
}

func reportOf(a *account.Account) *Report {
	return &Report{Account: a, Cautions: []string{"tetherbell advises; it is no certified safety device and it stops no motor", "eye protection on"}, Tool: "tetherbell 0.1.0"}
}
