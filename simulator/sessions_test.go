package simulator

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"tetherbell/decode/craft"
	"tetherbell/link"
)

// A shortened is a built-in scenario made small enough to keep: its times
// shrunk, its streams slow.
type shortened struct {
	name   string
	as     string  // the recording's own name, where the scenario has another one
	shrink float64 // of all times but those of silence and restart
	change func(sc *Scenario)
	host   map[int64]string // what the host writes beside its clock, by microseconds
}

var shorts = []shortened{
	{name: "calm", shrink: 0.25},
	// A shake of 14 Hz is seen well at 200 lines a second. There is less time
	// for it to grow in, so the throttle stays at the top a little longer.
	{name: "gains-high", shrink: 0.3, change: slowlyTooHigh},
	{name: "idle-slip", shrink: 0.4},
	{name: "stop-late", shrink: 0.3},
	{name: "noisy-link", shrink: 0.25},
	{name: "weak-motor", shrink: 0.4},
	// Every stream at a pace that lets all be watched.
	{name: "calm", as: "streams", shrink: 0.2, change: func(sc *Scenario) {
		sc.Rates = Rates{Axes: 200, Out: 50, ERPM: 20, Accel: 100, Load: 20, Temp: 5, Pack: 10, Air: 10, State: 20}
	}},
	// The cable is pulled at the top of it, for good.
	{name: "calm", as: "silence", shrink: 0.2, change: func(sc *Scenario) {
		sc.Events = append(sc.Events, Event{At: 4.6, Do: "silence", Seconds: 3600})
	}},
	// The person pauses the sound of the alarm.
	{name: "gains-high", as: "hushed", shrink: 0.3, change: slowlyTooHigh, host: map[int64]string{6_800_000: "#pause 30.000"}},
}

func slowlyTooHigh(sc *Scenario) {
	sc.Rates.Axes = 200
	for k := range sc.Events {
		if sc.Events[k].At > 5 {
			sc.Events[k].At += 1.5
		}
	}
	sc.Seconds += 1
}

func (s shortened) file() string {
	if s.as != "" {
		return s.as
	}
	return s.name
}

func (s shortened) scenario(t *testing.T) Scenario {
	sc, err := Load(s.name)
	require.NoError(t, err)
	sc.Seconds *= s.shrink
	for k := range sc.Events {
		sc.Events[k].At *= s.shrink
		sc.Events[k].Over *= s.shrink
	}
	sc.Rates = Rates{Axes: 50, Out: 25, ERPM: 10, Accel: 0, Load: 20, Temp: 1, Pack: 5, Air: 0, State: 10}
	if s.change != nil {
		s.change(&sc)
	}
	return sc
}

// record plays a scenario as a recorder would hear it: a header, the lines as
// they come, the host's clock every 100 ms, the end.
func record(t *testing.T, sc Scenario, seed uint64, host map[int64]string) []byte {
	return recordAs(t, sc, seed, host, fmt.Sprintf("simulator %s, seed %d", sc.Name, seed), 100_000)
}

// recordAs is record with a source of one's own and another step of the host's
// clock, us. What the host writes at nought comes right after the header.
func recordAs(t *testing.T, sc Scenario, seed uint64, host map[int64]string, source string, tick int64) []byte {
	c := craft.Craft{Name: sc.Craft.Name, Hold: craft.Tether}
	about, err := json.Marshal(c)
	require.NoError(t, err)
	head, err := json.Marshal(link.SessionHeader{
		Tool: "tetherbell", Version: "simulator", Start: "2026-11-25T07:41:11Z",
		Source: source, Craft: about,
	})
	require.NoError(t, err)
	var out, rest []byte
	out = append(append(append(out, "#session "...), head...), '\n')
	if line := host[0]; line != "" {
		out = append(append(out, line...), '\n')
	}
	b := New(sc, seed)
	next := tick
	for done := false; !done; {
		var until int64
		rest, until, done = b.Next(rest)
		for n := bytes.IndexByte(rest, '\n'); n >= 0; n = bytes.IndexByte(rest, '\n') {
			if rest[0] == '#' {
				out = append(out, "#wire "...)
			}
			out = append(out, rest[:n+1]...)
			rest = rest[n+1:]
		}
		for ; next <= until && len(rest) == 0; next += tick {
			out = fmt.Appendf(out, "#at %d.%03d\n", next/1_000_000, next/1000%1000)
			if line := host[next]; line != "" {
				out = append(append(out, line...), '\n')
			}
		}
	}
	return append(out, "#end {}\n"...)
}

// The recordings in testdata/sessions are what this simulator makes:
//
//	go test ./simulator -run TestRecordings -update
func TestRecordings(t *testing.T) {
	for _, s := range shorts {
		t.Run(s.file(), func(t *testing.T) {
			path := filepath.Join("..", "testdata", "sessions", s.file()+".bell")
			got := record(t, s.scenario(t), 1, s.host)
			if *update {
				require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
				require.NoError(t, os.WriteFile(path, got, 0o644))
			}
			want, err := os.ReadFile(path)
			require.NoError(t, err)
			require.True(t, bytes.Equal(want, got), "%s is not what the simulator makes: rewrite it with -update", path)
		})
	}
}
