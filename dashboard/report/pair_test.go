package report

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/account"
	"tetherbell/alarms/compare"
	"tetherbell/decode/craft"
)

// pair is a comparison in which every part has something to say, and every word
// is said once at least.
func pair(lengthS float64) *Comparison {
	before, after := rich(lengthS), rich(0.8*lengthS)
	after.Session.File = "20261126T091200Z.bell"
	after.Session.Start = "2026-11-26T09:12:00Z"
	r := &compare.Result{
		Verdict: compare.Mixed, Sentence: "b.bell against a.bell, better: shaking in roll is 0.40 times as much (0.25 to 0.64); worse: lift for the power is 0.70 times as much (0.60 to 0.82)",
		Remarks: []string{"these are not the same craft: mass 655 g and 700 g", "b.bell rang at medium priority, a.bell at low"},
		A:       compare.Side{Name: "a.bell", Craft: "Marsh Heron", LengthS: lengthS, SteadyS: 0.4 * lengthS},
		B:       compare.Side{Name: "b.bell", Craft: "Marsh Heron", LengthS: 0.8 * lengthS, SteadyS: 0.3 * lengthS},
		Stages: []compare.Stage{
			{Name: "armed idle, output 0.08", Idle: true, LevelA: at(0.08), LevelB: at(0.081), SecondsA: 0.04 * lengthS, SecondsB: 0.03 * lengthS, Compared: true,
				HeldA: []compare.Span{{From: 0.1 * lengthS, To: 0.14 * lengthS}}, HeldB: []compare.Span{{From: 0.1 * lengthS, To: 0.13 * lengthS}}},
			{Name: "throttle 0.25", LevelA: at(0.25), LevelB: at(0.252), SecondsA: 0.3 * lengthS, SecondsB: 0.2 * lengthS, Compared: true,
				HeldA: []compare.Span{{From: 0.2 * lengthS, To: 0.4 * lengthS}, {From: 0.6 * lengthS, To: 0.7 * lengthS}}, HeldB: []compare.Span{{From: 0.2 * lengthS, To: 0.4 * lengthS}}},
			{Name: "throttle 0.27", LevelA: at(0.27), LevelB: at(0.27), SecondsA: 0.02 * lengthS, SecondsB: 0.02 * lengthS, Compared: true,
				HeldA: []compare.Span{{From: 0.4 * lengthS, To: 0.42 * lengthS}}, HeldB: []compare.Span{{From: 0.4 * lengthS, To: 0.42 * lengthS}}},
			{Name: "throttle 0.50", LevelB: at(0.5), SecondsB: 3, WhyNot: "b.bell held throttle 0.50 for 3 s, a.bell never did"},
		},
		Settings: []compare.Setting{{Name: "rate.roll.p", Before: at(0.12), After: at(0.06), Ratio: at(0.5), Changed: "changed during a.bell"}, {Name: "idle_ready", After: at(0.08)}},
		Craft:    []compare.Difference{{What: "mass", Before: "655 g", After: "700 g"}},
		Alarms:   []compare.Alarm{{Name: "rising-oscillation", Before: 2, WorstBefore: "high", WorstAfter: "none"}, {Name: "pack-sag", After: 1, WorstBefore: "none", WorstAfter: "medium"}},
		Missing:  []compare.Lack{{Measure: "vibration", Name: "vibration", Why: "a.bell has no accel to tell it"}},
		Method:   "Blocks of half a second",
	}
	for _, m := range []struct {
		key, name, by, unit string
		before, after       float64
		low, high, matters  float64
		word                compare.Word
		counts              bool
	}{
		{"control", "oscillation in controller output", "ratio", "1", 0.01, 0.0095, 0.7, 1.3, 1.1, compare.CannotTell, true},
		{"rate_roll", "shaking in roll", "ratio", "deg/s", 2, 0.8, 0.25, 0.64, 1.1, compare.Better, true},
		{"rate_yaw", "shaking in yaw", "ratio", "deg/s", 2, 2.02, 0.95, 1.06, 1.1, compare.Same, true},
		{"rate", "shaking of the craft", "ratio", "deg/s", 1, 1.4, 1e-6, 1e6, 1.1, compare.Mixed, true},
		{"balance", "outputs apart", "difference", "1", 0.02, 0.09, 0.04, 0.1, 0.03, compare.Worse, true},
		{"heat", "warming of the hottest motor", "difference", "degC/s", 0.2, 0.21, -0.4, 0.42, 0.1, compare.CannotTell, true},
		{"efficiency", "lift for the power", "ratio", "N/W", 0.1, 0.07, 0.6, 0.82, 1.1, compare.Worse, true},
		{"current", "current", "ratio", "A", 10, 14, 1.3, 1.5, 1.1, compare.More, false},
		{"cell_volts", "volts a cell under load", "ratio", "V", 3.9, 3.7, 0.94, 0.96, 1.02, compare.Less, false},
	} {
		r.Measures = append(r.Measures, compare.Finding{Measure: m.key, Name: m.name, Verdict: m.word, Counts: m.counts})
		row := compare.Row{Measure: m.key, Name: m.name, Unit: m.unit, Before: m.before, After: m.after, Ratio: at(m.after / m.before), By: m.by,
			Low: m.low, High: m.high, Confidence: 0.9967, Matters: m.matters, P: 0.001, BlocksA: 16, BlocksB: 12, Verdict: m.word}
		if m.word == compare.Mixed {
			row.Verdict = compare.CannotTell
		}
		for _, s := range r.Stages[:3] {
			row.Stage = s.Name
			r.Rows = append(r.Rows, row)
		}
		row.Stage, row.Overall = "all stages", true
		r.Rows = append(r.Rows, row)
	}
	return &Comparison{Result: r, Before: before, After: after, Cautions: reportOf(before).Cautions, Tool: "tetherbell 0.1.0"}
}

// nothing compares two sessions in which nothing was measured.
func nothing() *Comparison {
	a, b := compare.NewCollector(craft.Craft{}).Run(), compare.NewCollector(craft.Craft{}).Run()
	return &Comparison{Result: compare.Between(a, b), Before: bare(), After: bare(), Tool: "tetherbell 0.1.0"}
}

// hostilePair has marks of HTML, SVG and Markdown wherever a text stands.
func hostilePair() *Comparison {
	const evil = "<script>alert(1)</script>\"'><svg onload=x>|`*_\n\u202e&amp;"
	c := pair(20)
	c.Before, c.After = hostile(), hostile()
	r := c.Result
	r.Sentence, r.Method, r.A.Name, r.B.Name = evil, evil, evil, evil
	r.Remarks = []string{evil, evil}
	r.Settings[0].Name, r.Settings[0].Changed = evil, evil
	r.Craft[0] = compare.Difference{What: evil, Before: evil, After: evil}
	r.Alarms[0].Name, r.Alarms[1].WorstAfter = evil, evil
	r.Missing[0] = compare.Lack{Name: evil, Why: evil}
	r.Stages[3].Name, r.Stages[3].WhyNot = evil, evil
	r.Stages[1].Name = evil
	r.Measures[0].Name, r.Measures[1].Verdict = evil, evil
	for i := range r.Rows {
		if r.Rows[i].Measure == "heat" {
			r.Rows[i].Unit, r.Rows[i].Low, r.Rows[i].High = evil, math.Inf(-1), math.NaN()
		}
		if r.Rows[i].Measure == "current" {
			r.Rows[i].Verdict = evil
		}
	}
	return c
}

func TestHostilePairIsHarmless(t *testing.T) {
	page := rendered(t, hostilePair(), HTML)
	v := readPage(t, page)
	assert.Equal(t, readPage(t, rendered(t, pair(20), HTML)).tags["svg"], v.tags["svg"], "no element comes from a text")
	assert.Greater(t, strings.Count(v.text, "<script>alert(1)</script>"), 20, "the text itself is told")
	assert.NotContains(t, page, "\u202e")
	assert.NotRegexp(t, `(^|[^\\])<(script|svg)`, rendered(t, hostilePair(), Markdown))
}

// What the comparison says stands in all three forms, and each is known again
// as ours.
func TestFormsOfAPairAgree(t *testing.T) {
	c := pair(20)
	text := readPage(t, rendered(t, c, HTML)).text
	md := rendered(t, c, Markdown)
	js := rendered(t, c, JSON)
	for _, w := range []string{c.Result.Sentence[1:], c.Result.Remarks[1], "rate.roll.p", "a.bell never did", "has no accel to tell it",
		"Blocks of half a second", c.Before.Verdict.Fix[1:], "changed during a.bell", "700 g", "20261126T091200Z.bell"} {
		assert.Contains(t, text, w)
		assert.Contains(t, md, plainText(w))
		assert.Contains(t, js, w)
	}
	for _, w := range []string{"± better in some, worse in others", "✓ better", "✗ worse", "? cannot tell", "= no difference that matters", "↑ more", "↓ less"} {
		assert.Contains(t, text, w)
		assert.Contains(t, md, plainText(w))
	}
	for _, form := range []string{md, js} {
		assert.True(t, Ours([]byte(form[:Head])))
	}
	var got struct {
		Comparison compare.Result
		Before     account.Account
		After      account.Account
	}
	require.NoError(t, json.Unmarshal([]byte(js), &got))
	assert.Equal(t, c.Result.Measures, got.Comparison.Measures)
	assert.Equal(t, c.Before, &got.Before)
	assert.Equal(t, c.After, &got.After)
}

func TestNothingComparedIsSaid(t *testing.T) {
	v := readPage(t, rendered(t, nothing(), HTML))
	assert.Zero(t, v.tags["svg"], "no empty chart")
	for _, want := range []string{"? cannot tell", "Nothing came in A", "Record both sessions", "Nothing could be compared", "reported no settings in either",
		"No alarm rang", "was never armed", "No throttle was held in both"} {
		assert.Contains(t, v.text, want)
	}
}

// What a person is told to do goes with the verdict.
func TestNext(t *testing.T) {
	for name, c := range map[string]struct {
		change func(r *compare.Result, after *account.Account)
		want   []string
		not    string
	}{
		"better": {func(r *compare.Result, _ *account.Account) { r.Verdict = compare.Better }, []string{"Keep the change", "2 settings differ"}, "Undo"},
		"worse":  {func(r *compare.Result, _ *account.Account) { r.Verdict = compare.Worse }, []string{"set rate.roll.p to 0.12 again"}, "Keep"},
		"much worse": {func(r *compare.Result, _ *account.Account) {
			r.Verdict = compare.Worse
			for range 4 {
				r.Settings = append(r.Settings, r.Settings[0])
			}
		}, []string{"set all 5 settings back"}, "rate.roll.p"},
		"cannot tell": {func(r *compare.Result, _ *account.Account) { r.Verdict = compare.CannotTell }, []string{"twenty seconds each"}, "settings differ"},
		"held long": {func(r *compare.Result, _ *account.Account) {
			r.Verdict = compare.CannotTell
			for i := range r.Stages {
				r.Stages[i].SecondsA, r.Stages[i].SecondsB = 50, 60
			}
		}, []string{"held long enough", "A larger change"}, "longer"},
		"no stage":     {func(r *compare.Result, _ *account.Account) { r.Verdict, r.Stages = compare.CannotTell, nil }, []string{"Hold the same throttles in both"}, "longer"},
		"never steady": {func(r *compare.Result, _ *account.Account) { r.Verdict, r.B.SteadyS = compare.CannotTell, 0 }, []string{"Record both sessions"}, "longer"},
		"all the same": {func(r *compare.Result, _ *account.Account) {
			r.Verdict, r.Measures = compare.CannotTell, r.Measures[2:3]
		}, []string{"no difference that matters"}, "Hold"},
		"an alarm":        {func(*compare.Result, *account.Account) {}, []string{"First what the alarms of b.bell ask for: lower the gains"}, "Keep"},
		"no alarm":        {func(_ *compare.Result, a *account.Account) { a.Verdict = account.Verdict{Worst: "none"} }, []string{"what is worse"}, "First what"},
		"different craft": {func(*compare.Result, *account.Account) {}, []string{"two sessions of one craft"}, "Keep"},
		"louder after": {func(r *compare.Result, _ *account.Account) {
			r.Louder = &compare.Louder{Session: "b.bell", After: true, Alarms: []string{"windup"}, Priority: "high", Other: "none"}
		}, []string{"First what the alarms of b.bell ask for: lower the gains", "Do not take b.bell as a step forward", "(windup)"}, "worth it"},
		"louder after, no fix known": {func(r *compare.Result, a *account.Account) {
			r.Louder = &compare.Louder{Session: "b.bell", After: true, Alarms: []string{"windup"}, Priority: "high", Other: "none"}
			a.Verdict.Fix = ""
		}, []string{"First see to the alarms of b.bell: windup"}, "Keep"},
		"louder before": {func(r *compare.Result, _ *account.Account) {
			r.Louder = &compare.Louder{Session: "a.bell", Alarms: []string{"windup"}, Priority: "high", Other: "none"}
		}, []string{"Do not go back to what a.bell ran with (windup rang), unless you first do what its alarms ask for: lower the gains", "mend that from there"}, "undo"},
		"louder, and the same": {func(r *compare.Result, _ *account.Account) {
			r.Louder = &compare.Louder{Session: "a.bell", Alarms: []string{"windup"}, Priority: "high", Other: "none"}
			r.Verdict, r.Measures = compare.CannotTell, r.Measures[2:3]
		}, []string{"Do not go back", "the alarms are what differs"}, "either"},
		"better and quieter": {func(r *compare.Result, _ *account.Account) {
			r.Louder = &compare.Louder{Session: "a.bell", Alarms: []string{"windup"}, Priority: "high", Other: "none"}
			r.Verdict = compare.Better
		}, []string{"Keep the change"}, "Do not"},
		"the same recording": {func(r *compare.Result, _ *account.Account) { r.SameRecording = true }, []string{"Name two recordings"}, "First"},
		"one craft":          {func(r *compare.Result, _ *account.Account) { r.Craft = nil }, nil, "two sessions of one craft"},
	} {
		t.Run(name, func(t *testing.T) {
			p := pair(20)
			c.change(p.Result, p.After)
			got := strings.Join(p.next(), " ")
			for _, w := range c.want {
				assert.Contains(t, got, w)
			}
			assert.NotContains(t, got, c.not)
		})
	}
	v := pair(20).verdict()
	assert.Equal(t, "Warning", v.Lines[0].Name, "that it is another craft comes first")
	assert.Contains(t, v.Lines[0].Text, "not the same craft")
	p := pair(20)
	p.Result.Backwards = true
	v = p.verdict()
	assert.Equal(t, "Warning", v.Lines[0].Name)
	assert.Contains(t, v.Lines[0].Text, "are they in the right order?")
	assert.Contains(t, v.Lines[1].Text, "not the same craft")
}

// Halved and doubled lie as far from the line of no change, what goes beyond the
// scale has an arrow, and a hair's breadth does not fill the picture.
func TestForestScale(t *testing.T) {
	of := func(low, ratio, high float64) told {
		return told{&compare.Finding{}, &compare.Row{By: "ratio", Low: low, High: high, Ratio: &ratio}}
	}
	x := forestScale([]told{of(0.4, 0.5, 0.6), of(1, 1, 1)})
	mid := x.at(1)
	assert.InDelta(t, mid-x.at(0.5), x.at(2)-mid, 1e-9)
	assert.InDelta(t, (forestLeft+forestRight)/2, mid, 1e-9)
	assert.Greater(t, x.at(0.4), forestLeft)
	x = forestScale([]told{of(0.999, 1, 1.001)})
	assert.InDelta(t, forestLeast, x.hi, 0.05)
	x = forestScale([]told{of(1e-6, 1, 1e6)})
	assert.InDelta(t, forestMost, x.hi, 1e-9)
	assert.Nil(t, intervalChart(nil))
	body := intervalChart([]told{of(1e-6, 1, 2)}).Picture.Body
	assert.Equal(t, 1, strings.Count(body, `<path class="whisker"`), "one end goes on")
}

func TestChangeTexts(t *testing.T) {
	for _, c := range []struct {
		row              compare.Row
		change, interval string
	}{
		{compare.Row{By: "ratio", Unit: "1", Ratio: at(0.5), Low: 0.4, High: 0.625}, "× 0.500", "× 0.400 to 0.625"},
		{compare.Row{By: "ratio", Unit: "1", Ratio: at(12.4), Low: 0.034, High: 140}, "× 12.4", "× 0.0340 to 140"},
		{compare.Row{By: "ratio", Unit: "1", Ratio: at(2), Low: 1e-6, High: 1e6}, "× 2.00", "anything"},
		{compare.Row{By: "difference", Unit: "degC/s", Before: 0.2, After: 0.31, Low: -0.1, High: 0.32}, "+0.11 °C/s", "−0.10 to +0.32 °C/s"},
		{compare.Row{By: "difference", Unit: "1", Before: 0.2, After: 0.2, Low: -0.1, High: 0.1}, "0", "−0.10 to +0.10"},
	} {
		change, interval := changeTexts(&c.row)
		assert.Equal(t, c.change, change)
		assert.Equal(t, c.interval, interval)
	}
	assert.Equal(t, "99.7 %", sureText(0.9967))
	assert.Equal(t, "over 99.9 %", sureText(0.99985))
}

// Each lane begins with its own arming, so that what is alike stands below each
// other.
func TestLanesBeginWithArming(t *testing.T) {
	c := pair(20)
	lanes := c.lanes()
	assert.Equal(t, 1.6, lanes[0].from)
	assert.InDelta(t, 1.28, lanes[1].from, 1e-9)
	pts := shifted([]point{{0, 1, 1, 1}, {1, 2, 2, 2}, {2, 3, 3, 3}}, 1.5)
	assert.Equal(t, []point{{0, 0.5, 2, 2}, {0.5, 1.5, 3, 3}}, pts)
	rows := heldTable(lanes, stagesCompared(c.Result)).Rows
	assert.Equal(t, []string{"throttle 0.25", "2.4 to 6.4, 10.4 to 12.4", "2.7 to 6.7"}, rows[1].Cells)
	body := alignedChart(lanes, stagesCompared(c.Result)).Picture.Body
	assert.Equal(t, 3, strings.Count(body, ">0.25<"), "over every hold that is wide enough")
	assert.Equal(t, 2, strings.Count(body, ">idle<"), "and once at least in each")
	assert.Equal(t, 7, strings.Count(body, `class="stage"`))
}

// Lists of numbers stand in a line each, and mean what they meant.
func TestJSONKeepsListsTogether(t *testing.T) {
	for in, want := range map[string]string{
		`{"a":[1,null,-2.5e-7],"b":[]}`:      "{\n \"a\": [1,null,-2.5e-7],\n \"b\": []\n}\n",
		`{"a":["[",1],"b":[{"c":[1]}]}`:      "{\n \"a\": [\n  \"[\",\n  1\n ],\n \"b\": [\n  {\n   \"c\": [1]\n  }\n ]\n}\n",
		`{"a":"x [","b":[[1,2],[3]],"c":[]}`: "{\n \"a\": \"x [\",\n \"b\": [\n  [1,2],\n  [3]\n ],\n \"c\": []\n}\n",
		`[null]`:                             "[null]\n",
	} {
		var b strings.Builder
		require.NoError(t, writeJSON(&b, json.RawMessage(in)))
		assert.Equal(t, want, b.String())
		assert.JSONEq(t, in, b.String())
	}
	js := rendered(t, reportOf(rich(20)), JSON)
	var got account.Account
	require.NoError(t, json.Unmarshal([]byte(js), &got))
	assert.Equal(t, rich(20), &got)
	assert.Less(t, strings.Count(js, "\n"), 1500)
}

// The table tells the verdict of the figures in it; what one throttle alone
// shows is said to be of that.
func TestWordOfAMeasure(t *testing.T) {
	for _, c := range []struct {
		finding, row compare.Word
		want         string
	}{
		{compare.Better, compare.Better, "✓ better"},
		{compare.Better, compare.CannotTell, "✓ better at single throttles"},
		{compare.Mixed, compare.Worse, "± better in some, worse in others at single throttles"},
		{compare.CannotTell, compare.Same, "= no difference that matters"},
		{compare.CannotTell, compare.CannotTell, "? cannot tell"},
		{compare.Less, compare.Less, "↓ less"},
	} {
		m := told{&compare.Finding{Verdict: c.finding}, &compare.Row{Verdict: c.row}}
		assert.Equal(t, c.want, m.word())
	}
}

// TestHeldInBothSaysWhatItIsWorth: what counts among all throttles is not called long
// enough where a verdict of its own would take longer.
func TestHeldInBothSaysWhatItIsWorth(t *testing.T) {
	stage := func(name string, a, b float64) compare.Stage {
		return compare.Stage{Name: name, Compared: true, SecondsA: a, SecondsB: b}
	}
	one, two, long := stage("throttle 0.31", 4, 4), stage("throttle 0.35", 9, 2.5), stage("throttle 0.40", 9, 9)
	for want, stages := range map[string][]compare.Stage{
		"2 throttles were held in both for 2 s or more: throttle 0.31; throttle 0.35. The figures are over all of them together; none was held in both for the 5 s that a verdict of its own takes.":     {one, two},
		"2 throttles were held in both for 2 s or more: throttle 0.35; throttle 0.40. The figures are over all of them together; under 5 s, as at throttle 0.35, is too short for a verdict of its own.": {two, long},
		"2 throttles were held in both for 2 s or more: throttle 0.40; throttle 0.40. The figures are over all of them together.":                                                                        {long, long},
		"One throttle was held in both for 2 s or more: throttle 0.40.": {long},
	} {
		assert.Equal(t, want, heldInBoth(&compare.Result{Stages: stages}))
	}
}
