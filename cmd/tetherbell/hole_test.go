package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
	"tetherbell/link"
	"tetherbell/simulator"
)

// writeHoled writes a calm run whose recorder could keep nothing from 10 s on for so
// long.
func writeHoled(t *testing.T, w twin, seconds float64) string {
	t.Helper()
	sc, err := simulator.Load("calm")
	require.NoError(t, err)
	text, err := os.ReadFile(writeTwin(t, sc, w))
	require.NoError(t, err)
	var out bytes.Buffer
	at, lost, from := 0.0, 0, ""
	for l := range strings.Lines(string(text)) {
		if rest, ok := strings.CutPrefix(l, "#at "); ok {
			at, err = strconv.ParseFloat(strings.TrimSpace(rest), 64)
			require.NoError(t, err)
		}
		if strings.HasPrefix(l, "#bridge ") {
			from = l
		}
		if at >= 10 && at < 10+seconds {
			lost++
			continue
		}
		if lost > 0 {
			fmt.Fprintf(&out, "#lost %d\n%s", lost, from)
			lost = 0
		}
		out.WriteString(l)
	}
	path := filepath.Join(t.TempDir(), "holed.bell")
	require.NoError(t, os.WriteFile(path, out.Bytes(), 0o600))
	return path
}

// Lines that could not be recorded are no restart of the bridge, however many they
// are: check, replay, report and export go on at the time of the day.
func TestCheckGoesOverAHole(t *testing.T) {
	t.Parallel()
	for _, w := range []twin{{}, {tags: "load,temp,pack", ahead: standAhead, ppm: 70}} {
		path := writeHoled(t, w, 12)
		events, d := judgedTwin(t, path) // panics where scouts and engine are apart
		for i := range events {
			assert.Less(t, events[i].Priority, detect.Low, events[i].Story.Text)
		}
		assert.InDelta(t, 40, float64(d.eng.Now())/1e6, 0.1)
		assert.Empty(t, d.cableLines(), "what the recording lacks is none of the line's faults")

		folder := t.TempDir()
		code, _, errs := told("export", path, "-o", folder)
		require.Equal(t, exitOK, code, errs)
		rows := csvRows(t, filepath.Join(folder, "axes.csv"))
		last, err := strconv.ParseFloat(rows[len(rows)-1][0], 64)
		require.NoError(t, err)
		assert.InDelta(t, 40, last, 0.1, "%s", rows[0])

		r := openReplay(t, path)
		r.look = lookOver(t, r)
		require.NoError(t, r.jump(35_000_000))
		assert.InDelta(t, 35, float64(r.desk.eng.Now())/1e6, 0.1)
	}
}

// A recording without the host's clock is replayed at the bridge's pace, over a hole
// too.
func TestPaceGoesOverAHole(t *testing.T) {
	p := pace{}
	for _, l := range []string{
		summed("load,1,1000000,1"), "#lost 5", summed("load,7,41000000,1"), summed("load,8,91000000,1"),
	} {
		var it link.Item
		link.ParseItem([]byte(l), &it)
		p.due(&it)
	}
	assert.EqualValues(t, 40_000_000, p.now, "the second leap is a restart")
}

// A jump behind a frame that is damaged lands at its place, and at the engine's
// time of the day.
func TestJumpBehindDamage(t *testing.T) {
	t.Parallel()
	for _, w := range []twin{{}, {tags: "load,temp,pack", ahead: standAhead, ppm: 70}} {
		sc, err := simulator.Load("calm")
		require.NoError(t, err)
		sc.Seconds = 120
		s, err := link.Squeeze(context.Background(), writeTwin(t, sc, w))
		require.NoError(t, err)
		data, err := os.ReadFile(s.Path)
		require.NoError(t, err)
		for i := range 40 {
			data[len(data)*3/10+i*3] ^= 0x5c
		}
		require.NoError(t, os.WriteFile(s.Path, data, 0o600))

		f, err := openFile(context.Background(), s.Path)
		require.NoError(t, err)
		defer f.Close()
		_, err = io.Copy(io.Discard, f)
		require.NoError(t, err)
		require.Error(t, f.Damage())

		events, d := judgedTwin(t, s.Path)
		for i := range events {
			assert.Less(t, events[i].Priority, detect.Low, events[i].Story.Text)
		}
		assert.InDelta(t, 120, float64(d.eng.Now())/1e6, 0.1)
		r := openReplay(t, s.Path)
		for _, looked := range []bool{false, true} {
			if looked {
				r.look = lookOver(t, r)
			}
			for _, to := range []int64{90_000_000, 60_000_000} {
				require.NoError(t, r.jump(to))
				assert.InDelta(t, to, r.desk.eng.Now(), 50_000)
				assert.Zero(t, r.desk.bad)
			}
		}
	}
}

// A recording that was put together from several is replayed at its own pace, each
// part after the other; a tick that is damaged moves nothing.
func TestReplayOfSeveralPutTogether(t *testing.T) {
	p := pace{ticks: true}
	var due []int64
	for _, l := range []string{
		"#session {}", "#at 5.000", "#at 7.000", "#at 1.000", "#at 8.000", "#session {}", "#at 0.000", "#at 2.000", "#session {}", "#at 9.000",
	} {
		var it link.Item
		link.ParseItem([]byte(l), &it)
		due = append(due, p.due(&it)/1000)
	}
	assert.Equal(t, []int64{0, 0, 2000, 2000, 3000, 3000, 3000, 5000, 5000, 12000}, due)

	one, err := os.ReadFile(writeLong(t, 60, true))
	require.NoError(t, err)
	head := []byte("#session {\"tool\":\"tetherbell\"}\n")
	path := filepath.Join(t.TempDir(), "both.bell")
	require.NoError(t, os.WriteFile(path, bytes.Join([][]byte{head, one, head, one}, nil), 0o600))
	r := openReplay(t, path)
	r.look = lookOver(t, r)
	length, ok := r.look.whole()
	require.True(t, ok)
	assert.InDelta(t, 120e6, length, 0.1e6)
	half := r.desk.good
	require.NoError(t, r.advance(90_000_000))
	half = r.desk.good - half
	require.NoError(t, r.advance(120_000_000))
	assert.InDelta(t, 0.75, float64(half)/float64(r.desk.good), 0.01)
	require.NoError(t, r.jump(95_000_000))
	assert.InDelta(t, 0, r.due-95_000_000, 50_000, "what comes next is due then")
}
