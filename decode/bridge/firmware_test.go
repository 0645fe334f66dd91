package bridge

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"tetherbell/decode"
)

var firmwareSources = []string{"-O2", "firmware/firmware.c"}

// benchProgram builds the example with its hardware simulated, once in each way.
func benchProgram(t *testing.T, defines ...string) string {
	t.Helper()
	cc, key := compilers(t)[0], strings.Join(defines, " ")
	if builds.benches[key] != "" {
		return builds.benches[key]
	}
	args := append(append(append([]string{}, defines...), firmwareSources...), "firmware/host.c")
	if canSanitize(t, cc) {
		args = append(args, sanitized...)
	}
	if builds.benches == nil {
		builds.benches = map[string]string{}
	}
	builds.benches[key] = compile(t, cc, args...)
	return builds.benches[key]
}

// The example compiles without a word for every compiler that is here, with its
// hardware left blank and simulated.
func TestFirmwareCompiles(t *testing.T) {
	for _, cc := range compilers(t) {
		compile(t, cc, append(firmwareSources, "firmware/board_blank.c")...)
		compile(t, cc, append(firmwareSources, "firmware/host.c")...)
	}
	for i := range processors {
		p := &processors[i]
		if _, err := exec.LookPath(p.prefix + "gcc"); err != nil {
			t.Logf("no %sgcc here: the example is not built for %s", p.prefix, p.name)
			continue
		}
		for _, source := range []string{"firmware/firmware.c", "firmware/board_blank.c"} {
			args := append(append(append([]string{}, strict...), p.flags...), "-Os", source, "-c", "-o", filepath.Join(t.TempDir(), "firmware.o"))
			run(t, p.prefix+"gcc", args...)
		}
	}
}

// The check byte of the thermometer: CRC-8 of the System Management Bus has the
// check value F4 for "123456789" (from memory of the usual catalogues).
func TestCheckByte(t *testing.T) {
	source := filepath.Join(t.TempDir(), "pec.c")
	require.NoError(t, os.WriteFile(source, []byte(`#include <stdio.h>
#define BL_IMPLEMENTATION
#include "firmware/sensors.h"
bool board_cell_clock(uint8_t cell) { (void)cell; return false; }
bool board_bus_word(uint8_t address, uint8_t command, uint8_t reply[3]) { (void)address; (void)command; (void)reply; return false; }
int main(void)
{
    uint8_t crc = 0;
    const char *s;
    for (s = "123456789"; *s != 0; s++)
        crc = pec(crc, (uint8_t)*s);
    printf("%02X\n", (unsigned)crc);
    return 0;
}
`), 0o600))
	out, err := exec.Command(compile(t, compilers(t)[0], "-Wno-unused-function", source)).Output()
	require.NoError(t, err)
	require.Equal(t, "F4\n", string(out))
}

// bench runs the example and returns its lines.
func bench(t *testing.T, program string, args ...string) string {
	t.Helper()
	var stderr strings.Builder
	cmd := exec.Command(program, args...)
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	require.NoError(t, err, stderr.String())
	return string(out)
}

// What the example sends is what it should: who it is first, all tags at their
// rates, the load tared, and not one line bad or lost.
func TestFirmwareLines(t *testing.T) {
	samples := parse(t, bench(t, benchProgram(t)))
	require.Equal(t, decode.Hello, samples[0].Tag)
	boot, _ := samples[0].Get(decode.HelloBoot)
	require.EqualValues(t, 42, boot)
	counts := map[string]int{}
	most, last := 0.0, samples[0].Time
	for i, s := range samples {
		require.Equal(t, uint16(i), s.Seq, "no line is lost")
		step := int32(s.Time - last)
		require.Less(t, step, int32(60_000), "the clock runs on, over its wrap as well")
		require.Greater(t, step, int32(-45_000), "50 ms back would be a restart")
		last = s.Time
		counts[s.Tag.String()]++
		if v, ok := s.Get(decode.LoadN); ok && s.Tag == decode.Load {
			most = max(most, v)
		}
		if s.Tag == decode.ERPM || s.Tag == decode.Temp || s.Tag == decode.Out {
			require.EqualValues(t, 0xF, s.Has, "four motors, none more")
		}
	}
	// 24 s; the lift at a third of throttle is 4 * 8 N * 0.35^2 = 3.92 N.
	for tag, want := range map[string]int{"hello": 24, "craft": 3, "axes": 2400, "accel": 2400, "out": 1200, "state": 484, "erpm": 480, "temp": 48, "pack": 240, "set": 8} {
		require.InDelta(t, want, counts[tag], 1+float64(want)/100, tag)
	}
	require.InDelta(t, 3.92, most, 0.02)
	require.InDelta(t, 24*79, counts["load"], 10)
}

// What fails is never sent as its last value: one of several leaves its field
// empty, a source that has gone sends nothing.
func TestFirmwareFaults(t *testing.T) {
	program := benchProgram(t)
	const later = 10_300_000 // the fault is at 10 s
	for _, c := range []struct {
		fault string
		tag   decode.Tag
		has   uint16 // afterwards
		none  bool   // no such line afterwards
	}{
		{"controller", decode.ERPM, 0b1101, false},
		{"controller", decode.Pack, 0b01, false},
		{"range", decode.Load, 0, false},
		{"cell", decode.Load, 0, true},
		{"bus", decode.Temp, 0, true},
		{"check", decode.Temp, 0, true},
		{"craft", decode.State, 0, true},
		{"craft", decode.Axes, 0, true},
		{"craft", decode.ERPM, 0b1111, false},
	} {
		before, after := 0, 0
		for _, s := range parse(t, bench(t, program, "14", c.fault)) {
			switch at := s.Time - benchBegins; {
			case s.Tag != c.tag:
			case at < 10_000_000:
				before++
			case at > later:
				after++
				require.Equal(t, c.has, s.Has, "%s, %s", c.fault, c.tag)
			}
		}
		require.Positive(t, before, "%s, %s", c.fault, c.tag)
		require.Equal(t, c.none, after == 0, "%s, %s", c.fault, c.tag)
	}
	// A port that is far too slow: whole lines alone, and the gaps are seen.
	samples := parse(t, bench(t, program, "14", "port"))
	lost := 0
	for i := 1; i < len(samples); i++ {
		lost += int(samples[i].Seq-samples[i-1].Seq) - 1
	}
	require.Greater(t, lost, 1000)
}

// With no line buffer, lines growing in the ring itself, the very same bytes go
// out, where lines are lost for want of room as well.
func TestFirmwareByteByByte(t *testing.T) {
	whole, bytewise := benchProgram(t), benchProgram(t, "-DBL_STREAM")
	for _, fault := range []string{"none", "port"} {
		want := bench(t, whole, "14", fault)
		require.NotEmpty(t, want)
		require.True(t, want == bench(t, bytewise, "14", fault), fault)
	}
}

// The monitor itself takes the example's lines: a quiet session is quiet, and a
// craft whose link is gone rings.
func TestFirmwareRings(t *testing.T) {
	if testing.Short() {
		t.Skip("builds the whole program")
	}
	monitor := filepath.Join(t.TempDir(), "tetherbell.exe")
	run(t, "go", "build", "-o", monitor, "tetherbell/cmd/tetherbell")
	program := benchProgram(t)
	for _, c := range []struct {
		fault string
		exit  int
		rings string
	}{{"none", 0, ""}, {"craft", 1, "stale-link"}, {"cell", 1, "stale-link"}, {"port", 1, "bad-link"}} {
		text := bench(t, program, "24", c.fault)
		file := filepath.Join(t.TempDir(), "bench.bell")
		require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
		cmd := exec.Command(monitor, "check", "--json", file)
		out, _ := cmd.Output()
		require.Equal(t, c.exit, cmd.ProcessState.ExitCode(), "%s: %s", c.fault, out)
		got := summaryOf(t, string(out))
		require.Zero(t, got.Bad, c.fault)
		require.Equal(t, strings.Count(text, "\n"), got.Lines, c.fault)
		if c.rings == "" {
			require.Empty(t, got.Alarms)
			require.Zero(t, got.Lost)
		} else {
			require.Contains(t, got.Alarms, c.rings)
		}
		watch := exec.Command(monitor, "watch", "-", "--json")
		watch.Stdin = strings.NewReader(text)
		out, err := watch.Output()
		require.NoError(t, err)
		require.Equal(t, got.Lines, summaryOf(t, string(out)).Lines, "watch - reads the same lines")
	}
}

type summary struct {
	Lines, Bad, Lost int
	Alarms           map[string]int
}

func summaryOf(t *testing.T, out string) summary {
	t.Helper()
	all := strings.Split(strings.TrimSpace(out), "\n")
	var line struct{ Summary summary }
	require.NoError(t, json.Unmarshal([]byte(all[len(all)-1]), &line), "%s", out)
	return line.Summary
}

// A fault that there is not would be taken for one that nobody sees.
func TestFirmwareRefuses(t *testing.T) {
	program := benchProgram(t)
	for _, args := range [][]string{{"24", "nosuch"}, {"--help"}, {"24", "none", "more"}, {"0"}, {"nan"}} {
		cmd := exec.Command(program, args...)
		out, err := cmd.Output()
		require.Error(t, err, args)
		require.Equal(t, 2, cmd.ProcessState.ExitCode(), args)
		require.Empty(t, out)
	}
}
