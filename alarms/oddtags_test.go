package alarms

import (
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/decode"
)

// TestMisnamedStream writes each tag wrongly in turn: what cannot do without it is
// not watched for that one reason, and for no other that its lack has as well.
func TestMisnamedStream(t *testing.T) {
	sound := newFullBench()
	sound.run(8)
	for tag, wrong := range map[decode.Tag]string{
		decode.Axes: "axis", decode.Out: "outs", decode.ERPM: "rpm", decode.Accel: "acel", decode.Load: "lod",
		decode.Temp: "tmp", decode.Pack: "pak", decode.Air: "aer", decode.State: "stat",
	} {
		t.Run(wrong, func(t *testing.T) {
			without, f := newFullBench(), newFullBench()
			without.cut[tag] = true
			f.wrong = map[decode.Tag]string{tag: wrong}
			without.run(8)
			f.run(8)
			want := without.why()
			got := f.why()
			assert.ElementsMatch(t, slices.Collect(maps.Keys(want)), slices.Collect(maps.Keys(got)), "as with none of its lines")
			reason, told := "no "+tag.String()+" lines, but "+wrong+": is "+tag.String()+" meant?", 0
			for name, why := range got {
				if sound.why()[name] == "" && (tag != decode.State || !strings.Contains(want[name], "idle")) {
					told++
					assert.Equal(t, reason, why, "%s, which without them says: %s", name, want[name])
				}
			}
			assert.True(t, told > 0 || tag == decode.Accel, "axes stand in for it alone")
			var s Snapshot
			f.e.Snapshot(&s)
			require.Len(t, s.Odd, 1)
			rate := sound.e.bench.Streams[tag].Rate()
			assert.InDelta(t, rate, s.Odd[0].Stream.Rate(), rate/100)
			o, ok := s.Misnamed(tag)
			assert.True(t, ok)
			assert.Equal(t, wrong, o.Name)

			f.wrong = nil
			f.run(4)
			f.e.Snapshot(&s)
			_, ok = s.Misnamed(tag)
			assert.False(t, ok, "it comes now")
			for name, why := range f.why() {
				assert.NotContains(t, why, "meant?", name)
			}
		})
	}
}

// TestOddTagsAreBounded: a bridge of a thousand tags fills nothing, and what was set
// aside for another bridge is none of them.
func TestOddTagsAreBounded(t *testing.T) {
	f := newFullBench()
	f.wrong = map[decode.Tag]string{}
	for i := range 1000 {
		f.wrong[decode.Air] = "q" + string(rune('a'+i%26)) + string(rune('a'+i/26%26))
		f.send(decode.Air, 1)
		f.us += 1000
	}
	f.e.Sample(&decode.Sample{Aside: decode.Axes, Seq: f.s.Seq + 1, Time: uint32(f.us)}, 60)
	all, rest := f.e.OddTags(0)
	assert.Len(t, all, mostOddTags)
	n := rest
	for i := range all {
		n += all[i].Stream.Count
		assert.Empty(t, all[i].Asks(), all[i].Name)
	}
	assert.EqualValues(t, 1000, n)
}

// TestArmingSaysWhatIsNotWatched: once at each arming, with the main alarm first and
// one reason for all that follows from it; it is no loss, and a bench that watches
// everything has nothing to say.
func TestArmingSaysWhatIsNotWatched(t *testing.T) {
	news := func(f *fullBench) (out []string) {
		for _, l := range f.e.Losses() {
			out = append(out, l.String())
		}
		return out
	}
	f := newFullBench()
	f.armed = 0
	f.wrong = map[decode.Tag]string{decode.Axes: "axis", decode.Load: "lod"}
	f.run(5)
	assert.Empty(t, news(f), "it is not armed yet")
	for range 2 {
		f.armed = 1
		f.run(4)
		told := news(f)
		require.Len(t, told, 1)
		assert.Regexp(t, `^armed with [0-9]+ of 27 kinds of alarm not watched: rising-oscillation, .*`+
			`\(no axes lines, but axis: is axes meant\?\); .*near-lift.*\(no load lines, but lod: is load meant\?\)`, told[0])
		assert.Equal(t, 1, strings.Count(told[0], "axis:"), told[0])
		f.armed = 0
		f.run(1)
	}
	assert.Empty(t, f.e.AllLosses())

	f = newFullBench()
	f.armed = 0
	f.run(5)
	assert.Empty(t, f.why())
	f.armed = 1
	f.run(4)
	assert.Empty(t, news(f))
}

// TestByReason: what the main alarm lacks stands first, and when goes with the name.
func TestByReason(t *testing.T) {
	assert.Equal(t, []string{
		"rising-oscillation, rotor-line since 14.0 s, tip-over, vibration-step for 19 s (no axes (none at all))",
		"near-lift (no mass)",
		"over-current (no rated_a)",
	}, ByReason([]Lack{
		{"over-current", "no rated_a"}, {"near-lift", "no mass"}, {"rotor-line", "no axes (none at all) (since 14.0 s)"}, {"rising-oscillation", "no axes (none at all)"},
		{"tip-over", "no axes (none at all)"}, {"vibration-step", "no axes (none at all) (for 19 s)"},
	}))
}
