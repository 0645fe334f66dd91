package main

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/dashboard"
)

func press(t *testing.T, r *replayer, k dashboard.ActKind, seconds float64) {
	t.Helper()
	require.NoError(t, r.act(dashboard.Act{Kind: k, Seconds: seconds}))
}

// A recording that says what rang is not judged ahead; marks are sights too, a
// card's own are not.
func TestSightsOfTheDay(t *testing.T) {
	text := "#session {}\n#at 10.000\n" + benchLine("note,1,0,x") +
		"#at 13.000\n#mark area clear\n#mark card tick area\n" +
		`#alarm {"t":6,"alarm":"motor-heat","change":"raised","priority":"medium","where":"m3"}` + "\n" +
		`#alarm {"t":6,"alarm":"pressure-dip","change":"raised","priority":"note","where":"craft"}` + "\n" +
		"#at 16.000\n" + benchLine("note,2,6000000,x") +
		`#alarm {"t":6,"alarm":"motor-heat","change":"worsened","priority":"high","where":"m3"}` + "\n" +
		`#alarm {"t":6,"alarm":"motor-heat","change":"eased","priority":"medium","where":"m3"}` + "\n" +
		"#alarm torn\n#at 22.000\n" + benchLine("note,3,12000000,x") + "#at 30.000\n#at 30.100\n"
	path := filepath.Join(t.TempDir(), "day.bell")
	require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	r := openReplay(t, path)
	r.look = lookOver(t, r)
	assert.Equal(t, []sight{{3_000_000, "mark: area clear"}, {3_000_000, "medium motor-heat m3"}, {6_000_000, "high motor-heat m3"}}, r.look.sights)
	assert.EqualValues(t, 20_100_000, r.look.length)

	press(t, r, dashboard.ReplaySight, 1)
	assert.EqualValues(t, 1_000_000, r.pos, "two seconds before")
	assert.Equal(t, "2 s before: mark: area clear", r.hint)
	press(t, r, dashboard.ReplaySight, 1)
	assert.EqualValues(t, 4_000_000, r.pos)
	press(t, r, dashboard.ReplaySight, 1)
	assert.EqualValues(t, 4_000_000, r.pos)
	assert.Equal(t, "no alarm or mark after this", r.hint)
	r.pos += 500_000 // it has gone on a little
	press(t, r, dashboard.ReplaySight, -1)
	assert.EqualValues(t, 1_000_000, r.pos)
	press(t, r, dashboard.ReplaySight, -1)
	assert.Equal(t, "no alarm or mark before this", r.hint)
}

// A sight that is nearer than the lead is named, not passed over, and not gone
// back to; the next press means the one after it.
func TestSightsNearby(t *testing.T) {
	r := openReplay(t, slipRecording(t))
	r.look = &lookahead{found: true, sights: []sight{
		{1_000_000, "mark: early"}, {4_200_000, "high a m1"}, {4_700_000, "medium b m2"}, {7_500_000, "low c m3"}}}
	require.NoError(t, r.jump(3_000_000))
	for _, c := range []struct {
		name string
		to   float64
		pos  int64
		hint string
	}{
		{"it rings soon", 1, 3_000_000, "high a m1 in 1.2 s"},
		{"so does the next", 1, 3_000_000, "medium b m2 in 1.7 s"},
		{"one that is far enough", 1, 5_500_000, "2 s before: low c m3"},
		{"the last was named", 1, 5_500_000, "no alarm or mark after this"},
		{"back over both", -1, 2_700_000, "2 s before: medium b m2"},
		{"each is one", -1, 2_200_000, "2 s before: high a m1"},
		{"less of a lead at the beginning", -1, 0, "1 s before: mark: early"},
		{"nothing before", -1, 0, "no alarm or mark before this"},
		{"and on again", 1, 2_200_000, "2 s before: high a m1"},
	} {
		r.speed = 64
		press(t, r, dashboard.ReplaySight, c.to)
		assert.EqualValues(t, c.pos, r.pos, c.name)
		assert.Equal(t, c.hint, r.hint, c.name)
		assert.Equal(t, c.hint[:2] != "no", r.speed == 1, c.name)
	}
	press(t, r, dashboard.ReplayJump, 1)
	press(t, r, dashboard.ReplaySight, 1)
	assert.Equal(t, "high a m1 in 1.0 s", r.hint, "another jump forgets what was aimed at")
	r.speed = 0.5
	press(t, r, dashboard.ReplaySight, 1)
	assert.InDelta(t, 0.5, r.speed, 0, "slow stays slow")
}

// One without that is judged ahead, and says what check says.
func TestSightsByJudging(t *testing.T) {
	r := openReplay(t, slipRecording(t))
	r.look = lookOver(t, r)
	require.Len(t, r.look.sights, 2)
	assert.Equal(t, sight{2_000_000, "medium settings-slip craft"}, roughly(r.look.sights[0]))
	assert.Equal(t, sight{5_000_000, "high settings-slip craft"}, roughly(r.look.sights[1]))
}

func roughly(s sight) sight { return sight{(s.place + 50_000) / 100_000 * 100_000, s.text} }

// While the look ahead is under way it gives no sight that another might precede.
func TestSightsNotKnownYet(t *testing.T) {
	r := openReplay(t, slipRecording(t))
	r.look = &lookahead{sights: []sight{{9_000_000, "mark: late"}}, seen: 4_000_000}
	press(t, r, dashboard.ReplaySight, 1)
	assert.Equal(t, "looking ahead: try again in a moment", r.hint)
	assert.Zero(t, r.pos)
	r.look.seen = 9_000_000
	press(t, r, dashboard.ReplaySight, 1)
	assert.Equal(t, "2 s before: mark: late", r.hint)
	press(t, r, dashboard.ReplaySight, 1)
	assert.Equal(t, "looking ahead: try again in a moment", r.hint)
	r.look.found = true
	press(t, r, dashboard.ReplaySight, 1)
	assert.Equal(t, "no alarm or mark after this", r.hint)

	r.look = &lookahead{name: "gone.bell", about: r.about}
	r.look.routineLook(context.Background())
	press(t, r, dashboard.ReplaySight, 1)
	assert.Contains(t, r.hint, "cannot look ahead: open recording gone.bell")

	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	k := &lookahead{name: r.name, about: r.about}
	k.routineLook(ctx)
	assert.ErrorIs(t, k.err, context.Canceled, "it ends with the replay")
}

func TestLoop(t *testing.T) {
	r := openReplay(t, slipRecording(t))
	require.NoError(t, r.jump(4_000_000))
	press(t, r, dashboard.ReplayLoop, 0)
	assert.Equal(t, []float64{4}, r.loop.view())
	require.NoError(t, r.jump(4_200_000))
	press(t, r, dashboard.ReplayLoop, 0)
	assert.Contains(t, r.hint, "half a second at least")
	require.NoError(t, r.jump(2_500_000)) // the other way round
	press(t, r, dashboard.ReplayLoop, 0)
	assert.Equal(t, []float64{2.5, 4}, r.loop.view())
	r.pos = 3_900_000
	require.NoError(t, r.turn())
	assert.InDelta(t, 3.9e6, r.desk.eng.Now(), 0.1e6)
	r.pos = 4_010_000
	r.paused = true
	require.NoError(t, r.turn())
	assert.EqualValues(t, 4_010_000, r.pos, "it stands still")
	r.paused = false
	require.NoError(t, r.turn())
	assert.EqualValues(t, 2_500_000, r.pos)
	assert.InDelta(t, 2.5e6, r.desk.eng.Now(), 0.1e6, "and goes round")
	r.pos = r.about.length + 1_000_000
	require.NoError(t, r.turn())
	assert.False(t, r.ended)
	press(t, r, dashboard.ReplayLoop, 0)
	assert.Nil(t, r.loop.view())
	r.pos = 6_000_000
	require.NoError(t, r.turn())
	assert.EqualValues(t, 6_000_000, r.pos)
}
