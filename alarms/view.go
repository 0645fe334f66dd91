package alarms

import (
	"cmp"
	"slices"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// oldState is the age from which the newest state line says nothing of now: as long
// as the line may be silent before it is called so.
const oldState = 3 * detect.Second / 10

// Snapshot copies what a person is shown into dst.
func (e *Engine) Snapshot(dst *Snapshot) {
	b := &e.bench
	*dst = Snapshot{
		T: b.Now, Lines: b.Link.Good, Bad: b.Link.Bad, Lost: b.Link.Lost,
		SilentUS: b.Silent, BadShare: e.link.Share(), BytesPerSecond: e.link.BytesPerSecond(), LinesPerSecond: e.pace.rate(b.Now),
		Streams: b.Streams, Boot: e.known.boot, Bridge: e.known.bridge, Restarts: e.restarts,
		CraftName: b.Craft.Name, Layout: b.Craft.Layout, Blades: b.Craft.Blades, Held: b.Held(), Hold: string(b.Craft.Hold),
		Armed: b.Armed, Stopped: b.Stopped, Ground: b.Ground, ControlOK: b.ControlOK,
		StickThrottle: b.Stick[0], Throttle: b.Thr, Volts: b.Volts, Amps: b.Amps,
		IdleReady: b.IdleReady, IdleLeast: b.IdleLeast, LiftN: b.Load,
		Sounding: e.life.sounding(b.Now), SoundSeq: e.life.soundSeq,
		PausedUS: max(0, e.life.pausedTo-b.Now),
	}
	dst.IdlesUS = e.idles.lasts(b.Now)
	dst.Bridges = e.Bridges()
	dst.Odd, _ = e.OddTags(0)
	if b.Armed == detect.Yes && b.ArmedAt >= 0 {
		until := b.Now - b.Silent
		if st := &b.Streams[decode.State]; until-st.Last > max(oldState, int64(2*st.Period)) {
			until = st.Last // what came after it nobody knows
		}
		dst.ArmedForUS = max(0, until-b.ArmedAt)
	}
	for i := range dst.Axes {
		dst.Axes[i] = e.axisView(i)
	}
	dst.Motors = e.motorViews()
	dst.Reaches = e.reaches()
	for i := range dst.Trails {
		e.trails[i].copyTo(dst.Trails[i][:])
	}
	dst.Spectrum, _ = e.lines.Spectrum(b)
	dst.RotorLines = e.lines.View(b)
	dst.LiftOf = "weight"
	full := b.WeightN()
	if b.Craft.Hold == craft.Stand {
		dst.LiftOf, full = "rated load", b.Craft.HoldRatedN
	}
	if b.Load.OK && full > 0 {
		dst.LiftShare = detect.Reading{V: b.Load.V / full, OK: true, At: b.Load.At}
	}
	if b.Volts.OK && b.Craft.Cells > 0 {
		dst.VoltsPerCell = detect.Reading{V: b.Volts.V / float64(b.Craft.Cells), OK: true, At: b.Volts.At}
	}
	dst.Alarms = e.alarmViews()
	dst.NotWatched, dst.Left = e.cover.lacks(nil), e.cover.lostNow()
	dst.Untold = untold(dst.NotWatched)
	dst.Awaited = e.awaited(dst.Untold)
	dst.Absent, dst.Mute = append(e.cover.unsaid(b), doubted(b)...), e.mute()
	dst.Doubted, dst.Keeps = doubtedTags(b), keeps(b)
	dst.Disagree = disagreements(b)
}

// reaches lists what has a distance to its limit now, nearest first; equal ones
// in the order of the detectors. What is watched in part has one too.
func (e *Engine) reaches() []detect.Reach {
	out := make([]detect.Reach, 0, 48)
	// In a silence of the whole line the screen calls all of them old.
	last := e.bench
	last.Now -= last.Silent
	b := &last
	var known detect.Known
	known.See(b)
	for _, d := range e.detectors {
		r, ok := d.(detect.Reacher)
		if !ok || known.Frozen(d, b) {
			continue // it would show what a stream that has stopped said last
		}
		out = r.Reach(&known.Bench, out)
	}
	slices.SortStableFunc(out, func(a, b detect.Reach) int { return cmp.Compare(b.Share, a.Share) })
	return out
}

func (e *Engine) axisView(i int) AxisView {
	b := &e.bench
	n := e.osc.Now(i)
	v := AxisView{
		Rate: b.Rate[i], Demand: b.Demand[i], Ctrl: b.Ctrl[i],
		Watched: n.Watched, Amplitude: n.Amplitude, FrequencyHz: n.FrequencyHz,
		GrowthPerS: n.GrowthPerS, TimeToLimitS: n.TimeToLimitS,
		Limit: b.Limits.Oscillation, Unit: "1",
	}
	if n.RateOnly {
		v.Limit, v.Unit = b.Limits.OscillationRate, "deg/s"
	}
	return v
}

func (e *Engine) motorViews() []MotorView {
	b := &e.bench
	out := make([]MotorView, b.Shown())
	mean, ok := b.MeanOut()
	for i := range out {
		out[i] = MotorView{Out: b.Out[i], RPM: b.RPM[i], Temp: b.Temp[i]}
		if ok && mean > 0 && b.Out[i].OK {
			out[i].Share = detect.Reading{V: b.Out[i].V / mean, OK: true, At: b.Out[i].At}
		}
	}
	return out
}

// alarmViews lists what is up or latched: active before latched, then by
// priority, then the strongest first action, for whoever takes the first of them
// does that; then by age.
func (e *Engine) alarmViews() []AlarmView {
	var out []AlarmView
	for i := range e.life.slots {
		s := &e.life.slots[i]
		if !s.used {
			continue
		}
		p := s.priority
		if !s.active {
			p = s.worst
		}
		story := s.story
		story.Action = e.KeepOff(story.Action) // it may be of before the rotors turned
		out = append(out, AlarmView{
			Kind: s.kind, Where: s.where, Priority: p, Active: s.active,
			Acknowledged: s.acknowledged, First: s.marked, Since: s.since,
			Value: s.finding.Value, Limit: s.finding.Limit, Explains: s.explains, Story: story,
		})
	}
	slices.SortStableFunc(out, func(a, b AlarmView) int {
		switch {
		case a.Active != b.Active:
			if a.Active {
				return -1
			}
			return 1
		case a.Priority != b.Priority:
			return int(b.Priority) - int(a.Priority)
		case a.Strength() != b.Strength():
			return b.Strength() - a.Strength()
		case a.Since != b.Since:
			return int(min(max(a.Since-b.Since, -1), 1))
		}
		return int(a.Kind) - int(b.Kind)
	})
	return out
}
