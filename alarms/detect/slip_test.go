package detect

import (
	"fmt"
	"strings"
	"testing"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// lists makes two lists of settings; each row is name, old, new, and no stands
// for a setting that a list lacks.
func lists(names craft.Settings, rows ...any) []SettingChange {
	names = names.WithDefaults()
	var all []SettingChange
	for i := 0; i < len(rows); i += 3 {
		name, was, is := rows[i].(string), rows[i+1].(float64), rows[i+2].(float64)
		c := SettingChange{Name: name, Meaning: names.MeaningOf(name), HasOld: was == was, HasNew: is == is}
		if c.HasOld {
			c.Old = was
		}
		if c.HasNew {
			c.New = is
		}
		all = append(all, c)
	}
	PairSettings(all)
	return all
}

// The bounds of the ratios, the idle limits and the rules about gains are the
// owner's words for this alarm; the sums are done by hand.
var slipTable = []struct {
	name string
	rows []any
	want string // name:flags of each flagged setting
}{
	{"nothing changed", []any{"gyro_cut_hz", 60.0, 60.0, "notch", 0.0, 0.0}, ""},
	{"printed twice, rounded", []any{"rate_d_roll", 0.000012, 0.0000120000000001}, ""},
	{"just under tenfold", []any{"tone", 1.0, 7.99}, ""},
	{"tenfold, least", []any{"tone", 1.0, 8.0}, "tone:tenfold"},
	{"tenfold", []any{"tone", 0.08, 0.8}, "tone:tenfold"},
	{"tenfold, most", []any{"tone", 2.0, 25.0}, "tone:tenfold"},
	{"a tenth", []any{"tone", 25.0, 2.5}, "tone:tenfold"},
	{"an eighth", []any{"tone", 8.0, 1.0}, "tone:tenfold"},
	{"more than an eighth", []any{"tone", 7.9, 1.0}, ""},
	{"over tenfold", []any{"tone", 1.0, 12.6}, "tone:far"},
	{"under hundredfold", []any{"tone", 1.0, 79.0}, "tone:far"},
	{"hundredfold, least", []any{"tone", 1.0, 80.0}, "tone:percent"},
	{"a hundredth", []any{"tone", 5.0, 0.05}, "tone:percent"},
	{"hundredfold, most", []any{"tone", 1.0, 125.0}, "tone:percent"},
	{"thousandfold", []any{"tone", 1.0, 1000.0}, "tone:far"},
	{"tenfold and negative", []any{"trim", -1.0, -10.0}, "trim:tenfold"},
	{"sign", []any{"trim", -1.0, 1.1}, "trim:sign"},
	{"sign and tenfold", []any{"trim", 1.0, -10.0}, "trim:tenfold sign"},
	{"to zero", []any{"gain_a", 2.0, 0.0}, "gain_a:to-zero"},
	{"a gain of one to zero", []any{"gain_a", 1.0, 0.0}, "gain_a:to-zero"},
	{"from zero", []any{"trim", 0.0, 3.0}, "trim:from-zero"},
	{"a switch", []any{"notch", 0.0, 1.0, "other", 1.0, 0.0}, ""},
	{"only in one list", []any{"a", 1.0, no, "b", no, 10.0}, ""},

	{"dangerous idle, whatever it was", []any{"idle_ready", 0.3, 0.3}, "idle_ready:dangerous-idle"},
	{"dangerous idle, new", []any{"idle_ready", no, 0.21}, "idle_ready:dangerous-idle"},
	{"dangerous idle, tenfold", []any{"idle_ready", 0.08, 0.8}, "idle_ready:dangerous-idle tenfold"},
	{"idle at its limit", []any{"idle_ready", 0.15, 0.20}, ""},
	{"idle in percent", []any{"idle_ready", 0.08, 8.0}, "idle_ready:dangerous-idle percent"},
	{"a share in percent, new", []any{"bad_share", no, 5.0}, "bad_share:percent"},
	{"a share that always was in percent", []any{"bad_share", 5.0, 6.0}, ""},
	{"step at its limit", []any{"idle_ready", 0.05, 0.05, "idle_least", 0.06, 0.15}, ""},
	{"step over it, whatever it was", []any{"idle_ready", 0.05, 0.05, "idle_least", 0.151, 0.151}, "idle_least:idle-step"},

	{"from a number without a ratio", []any{"pitch_p", 0.5, 1e308}, "pitch_p:far"},
	{"to a number without a ratio", []any{"pitch_p", 1e30, 1e-300}, "pitch_p:far"},
	{"the other way without a ratio", []any{"pitch_p", 1e30, -1e-300}, "pitch_p:far sign"},

	{"I and P moved together", []any{"roll_p", 2.0, 3.0, "roll_i", 4.0, 6.0}, ""},
	{"I over P within its slack", []any{"roll_p", 1.0, 1.09, "roll_i", 4.0, 4.0}, ""},
	{"I over P beyond it", []any{"roll_p", 1.0, 1.11, "roll_i", 4.0, 4.0}, "roll_p:ratio"},
	{"both moved, but apart", []any{"pitch.rate.p", 1.0, 2.0, "pitch.rate.i", 1.5, 2.0}, "pitch.rate.p:ratio pitch.rate.i:ratio"},
	{"equal, and still", []any{"rate_p_roll", 3.0, 4.0, "rate_i_roll", 3.0, 4.0}, ""},
	{"equal no longer", []any{"rate_p_roll", 3.0, 3.05, "rate_i_roll", 3.0, 3.0}, "rate_p_roll:unequal"},
	{"equal no longer, both moved", []any{"rate_p_roll", 3.0, 4.0, "rate_i_roll", 3.0, 5.0}, "rate_p_roll:unequal rate_i_roll:unequal"},
	{"equal now", []any{"rate_p_roll", 3.0, 3.05, "rate_i_roll", 2.9, 3.05}, ""},
	{"yaw is not held to it", []any{"rate_p_yaw", 3.0, 4.0, "rate_i_yaw", 3.0, 3.0}, ""},
	{"another loop's I is none", []any{"rate_p_roll", 3.0, 4.0, "level_i_turn_roll", 3.0, 3.0}, ""},
	{"a slip explains the ratio", []any{"roll_p", 1.0, 10.0, "roll_i", 4.0, 4.0}, "roll_p:tenfold"},

	{"one up where the rest went down", []any{"roll_p", 4.0, 3.0, "roll_i", 8.0, 6.0, "yaw_d", 2.0, 2.5, "gain_a", 1.0, 1.0}, "yaw_d:alone"},
	{"one up, one down", []any{"yaw_p", 4.0, 3.0, "yaw_d", 2.0, 2.5}, ""},
	{"two up", []any{"roll_p", 4.0, 3.0, "roll_i", 8.0, 6.0, "yaw_d", 2.0, 2.5, "yaw_p", 1.0, 1.2}, ""},
	{"no gain is counted", []any{"roll_p", 4.0, 3.0, "roll_i", 8.0, 6.0, "d_cut_hz", 30.0, 40.0}, ""},
	{"all down", []any{"roll_p", 4.0, 2.0, "roll_i", 8.0, 4.0, "yaw_d", 2.0, 1.0}, ""},
}

// TestJudgeSettings goes through the table: each flag has words too.
func TestJudgeSettings(t *testing.T) {
	for _, tt := range slipTable {
		t.Run(tt.name, func(t *testing.T) {
			all := lists(craft.Settings{}, tt.rows...)
			var got []string
			var any Slip
			said := JudgeSettings(all, 0.10)
			for i := range all {
				if s := all[i].Slips; s != 0 {
					any |= s
					got = append(got, all[i].Name+":"+s.String())
					for _, f := range s.Each() {
						text, action := all[i].Tell(f, all)
						if !strings.Contains(text, all[i].Name) || action == "" || strings.Contains(text, "NaN") || strings.Contains(text, "Inf") {
							t.Errorf("%s: %q, %q", f, text, action)
						}
					}
				}
			}
			if s := strings.Join(got, " "); s != tt.want || said != any {
				t.Errorf("got %q (%s), want %q", s, said, tt.want)
			}
			if n := testing.AllocsPerRun(10, func() { JudgeSettings(all, 0.10) }); n != 0 {
				t.Errorf("%v allocations", n)
			}
		})
	}
}

// Names from any craft: what they are is said by pattern.
func TestJudgeSettingsByOwnNames(t *testing.T) {
	own := craft.Settings{Proportional: "stiff?", Integral: "hold?", Roll: "*1", Pitch: "*2", IdleReady: "tick*", IdleLeast: "lift_off"}
	all := lists(own, "stiff1", 3.0, 4.0, "hold1", 3.0, 3.0, "stiff2", 3.0, 4.0, "hold2", 3.0, 4.0, "ticking", 0.05, 0.25, "lift_off", 0.1, 0.3,
		"roll_p", 3.0, 4.0, "roll_i", 3.0, 3.0)
	JudgeSettings(all, 0.02)
	for i, want := range []Slip{SlipUnequal, 0, 0, 0, SlipIdle, SlipIdleStep, 0, 0} {
		if all[i].Slips != want {
			t.Errorf("%s: got %s, want %s", all[i].Name, all[i].Slips, want)
		}
	}
}

// tells feeds settings at a time, in seconds, and lives on for two.
func tells(tr *trial, at float64, rows ...any) {
	for i := 0; i < len(rows); i += 2 {
		tr.word = []byte(rows[i].(string))
		us := int64(at*1e6) + int64(i)*1000
		tr.tick(us)
		tr.feed(us, decode.Set, 1, []float64{rows[i+1].(float64)})
	}
	tr.tick(int64(at*1e6) + 2_000_000)
}

// slipTrial has heard the craft's settings, disarmed.
func slipTrial(t *testing.T) *trial {
	tr := newTrial(NewSettingsSlip(), heron)
	tr.feed(0, decode.State, 10, state(0, 0, 1, 0))
	tells(tr, 0, "idle_ready", 0.08, "roll_p", 3.0, "roll_i", 3.0, "pitch_p", 3.0, "pitch_i", 3.0, "roll_d", 0.2, "gyro_cut_hz", 60.0, "smooth", 5.0, "blank", no)
	tells(tr, 10, "roll_p", 3.0, "roll_i", 3.0, "gyro_cut_hz", 60.0)
	tr.silent(t)
	watchful(t, tr, true)
	return tr
}

func TestSettingsSlipOfChanges(t *testing.T) {
	for _, tt := range []struct {
		name  string
		rows  []any
		value float64 // new over old; 0: silent
		says  string
	}{
		{"a filter moved", []any{"gyro_cut_hz", 80.0}, 0, ""},
		{"just under tenfold", []any{"gyro_cut_hz", 479.0}, 0, ""},
		{"tenfold", []any{"gyro_cut_hz", 600.0}, 10, "gyro_cut_hz went from 60 to 600"},
		{"a tenth", []any{"gyro_cut_hz", 6.0}, 0.1, "decimal point"},
		{"percent", []any{"smooth", 0.05}, 0.01, "percent"},
		{"far", []any{"smooth", 150.0}, 30, "smooth"},
		{"sign of a gain", []any{"roll_d", -0.2}, -1, "sign"},
		{"I forgotten", []any{"roll_p", 3.6}, 1.2, "equal to roll_i"},
		{"I and P together", []any{"roll_p", 3.6, "roll_i", 3.6}, 0, ""},
		{"one up, the rest down", []any{"roll_p", 2.0, "roll_i", 2.0, "pitch_p", 2.0, "pitch_i", 2.0, "roll_d", 0.3}, 1.5, "roll_d went"},
		{"all down", []any{"roll_p", 2.0, "roll_i", 2.0, "pitch_p", 2.0, "pitch_i", 2.0, "roll_d", 0.1}, 0, ""},
		{"a gain taken out for a test", []any{"roll_d", 0.0}, 0, ""},
		{"a name not heard before", []any{"fresh", 80.0}, 0, ""},
		{"measured for the first time", []any{"blank", 80.0}, 0, ""},
		{"not measured", []any{"roll_p", no}, 0, ""},
		{"idle tenfold, yet not dangerous", []any{"idle_ready", 0.008}, 0.1, "idle_ready went"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			tr := slipTrial(t)
			tells(tr, 20, tt.rows...)
			if tt.value == 0 {
				tr.silent(t)
				return
			}
			late := 20.0 + float64(len(tt.rows)-2)/1000
			c := tr.one(t, Craft, Low, late+1, late+1.011)
			near(t, "value", tt.value, c.value, 1e-9)
			if !strings.Contains(c.story.Text, tt.says) || c.story.Cause == "" || !strings.HasPrefix(c.story.Action, "before you go on: ") {
				t.Errorf("story %+v", c.story)
			}
			// Said again every ten seconds it is the same one.
			tells(tr, 30, tt.rows...)
			if len(tr.said) != 1 {
				t.Errorf("said:%s", tr.list())
			}
		})
	}
}

// A slip is put right, or flown with: then it is over.
func TestSettingsSlipEnds(t *testing.T) {
	tr := slipTrial(t)
	tells(tr, 20, "gyro_cut_hz", 600.0)
	tells(tr, 30, "gyro_cut_hz", 61.0)
	if len(tr.up) > 0 || len(tr.said) != 2 {
		t.Errorf("a corrected setting must clear it:%s", tr.list())
	}
	tells(tr, 50, "gyro_cut_hz", 480.0) // under eight times 61
	if len(tr.up) > 0 {
		t.Errorf("the corrected value is what it is compared with:%s", tr.list())
	}

	tr = slipTrial(t)
	tells(tr, 20, "gyro_cut_hz", 600.0)
	tr.d.Reset()
	tells(tr, 30, "gyro_cut_hz", 600.0)
	tr.feed(33_000_000, decode.State, 10, state(1, 0, 1, 0))
	tr.tick(34_000_000)
	if tr.up[Craft] == nil || len(tr.said) != 1 {
		t.Errorf("a restart and arming take nothing back:%s", tr.list())
	}
	tr.feed(35_000_000, decode.State, 10, state(no, 0, 1, 0))
	tr.tick(36_000_000)
	if tr.up[Craft] == nil {
		t.Error("armed not known is not disarmed")
	}
	tr.feed(37_000_000, decode.State, 10, state(0, 0, 1, 0))
	tr.tick(38_000_000)
	if len(tr.up) > 0 {
		t.Errorf("the craft has run with it:%s", tr.list())
	}
	tells(tr, 40, "gyro_cut_hz", 60.0)
	if len(tr.raised()) != 2 {
		t.Errorf("back again is a change of its own:%s", tr.list())
	}
}

// An idle that was dangerous from the first word on is put right: no slip.
func TestSettingsSlipOfAnIdlePutRight(t *testing.T) {
	tr := newTrial(NewSettingsSlip(), heron)
	tr.feed(0, decode.State, 10, state(0, 0, 1, 0))
	tells(tr, 1, "idle_ready", 0.8)
	tells(tr, 10, "idle_ready", 0.08)
	if len(tr.up) > 0 || len(tr.said) != 2 {
		t.Errorf("said:%s", tr.list())
	}
	tells(tr, 30, "idle_ready", 0.008)
	if len(tr.raised()) != 2 || tr.up[Craft].level != Low {
		t.Errorf("said:%s", tr.list())
	}
}

// Changed while the link restarts: compared all the same.
func TestSettingsSlipOverARestart(t *testing.T) {
	tr := slipTrial(t)
	tr.d.Reset()
	tells(tr, 20, "gyro_cut_hz", 600.0)
	tr.one(t, Craft, Low, 21, 21.011)
}

// What comes line by line is compared when it is quiet: I that follows P by
// half a second, twice.
func TestSettingsSlipWaitsForQuiet(t *testing.T) {
	tr := slipTrial(t)
	for i, name := range []string{"roll_p", "pitch_p", "roll_i", "pitch_i"} {
		tr.word = []byte(name)
		tr.tick(20_000_000 + int64(i)*900_000)
		tr.feed(20_000_000+int64(i)*900_000, decode.Set, 1, []float64{4})
	}
	tr.tick(26_000_000)
	tr.silent(t)
}

// A line that is lost comes again with the next round of all settings, and still
// belongs to the change.
func TestSettingsSlipOfALostLine(t *testing.T) {
	tr := slipTrial(t)
	tells(tr, 20, "roll_p", 2.0, "roll_i", 2.0, "pitch_p", 2.0, "pitch_i", 2.0)
	tells(tr, 30, "roll_d", 0.3)
	tr.one(t, Craft, Low, 31, 31.011)
	tr = slipTrial(t)
	tells(tr, 20, "roll_p", 2.0, "roll_i", 2.0, "pitch_p", 2.0, "pitch_i", 2.0)
	tells(tr, 33, "roll_d", 0.3)
	tr.silent(t)
}

// A dangerous idle is told as it always was, and before other slips, which are
// named beside it and told when it is gone.
func TestSettingsSlipDangerousIdleFirst(t *testing.T) {
	tr := slipTrial(t)
	tells(tr, 20, "gyro_cut_hz", 600.0, "idle_ready", 0.8)
	r := tr.raised()
	if len(r) != 1 || r[0].level != Medium || r[0].at > 20.02 || r[0].value != 0.8 || r[0].limit != 0.20 {
		t.Fatalf("said:%s", tr.list())
	}
	tr.feed(23_000_000, decode.State, 10, state(1, 0, 1, 0))
	tr.tick(24_000_000)
	last := tr.said[len(tr.said)-1]
	if last.level != High || last.story.Action != "press stop; keep clear" {
		t.Errorf("said:%s", tr.list())
	}
	if also := last.story.More[len(last.story.More)-1]; also != (Fact{"also", "gyro_cut_hz tenfold"}) {
		t.Errorf("got %v", also)
	}
	tells(tr, 25, "idle_ready", 0.08)
	if up := tr.up[Craft]; up == nil {
		t.Errorf("the other slip must stand:%s", tr.list())
	}
}

// Two slips: the one that moved further is told, the other named; a third is
// told anew.
func TestSettingsSlipSeveral(t *testing.T) {
	tr := slipTrial(t)
	tells(tr, 20, "gyro_cut_hz", 600.0, "smooth", 500.0)
	c := tr.one(t, Craft, Low, 21, 21.02)
	near(t, "value", 100, c.value, 1e-9)
	if got := c.story.More[len(c.story.More)-1]; got != (Fact{"also", "gyro_cut_hz tenfold"}) {
		t.Errorf("got %v", got)
	}
	f := tr.d.Judge(&tr.b, nil)
	tells(tr, 30, "roll_d", -0.2)
	if g := tr.d.Judge(&tr.b, nil); g[0].Case == f[0].Case || g[0].Case == 0 || g[0].Case == noteCase {
		t.Errorf("another slip is another case: %+v, then %+v", f, g)
	}
}

// Memory is bounded, and what is left out is said.
func TestSettingsSlipSurplus(t *testing.T) {
	tr := newTrial(NewSettingsSlip(), heron)
	tr.b.IdleReady = Reading{V: 0.08, OK: true}
	at := 0.0
	for round := range 2 {
		for i := range maxWatched + 40 {
			tr.word = fmt.Appendf(nil, "setting-%d", i)
			tr.feed(int64(at*1e6), decode.Set, 1, []float64{float64(1 + 9*round)})
			at += 0.001
		}
		if d := tr.d.(*settingsSlip); len(d.watch.all) != maxWatched || len(d.watch.index) != maxWatched {
			t.Fatalf("%d settings", len(d.watch.all))
		}
	}
	tr.tick(3_000_000)
	c := tr.one(t, Craft, Low, 1, 2)
	if also := c.story.More[len(c.story.More)-1].Value.(string); len(also) > 200 || !strings.Contains(also, "more") {
		t.Errorf("got %q", also)
	}
	if m := tr.d.Missing(&tr.b); m != "over 256 settings: the rest is not compared" {
		t.Errorf("got %q", m)
	}
	tr.word = []byte("idle_ready")
	tr.feed(4_000_000, decode.Set, 1, []float64{0.8})
	tr.tick(4_100_000)
	if tr.said[len(tr.said)-1].level != Medium {
		t.Errorf("the armed idle is watched all the same:%s", tr.list())
	}
}

func TestSettingsSlipAllocatesNothing(t *testing.T) {
	d := NewSettingsSlip()
	tr := newTrial(d, heron)
	names := [][]byte{[]byte("roll_p"), []byte("roll_i"), []byte("gyro_cut_hz"), []byte("idle_ready")}
	at, k, found := int64(0), 0, make([]Finding, 0, 16)
	s := decode.Sample{Tag: decode.Set}
	in := Input{S: &s}
	step := func() {
		for range 60 { // over a second: comparisons too
			at, k = at+50_000, k+1
			tr.b.Now, in.At = at, at
			s.Word = names[k%len(names)]
			s.Put(decode.SetValue, 0.01*float64(1+k/100%2*9))
			d.Observe(&tr.b, &in)
			found = d.Judge(&tr.b, found[:0])
		}
	}
	step()
	if n := testing.AllocsPerRun(50, step); n != 0 {
		t.Errorf("%v allocations", n)
	}
}

// What craft file and bridge disagree on comes into the journal as a note,
// once, and never before what is weightier.
func TestSettingsSlipNotesDisagreement(t *testing.T) {
	tr := slipTrial(t)
	tr.b.Disagree, tr.b.DisagreeSeq = []Disagreement{{"14 magnet poles", "12", 12.0 / 14}, {"name Heron", "Rail", 0}}, 1
	tr.tick(20_000_000)
	c := tr.one(t, Craft, Note, 12.9, 13.1)
	if want := "craft file says 14 magnet poles, the bridge 12: the file is used; craft file says name Heron, the bridge Rail: the file is used"; c.story.Text != want {
		t.Errorf("got %q", c.story.Text)
	}
	if len(tr.up) > 0 || len(tr.said) != 2 {
		t.Errorf("a note passes:%s", tr.list())
	}
	tr.b.Disagree, tr.b.DisagreeSeq = nil, 2
	tr.tick(30_000_000)
	if len(tr.said) != 2 {
		t.Errorf("agreement needs no note:%s", tr.list())
	}
	tells(tr, 31, "gyro_cut_hz", 600.0)
	tr.b.Disagree, tr.b.DisagreeSeq = []Disagreement{{"4 cells", "6", 1.5}}, 3
	tells(tr, 35, "gyro_cut_hz", 60.0)
	tr.tick(45_000_000)
	r := tr.raised()
	if len(r) != 3 || r[1].level != Low || r[2].level != Note || r[2].value != 1.5 {
		t.Errorf("said:%s", tr.list())
	}
}
