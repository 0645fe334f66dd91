package dashboard

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// watched gives a calm snapshot its distances, its past and its spectrum.
func watched(s *alarms.Snapshot) {
	add := func(k detect.Kind, w detect.Where, share, v, limit float64, unit string) {
		s.Reaches = append(s.Reaches, detect.Reach{Kind: k, Where: w, Share: share, Value: v, Limit: limit, Unit: unit})
	}
	add(detect.PackSag, detect.Pack, 0.557, 3.81, 3.5, "V")
	add(detect.NearLift, detect.Craft, 0.514, 0.36, 0.7, "1")
	add(detect.MotorHeat, detect.M4, 0.525, 41, 60, "degC")
	add(detect.MotorHeat, detect.M3, 0.5, 40, 60, "degC")
	add(detect.MotorHeat, detect.M2, 0.475, 39, 60, "degC")
	add(detect.MotorHeat, detect.M1, 0.45, 38, 60, "degC")
	add(detect.OutputImbalance, detect.M4, 0.164, 0.041, 0.25, "1")
	add(detect.OutputImbalance, detect.M1, 0.16, 0.04, 0.25, "1")
	add(detect.OutputImbalance, detect.M2, 0.052, 0.013, 0.25, "1")
	add(detect.OutputImbalance, detect.M3, 0.056, 0.014, 0.25, "1")
	add(detect.RisingOscillation, detect.Roll, 0.11, 0.011, 0.1, "1")
	add(detect.VibrationStep, detect.Craft, 0.08, 1.08, 2, "1")
	add(detect.TipOver, detect.Roll, 0.013, 2, 150, "deg/s")
	add(detect.BadLink, detect.Link, 0.08, 0.004, 0.05, "1")
	add(detect.StaleLink, detect.Link, 0.007, 0.002, 0.3, "s")
	s.Trails = [3][alarms.TrailLength]float32{swell(0.011), swell(0.008), swell(0.002)}
	for i := range 60 {
		s.Trails[2][alarms.TrailLength-200+i] = -1 // a hole
	}
	s.Spectrum = detect.LineSpectrum{Tag: decode.Axes, At: s.T - 300_000, BinHz: 0.5, TurnHz: 136, Unit: "deg/s", Amp: make([]float32, 501)}
	for k := range s.Spectrum.Amp {
		f := float64(k) * 0.5
		s.Spectrum.Amp[k] = float32(0.02 + 3*math.Exp(-math.Pow((f-136)/3, 2)) + 0.2*math.Exp(-math.Pow((f-228)/4, 2)))
	}
	v := &s.RotorLines
	v.Motors, v.Orders, v.Order = 4, 3, [3]float64{1, 2, 3}
	v.Stated, v.Poles, v.Sure, v.G, v.MMS = 14, 14, true, 0.12, 1.4
	for m := range 4 {
		hz := 134 + 2*float64(m)
		v.Lines[m][0] = detect.Line{Hz: hz, SeenHz: hz, Seen: true, Rate: 2.1}
		v.Lines[m][1] = detect.Line{Hz: 2 * hz, SeenHz: 500 - 2*hz, Folded: true, Seen: m == 0, Rate: 0.1}
		v.Lines[m][2] = detect.Line{Hz: 3 * hz, SeenHz: 500 - 3*hz, Folded: true}
	}
}

// swell is a trail that grows to an amplitude at a steady pace.
func swell(to float32) (t [alarms.TrailLength]float32) {
	for i := range t {
		t[i] = to * float32(math.Exp(0.02*float64(i-alarms.TrailLength+1)))
	}
	return t
}

// foldedLines: a stream of 200 a second under rotors of 136 turns a second.
func foldedLines(f *Frame) {
	s := f.Snap
	s.Spectrum.BinHz, s.Spectrum.Amp = 0.25, s.Spectrum.Amp[:401]
	s.RotorLines.Poles, s.RotorLines.G = 12, 0
	for m := range 4 {
		x := &s.RotorLines.Lines[m][0]
		x.SeenHz, x.Folded = 200-x.Hz, true
	}
}

// TestNearestKeepsItsOrder: a row passes another only when it comes clearly
// nearer, so that the list can be read while values breathe.
func TestNearestKeepsItsOrder(t *testing.T) {
	reach := func(k detect.Kind, share float64) detect.Reach {
		return detect.Reach{Kind: k, Where: detect.Craft, Share: share}
	}
	kinds := func(rs []detect.Reach) (out []detect.Kind) {
		for _, r := range rs {
			out = append(out, r.Kind)
		}
		return out
	}
	a, b, c := detect.PackSag, detect.NearLift, detect.MotorHeat
	for _, x := range []struct {
		name   string
		all    []detect.Reach // nearest first, as the engine gives them
		before []detect.Kind
		want   []detect.Kind
	}{
		{"first picture", []detect.Reach{reach(a, 0.5), reach(b, 0.4), reach(c, 0.1)}, nil, []detect.Kind{a, b, c}},
		{"breathing", []detect.Reach{reach(b, 0.45), reach(a, 0.4), reach(c, 0.1)}, []detect.Kind{a, b, c}, []detect.Kind{a, b, c}},
		{"clearly nearer", []detect.Reach{reach(c, 0.9), reach(b, 0.45), reach(a, 0.4)}, []detect.Kind{a, b, c}, []detect.Kind{c, a, b}},
		{"one more comes", []detect.Reach{reach(a, 0.4), reach(b, 0.38)}, []detect.Kind{a}, []detect.Kind{a, b}},
		{"one place a kind", []detect.Reach{reach(a, 0.4), reach(a, 0.3)}, nil, []detect.Kind{a}},
	} {
		require.Equal(t, x.want, kinds(nearestOf(x.all, x.before)), x.name)
	}
}

// TestFolded: where a line shows, by the sampling theorem, worked by hand.
func TestFolded(t *testing.T) {
	for _, c := range [][3]float64{{30, 200, 30}, {100, 200, 100}, {136, 200, 64}, {200, 200, 0}, {272, 200, 72}, {390, 200, 10}} {
		require.InDelta(t, c[2], folded(c[0], c[1]), 1e-9, "%v", c)
	}
	require.Negative(t, folded(1, 0))
	require.Negative(t, folded(math.NaN(), 100))
}

// TestReachWord: units, digits, and limits that lie below.
func TestReachWord(t *testing.T) {
	l := newLook(256, false)
	for _, c := range []struct {
		r    detect.Reach
		want string
	}{
		{detect.Reach{Share: 0.5, Value: 0.05, Limit: 0.1, Unit: "1"}, "0.050 of 0.100"},
		{detect.Reach{Share: 2, Value: 0.5, Limit: 0.25, Unit: "1"}, "0.50 of 0.25"},
		{detect.Reach{Share: 0.9, Value: 56, Limit: 60, Unit: "degC"}, "56 of 60 °C"},
		{detect.Reach{Share: 0.5, Value: 3.85, Limit: 3.5, Unit: "V"}, "3.85, least 3.50 V"},
		{detect.Reach{Share: 1.4, Value: 3.2, Limit: 3.5, Unit: "V"}, "3.20, least 3.50 V"},
		{detect.Reach{Share: 0.3, Value: 9, Limit: 30, Unit: "A"}, "9 of 30 A"},
	} {
		require.Equal(t, c.want, reachWord(&c.r, l))
	}
}

// TestExplainedReachIsMarked: what lies past its limit and is explained by an
// alarm that rings is marked as that is; what is far is not.
func TestExplainedReachIsMarked(t *testing.T) {
	s := benchFrame().Snap
	up := oscillation()
	up.Explains = 1<<detect.NearLift | 1<<detect.PackSag
	for _, c := range []struct {
		name   string
		share  float64
		active bool
		kind   detect.Kind
		want   bool
	}{
		{"explained", 1.1, true, detect.NearLift, true},
		{"explained, under its limit", 0.9, true, detect.NearLift, false},
		{"the cause is over", 1.1, false, detect.NearLift, false},
		{"not explained", 1.1, true, detect.TipOver, false},
	} {
		a := up
		a.Active = c.active
		s.Alarms = []alarms.AlarmView{a}
		level, got := reachUp(s, &detect.Reach{Kind: c.kind, Where: detect.Craft, Share: c.share})
		require.Equal(t, c.want, got, c.name)
		if c.want {
			require.Equal(t, a.Priority, level, c.name)
		}
	}
}

// TestEndedLineHasNoDistance: after the end of the input there is no line that
// could be silent or bad, and the views say of when they are.
func TestEndedLineHasNoDistance(t *testing.T) {
	f := benchFrame()
	count := func() (n int) {
		for _, r := range still(f).ladder(f) {
			if r.Where == detect.Link {
				n++
			}
		}
		return n
	}
	require.Equal(t, 2, count())
	f.Status.Ended = true
	require.Zero(t, count())
	word, _ := pastWords(f)
	require.Equal(t, "AS AT THE END", word)
}

// TestWaitingReachSaysSo: what is judged in a steady hold alone says past its limit
// that it waits for one, in the list and in the banner.
func TestWaitingReachSaysSo(t *testing.T) {
	f := benchFrame()
	r := detect.Reach{Kind: detect.OutputImbalance, Where: detect.M3, Share: 1.08, Value: 0.27, Limit: 0.25, High: 0.5, Unit: "1", Waits: true}
	f.Snap.Reaches = []detect.Reach{r}
	for n, want := range []string{"0.27, hold still", "past its limit, hold still to be judged: m3 output-imbalance, 0.27 of 0.25", " hold still"} {
		s := newStrict(t, 80, 24)
		b := still(f)
		b.view = view(n)
		b.Draw(s)
		require.Contains(t, picture(s), want)
		s.Fini()
	}
	r.Share, r.Value = 0.9, 0.225
	require.False(t, waits(&r), "under its limit there is nothing to wait for")
}

// TestRowAndBannerAgree: where an alarm is high its row names that limit; and the row
// of a kind is of the place that rings, although another has passed it by a hair.
func TestRowAndBannerAgree(t *testing.T) {
	row := func(rs []detect.Reach, a alarms.AlarmView) string {
		f := benchFrame()
		f.Snap.Reaches, f.Snap.Alarms = rs, []alarms.AlarmView{a}
		s := newStrict(t, 80, 24)
		defer s.Fini()
		still(f).Draw(s)
		return picture(s)
	}
	lift := detect.Reach{Kind: detect.NearLift, Where: detect.Craft, Share: 1.59, Value: 1.11, Limit: 0.7, High: 0.9, Unit: "1"}
	up := alarms.AlarmView{Kind: detect.NearLift, Where: detect.Craft, Priority: detect.High, Active: true}
	require.Contains(t, row([]detect.Reach{lift}, up), "now 1.11 of 0.90")
	up.Priority = detect.Medium
	require.Contains(t, row([]detect.Reach{lift}, up), "now 1.11 of 0.70")
	sag := detect.Reach{Kind: detect.PackSag, Where: detect.Pack, Share: 1.4, Value: 3.31, Limit: 3.5, High: 3.3, Unit: "V"}
	require.Contains(t, row([]detect.Reach{sag}, alarms.AlarmView{Kind: detect.PackSag, Where: detect.Pack, Priority: detect.High, Active: true}), "3.31, least 3.30 V")

	m4 := detect.Reach{Kind: detect.OutputImbalance, Where: detect.M4, Share: 1.4, Value: 0.35, Limit: 0.25, High: 0.5, Unit: "1"}
	m3 := m4
	m3.Where, m3.Share, m3.Value = detect.M3, 1.36, 0.34
	text := row([]detect.Reach{m4, m3}, alarms.AlarmView{Kind: detect.OutputImbalance, Where: detect.M3, Priority: detect.Medium, Active: true})
	require.Contains(t, text, "!m3     output-imbalance")
	require.Contains(t, text, "now 0.34 of 0.25")
	require.NotContains(t, text, "m4     output-imbalance")
}
