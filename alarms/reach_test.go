package alarms

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// reachOf finds one reach of a snapshot.
func reachOf(s *Snapshot, k detect.Kind, w detect.Where) (detect.Reach, bool) {
	for _, r := range s.Reaches {
		if r.Kind == k && r.Where == w {
			return r, true
		}
	}
	return detect.Reach{}, false
}

// TestReach holds the common scale: rest is 0, the limit is 1, by the published
// limits of each alarm (worked by hand).
func TestReach(t *testing.T) {
	r := newRig(t, 20)
	flows := []flow{
		axesFlow(200), stateFlow(20, 1),
		{decode.Out, 100, []float64{0.44, 0.36, 0.40, 0.40}},
		{decode.Temp, 2, []float64{40, 20, 68, 24}},
		{decode.Pack, 20, []float64{4 * 3.85, 12}},
		{decode.Load, 50, []float64{0.35 * 0.655 * 9.80665}},
	}
	flows[1].v[3] = 0.4 // the stick
	r.e.bench.Craft.Cells = 4
	r.run(6, flows...)
	var s Snapshot
	r.e.Snapshot(&s)
	for _, c := range []struct {
		kind  detect.Kind
		where detect.Where
		share float64
	}{
		{detect.OutputImbalance, detect.M1, 0.10 / 0.25},
		{detect.OutputImbalance, detect.M2, 0.10 / 0.25},
		{detect.OutputImbalance, detect.M3, 0},
		{detect.MotorHeat, detect.M1, 20.0 / 40},
		{detect.MotorHeat, detect.M2, 0},
		{detect.MotorHeat, detect.M3, 48.0 / 40},
		{detect.PackSag, detect.Pack, 0.5},
		{detect.NearLift, detect.Craft, 0.5},
		{detect.BadLink, detect.Link, 0},
		{detect.RisingOscillation, detect.Pitch, 0},
	} {
		got, ok := reachOf(&s, c.kind, c.where)
		require.True(t, ok, "%s %s", c.kind, c.where)
		require.InDelta(t, c.share, got.Share, 0.02, "%s %s", c.kind, c.where)
	}
	for i := 1; i < len(s.Reaches); i++ {
		require.LessOrEqual(t, s.Reaches[i].Share, s.Reaches[i-1].Share, "nearest first")
	}
	_, ok := reachOf(&s, detect.StickHigh, detect.Craft)
	require.False(t, ok, "a stick that is up belongs there once the craft is armed")
	_, ok = reachOf(&s, detect.OverCurrent, detect.Pack)
	require.False(t, ok, "without a rating there is no distance")
}

// TestReachSilence: the line's silence nears its limit while nothing comes.
func TestReachSilence(t *testing.T) {
	r := newRig(t, 20)
	r.run(4, axesFlow(200), stateFlow(20, 1))
	r.pass(160_000)
	var s Snapshot
	r.e.Snapshot(&s)
	got, ok := reachOf(&s, detect.StaleLink, detect.Link)
	require.True(t, ok)
	require.InDelta(t, 0.16/0.3, got.Share, 0.1)
}

// TestTrail: what was measured and the holes, oldest first.
func TestTrail(t *testing.T) {
	r := newRig(t, 20)
	at := 0.0
	for range 600 { // 0.05 of output at 10 Hz
		v := 0.05 * math.Sin(2*math.Pi*10*at)
		r.run(0.005, flow{decode.Axes, 200, []float64{0, 100 * v, 0, 0, 0, 0, 0, v, 0, 0.3}},
			flow{decode.State, 200, []float64{1, 0, 1, 0.3, 0, 0, 0, 1}})
		at += 0.005
	}
	r.pass(500_000)
	var s Snapshot
	r.e.Snapshot(&s)
	pts := s.Trails[1][:]
	require.EqualValues(t, -1, pts[TrailLength-1], "nothing came in the silence")
	require.EqualValues(t, -1, pts[TrailLength-8])
	require.InDelta(t, 0.05, pts[TrailLength-16], 0.005, "the amplitude that was sent")
	require.InDelta(t, 0, s.Trails[0][TrailLength-16], 0.001, "roll did not move")
	require.EqualValues(t, -1, pts[0], "before the first line")
}

// TestTrailGap: a hole longer than the trail leaves nothing of before.
func TestTrailGap(t *testing.T) {
	tr := newTrails()[0]
	*tr.at(0) = 1
	tr.at(TrailStep * (TrailLength + 7))
	var out [TrailLength]float32
	tr.copyTo(out[:])
	for _, p := range out {
		require.EqualValues(t, -1, p)
	}
}

// TestSlowestStreamIsThere: one line a second is the slowest that a bench may
// send. Before its pace is learned it is not taken for gone between two lines.
func TestSlowestStreamIsThere(t *testing.T) {
	r := newRig(t, 20)
	for i := range 80 {
		r.run(0.1, axesFlow(200), stateFlow(20, 1))
		if i%12 == 0 { // late, as a slow bridge is
			r.send(decode.Temp, 30, 30, 30, 30)
		}
		if r.bridge < 1_500_000 {
			continue
		}
		var s Snapshot
		r.e.Snapshot(&s)
		for _, n := range s.NotWatched {
			require.NotEqual(t, "motor-heat", n.Name, "%s at %d us", n.Why, r.bridge)
		}
	}
}

// TestReachOfWhatIsWatchedInPart: a slow stream leaves part of the band
// unwatched; the distance in the rest is told all the same.
func TestReachOfWhatIsWatchedInPart(t *testing.T) {
	r := newRig(t, 20)
	r.run(5, axesFlow(50), stateFlow(20, 1))
	var s Snapshot
	r.e.Snapshot(&s)
	lacks := false
	for _, n := range s.NotWatched {
		lacks = lacks || n.Name == "rising-oscillation"
	}
	require.True(t, lacks)
	_, ok := reachOf(&s, detect.RisingOscillation, detect.Roll)
	require.True(t, ok)
}

// Whatever has a distance says what lines it is measured by, so that a screen can
// call it old with them. The link's tell of the lines themselves.
func TestEveryReachIsMeasured(t *testing.T) {
	for _, d := range newFullBench().e.detectors {
		if _, ok := d.(detect.Reacher); !ok || d.Kind() == detect.StaleLink || d.Kind() == detect.BadLink {
			continue
		}
		some := false
		for tag := decode.Axes; tag <= decode.State; tag++ {
			some = some || d.Kind().Measures(tag)
		}
		require.True(t, some, "%v", d.Kind())
	}
}
