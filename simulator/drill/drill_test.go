package drill

import (
	"bytes"
	"math"
	"slices"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestJudge(t *testing.T) {
	slow := Truth{Fault: true, Began: 10, Alarm: 12, Limit: 16, End: 25}
	sudden := Truth{Fault: true, Began: 10, Alarm: 10.1, Limit: 10.1, End: 25}
	mild := Truth{Fault: true, Began: 10, Alarm: 12, Limit: Never, End: 25}
	silent := Truth{Fault: true, Began: 10, Alarm: Never, Limit: Never, End: 25}
	unseen := Truth{Fault: true, Began: 10, Alarm: Never, Limit: 10.5, End: 25}
	unknown := Truth{Fault: true, Began: Never, Alarm: Never, Limit: 20, End: 25}
	spent := Truth{Fault: true, Began: 10, Alarm: 12, Limit: 12, End: 25, Spent: true}
	sound := Truth{Began: Never, Alarm: Never, Limit: Never, End: 25}
	for _, c := range []struct {
		name string
		t    Truth
		stop float64
		want Verdict
	}{
		{"a sound craft, let run", sound, Never, LetRun},
		{"a sound craft, stopped", sound, 3, NoCause},
		{"a sound craft, stopped at once", sound, 0, NoCause},
		{"not stopped", slow, Never, Missed},
		{"before any evidence", slow, 9.99, NoCause},
		{"with the first evidence", slow, 10, InTime},
		{"before the alarm", slow, 11.5, InTime},
		{"between alarm and limit", slow, 14, InTime},
		{"at the limit", slow, 16, InTime},
		{"past the limit", slow, 16.01, Late},
		{"a limit that leaves no time: within the grace", sudden, 11.6, InTime},
		{"and beyond it", sudden, 11.61, Late},
		{"no limit: nothing is too late", mild, 24.9, InTime},
		{"nothing rang", silent, 20, InTime},
		{"nothing rang, too early", silent, 9, NoCause},
		{"nothing rang, with a limit: the grace runs from the evidence", unseen, 11.4, InTime},
		{"and ends", unseen, 11.6, Late},
		{"the stop was pressed already: kept clear", spent, Never, Clear},
		{"pressed once more", spent, 12.5, InTime},
		{"nothing is too late then", spent, 24, InTime},
		{"but without any evidence", spent, 9, NoCause},
		{"nobody knows when it began", unknown, 1, InTime},
		{"but when it was too late", unknown, 21, Late},
	} {
		assert.Equal(t, c.want.String(), Judge(c.t, c.stop).String(), c.name)
	}
	for v := LetRun; v <= Clear; v++ {
		assert.Equal(t, v == LetRun || v == InTime || v == Clear, v.Right())
	}
}

func TestSince(t *testing.T) {
	d, ok := Since(10, 9.5)
	assert.True(t, ok)
	assert.InDelta(t, -0.5, d, 1e-12)
	for _, c := range [][2]float64{{Never, 3}, {3, Never}, {Never, Never}} {
		_, ok := Since(c[0], c[1])
		assert.False(t, ok)
	}
}

// stops makes rows of a fault at 10 s with the alarm at 12, stopped after it.
func stops(after ...float64) (rows []Row) {
	for _, a := range after {
		rows = append(rows, Row{When: "x", Fault: true, Began: 10, Alarm: 12, Limit: 20, End: 30, Stop: 12 + a, Speed: 1, Alarms: true})
	}
	return rows
}

// The classic worked example of a standard deviation: 2 4 4 4 5 5 7 9 have the
// mean 5, the median 4.5 and a sum of squares about the mean of 32 (from
// memory); over n-1 that is sqrt(32/7).
func TestSumByFormula(t *testing.T) {
	s := Sum(stops(2, 4, 4, 4, 5, 5, 7, 9))
	assert.Equal(t, 8, s.Reactions)
	assert.InDelta(t, 5, s.Mean, 1e-9)
	assert.InDelta(t, 4.5, s.Median, 1e-9)
	assert.InDelta(t, math.Sqrt(32.0/7), s.Deviation, 1e-9)
	assert.Equal(t, 1, s.Late, "9 s after the alarm is past the limit")
	one := Sum(stops(0.7))
	assert.InDelta(t, 0.7, one.Median, 1e-9)
	assert.True(t, math.IsNaN(one.Deviation))
	assert.True(t, math.IsNaN(Sum(nil).Mean))
	assert.InDelta(t, 3, Sum(stops(9, 3, 1)).Median, 1e-9)
}

func TestSumCounts(t *testing.T) {
	rows := stops(1, -1, 9) // in time, before the alarm, late
	rows = append(rows,
		Row{When: "x", Stop: Never, Began: Never, Alarm: Never, Limit: Never},                  // let run
		Row{When: "x", Stop: 4, Began: Never, Alarm: Never, Limit: Never},                      // no cause
		Row{When: "x", Fault: true, Began: 10, Alarm: 12, Limit: 20, Stop: 9},                  // no cause
		Row{When: "x", Fault: true, Began: 10, Alarm: 12, Limit: 20, Stop: Never, Verdict: ""}) // missed
	s := Sum(rows)
	assert.Equal(t, Stats{Attempts: 7, Faults: 5, Sound: 2, Right: 3, FalseStops: 2, Late: 1, Missed: 1, Early: 1, Reactions: 2},
		Stats{s.Attempts, s.Faults, s.Sound, s.Right, s.FalseStops, s.Late, s.Missed, s.Early, s.Reactions, 0, false, 0, 0, 0})
	assert.InDelta(t, 5, s.Mean, 1e-9)
}

func TestTable(t *testing.T) {
	rows := stops(0.84)
	rows[0].When, rows[0].Who, rows[0].File, rows[0].What, rows[0].Alarms = "2026-11-25T07:41:11Z", "Ann", "d03.bell", "rising-oscillation roll", true
	rows = append(rows, Row{When: "2026-11-25T07:42:00Z", File: "d10.bell", Speed: 2, Stop: Never, Began: Never, Alarm: Never, Limit: Never})
	want := `
when                  who  recording  alarms  speed   stop  from evidence  from alarm  from limit  verdict  what
2026-11-25T07:41:11Z  Ann  d03.bell   on         x1  12.84          +2.84       +0.84       -7.16  in time  rising-oscillation roll
2026-11-25T07:42:00Z  -    d10.bell   off        x2      -              -           -           -  let run  nothing wrong
unnamed, alarms off: 1 of 1 right; stops without cause: 0; of 0 with a fault: 0 late, 0 missed
Ann, alarms on: 1 of 1 right; stops without cause: 0; of 1 with a fault: 0 late, 0 missed, 0 stopped before the alarm
  from alarm to stop: median 0.84 s, mean 0.84 s (1 stop)`
	assert.Equal(t, strings.TrimSpace(want), strings.Join(Table(rows, 0), "\n"))
	assert.Equal(t, "no attempts", Table(nil, 0)[1])
	narrow := Table(rows, 80)
	assert.Equal(t, "recording   stop  from evidence  from alarm  verdict  what", narrow[0])
	assert.Equal(t, "d03.bell   12.84          +2.84       +0.84  in time  rising-oscillation roll", narrow[1])
	assert.Equal(t, "when                  who  recording  alarms   stop  from evidence  from alarm  from limit  verdict  what", Table(rows, 126)[0])
}

// Unlike things are summed apart: trainees, what they heard, and other speeds.
func TestSumApart(t *testing.T) {
	ann, bo, off, fast := stops(1, 3), stops(5), stops(2, 4), stops(0.1)
	for _, rows := range [][]Row{ann, off, fast} {
		for i := range rows {
			rows[i].Who = "Ann"
		}
	}
	bo[0].Who, fast[0].Speed = "Bo", 4
	for i := range off {
		off[i].Alarms = false
	}
	lines := Table(slices.Concat(bo, off, ann, fast), 0)
	assert.Equal(t, strings.TrimSpace(`
Ann, alarms off: 2 of 2 right; stops without cause: 0; of 2 with a fault: 0 late, 0 missed
  from evidence to stop: median 5.00 s, mean 5.00 s, standard deviation 1.41 s (2 stops)
Ann, alarms on: 3 of 3 right; stops without cause: 0; of 3 with a fault: 0 late, 0 missed, 0 stopped before the alarm
  from alarm to stop: median 2.00 s, mean 2.00 s, standard deviation 1.41 s (2 stops)
  left out of the times: 1 stop at another speed than x1
Bo, alarms on: 1 of 1 right; stops without cause: 0; of 1 with a fault: 0 late, 0 missed, 0 stopped before the alarm
  from alarm to stop: median 5.00 s, mean 5.00 s (1 stop)`), strings.Join(lines[7:], "\n"))
}

func TestReadRows(t *testing.T) {
	rows := stops(1, 2)
	rows[0].Who = "two\nlines \"quoted\" \x1b[2J"
	var text []byte
	var err error
	for i := range rows {
		text, err = rows[i].Append(text)
		require.NoError(t, err)
	}
	assert.Equal(t, 2, bytes.Count(text, []byte("\n")))
	got, bad, err := Read(iotest.OneByteReader(bytes.NewReader(text)))
	require.NoError(t, err)
	assert.Zero(t, bad)
	assert.Equal(t, rows, got)

	torn := append(append([]byte{}, text[:len(text)-9]...), '\n')
	torn = append(torn, "\n\nnot a row\n{}\n"+strings.Repeat("x", 200_000)+"\n"...)
	torn = append(torn, text...)
	got, bad, err = Read(bytes.NewReader(torn))
	require.NoError(t, err)
	assert.Equal(t, 4, bad)
	assert.Equal(t, append(rows[:1:1], rows...), got)

	_, _, err = Read(iotest.ErrReader(assert.AnError))
	assert.ErrorIs(t, err, assert.AnError)
	rows[0].Stop = math.NaN()
	_, err = rows[0].Append(nil)
	assert.Error(t, err)
}
