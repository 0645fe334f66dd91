package bridge

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"tetherbell/decode"
)

// benchBegins is the bridge's clock when the simulated bench starts.
const benchBegins = 4282621618

// sinceBegin is when a sample was taken, in seconds of the bench.
func sinceBegin(s *decode.Sample) float64 { return float64(s.Time-benchBegins) / 1e6 }

// tally counts lines by tag, and those that are missing between them.
func tally(samples []decode.Sample) (counts map[decode.Tag]int, lost int) {
	counts = map[decode.Tag]int{}
	for i := range samples {
		counts[samples[i].Tag]++
		if i > 0 {
			lost += int(samples[i].Seq - samples[i-1].Seq - 1)
		}
	}
	return counts, lost
}

// A ring of 256 bytes, all that an 8-bit index reaches, still sends what comes
// seldom: the mass of the craft, temperatures, the pack, the settings. All of
// them fall due together, and none may be lost for another ten seconds.
func TestFirmwareSmallRing(t *testing.T) {
	for _, c := range []struct {
		baud, slower string
		fast, most   int // lines of axes, and lines lost at most
	}{{"230400", "1", 2400, 300}, {"230400", "2", 1200, 0}, {"115200", "2", 1200, 100}} {
		defines := []string{"-DRING_BYTES=256u", "-DBAUD=" + c.baud + "u", "-DSLOWER=" + c.slower}
		text := bench(t, benchProgram(t, defines...))
		samples := parse(t, text)
		counts, lost := tally(samples)
		require.Equal(t, 3, counts[decode.Craft], defines)
		require.Equal(t, 48, counts[decode.Temp], defines)
		require.InDelta(t, c.fast/10, counts[decode.Pack], 1, defines)
		require.Equal(t, 8, counts[decode.Set], defines)
		require.InDelta(t, c.fast, counts[decode.Axes], 2, defines)
		require.InDelta(t, c.fast/5, counts[decode.State], 4, defines)
		require.LessOrEqual(t, lost, c.most, defines)
		if lost > 0 {
			require.True(t, strings.Contains(text, " lines found no room*"), "what is lost is told")
		}
		defines = append(defines, "-DBR_INDEX_8", "-DBL_STREAM")
		require.True(t, text == bench(t, benchProgram(t, defines...)), "with an index of 8 bits, byte by byte, %s", defines)
	}
}

// README.md says which ring loses how much, and that is what is measured. (Give
// or take some lines: processors round the simulated bench differently.)
func TestFirmwareRingTable(t *testing.T) {
	if testing.Short() {
		t.Skip("builds the example in six ways")
	}
	doc := readText(t, "README.md")
	head := regexp.MustCompile(`\| ring, bytes \| 230400 baud, (\d+) lines \| 115200 baud, .*, (\d+) lines \|`).FindStringSubmatch(doc)
	require.NotNil(t, head)
	rows := regexp.MustCompile(`(?m)^\| (256|512|1024) \| (\d+)[^|]*\| (\d+)[^|]*\|$`).FindAllStringSubmatch(doc, -1)
	require.Len(t, rows, 3)
	for _, row := range rows {
		for i, rate := range [][]string{{"-DBAUD=230400u", "-DSLOWER=1"}, {"-DBAUD=115200u", "-DSLOWER=2"}} {
			said, _ := strconv.Atoi(row[2+i])
			whole, _ := strconv.Atoi(head[1+i])
			samples := parse(t, bench(t, benchProgram(t, append([]string{"-DRING_BYTES=" + row[1] + "u"}, rate...)...)))
			_, lost := tally(samples)
			require.InDelta(t, said, lost, 5+float64(said)/5, "%s %s", row[1], rate)
			require.InDelta(t, whole, lost+len(samples), float64(whole)/200, "%s %s", row[1], rate)
			if row[1] == "1024" {
				require.Zero(t, lost, rate)
			}
		}
	}
}

// What the craft said goes out once, with the time when it was said: the host
// would believe in a pace that is not, and in a link that is dead.
func TestFirmwareSendsNothingTwice(t *testing.T) {
	for _, c := range []struct {
		fault   string
		pace    float64 // of axes
		defines []string
	}{{"none", 100, nil}, {"slow", 20, nil}, {"craft", 100, nil}, {"none", 0, []string{"-DRING_BYTES=256u", "-DBAUD=115200u"}}} {
		program := benchProgram(t, c.defines...)
		last := map[decode.Tag]float64{}
		counts := map[decode.Tag]int{}
		samples := parse(t, bench(t, program, "14", c.fault))
		for i := range samples {
			s := &samples[i]
			at, before := sinceBegin(s), last[s.Tag]
			switch s.Tag {
			case decode.Axes, decode.Out, decode.Accel, decode.State:
				if counts[s.Tag]++; counts[s.Tag] > 1 {
					require.Greater(t, at, before, "%s, %s", c.fault, s.Tag)
				}
				if c.fault != "slow" { // a reading comes every 5 ms
					require.Zero(t, (s.Time-benchBegins)%5000, "%s, %s: when it was said", c.fault, s.Tag)
				}
				if c.fault == "craft" {
					require.Less(t, at, 10.0, "nothing is sent of a link that is dead: %s", s.Tag)
				}
			case decode.ERPM, decode.Pack: // a frame comes every 20 ms
				require.Zero(t, (s.Time-benchBegins)%20_000, "%s, %s: when it was heard", c.fault, s.Tag)
				require.Greater(t, at, before-1e-9)
			}
			last[s.Tag] = at
		}
		if c.pace == 0 { // a port that is too slow: lines wait, and are lost
			continue
		}
		length := min(14, last[decode.Axes])
		require.InDelta(t, c.pace*length, counts[decode.Axes], 2, c.fault)
		require.InDelta(t, c.pace*length, counts[decode.Accel], 2, c.fault)
		require.InDelta(t, min(50, c.pace)*length, counts[decode.Out], 2, c.fault)
		require.InDelta(t, 20*length, counts[decode.State], 2, c.fault)
	}
}

// Of readings that come faster than lines go out it is every second one, and not
// now this and now that: a shake's frequency is worked out of their times.
func TestFirmwareKeepsThePace(t *testing.T) {
	var last float64
	samples := parse(t, bench(t, benchProgram(t), "14"))
	for i := range samples {
		if s := &samples[i]; s.Tag == decode.Axes {
			if last != 0 {
				require.InDelta(t, 0.010, sinceBegin(s)-last, 1e-6, "every second reading of 200 a second")
			}
			last = sinceBegin(s)
		}
	}
	require.NotZero(t, last)
}

// No sum is made of readings of different times: a cell that was silent for three
// seconds, while the lift rose, comes back with none that is false, even where
// another one fell silent meanwhile.
func TestFirmwareSumsOneTime(t *testing.T) {
	samples := parse(t, bench(t, benchProgram(t), "15", "pause"))
	back := 0
	for i := range samples {
		s := &samples[i]
		if v, ok := s.Get(decode.LoadN); ok && s.Tag == decode.Load && sinceBegin(s) > 10.1 {
			back++
			require.Greater(t, sinceBegin(s), 13.3)
			require.InDelta(t, 3.92, v, 0.05, "at %.3f s", sinceBegin(s))
		}
	}
	require.InDelta(t, 1.7*79, back, 4)
}

// notes lists what the bridge tells.
func notes(samples []decode.Sample) (all []string) {
	for i := range samples {
		if samples[i].Tag == decode.Note {
			all = append(all, string(samples[i].Text))
		}
	}
	return all
}

// The cells are tared wherever somebody says that the rotors stand, and nowhere
// else; until then a person hears why there is no lift.
func TestFirmwareTares(t *testing.T) {
	const tared = "load cells tared at rest"
	for _, c := range []struct {
		fault   string
		defines []string
		load    bool // whether the lift is known
		notes   []string
	}{
		{"stand", nil, true, []string{tared}},
		{"button", nil, true, []string{tared}},
		{"cells", nil, false, []string{"nobody says", "nobody says", "nobody says"}},
		{"cells", []string{"-DTARE_UNTOLD=1"}, true, []string{tared}},
		{"stand", []string{"-DTARE_UNTOLD=1"}, true, []string{tared}},
		{"blows", nil, false, []string{"do not stay together", "not disarmed", "do not stay together"}},
	} {
		samples := parse(t, bench(t, benchProgram(t, c.defines...), "24", c.fault))
		told := notes(samples)
		require.Len(t, told, len(c.notes), "%s: %q", c.fault, told)
		for i, want := range c.notes {
			require.Contains(t, told[i], want, c.fault)
		}
		most := 0.0
		for i := range samples {
			s := &samples[i]
			if s.Tag != decode.Load || sinceBegin(s) < 1 {
				continue
			}
			v, known := s.Get(decode.LoadN)
			require.Equal(t, c.load, known, "%s at %.3f s", c.fault, sinceBegin(s))
			most = max(most, v)
		}
		if c.load { // each cell by its own scale: 4 * 8 N * 0.35^2
			require.InDelta(t, 3.92, most, 0.02, c.fault)
		}
	}
}

// Values that cannot be right go out empty, and a person hears how many: once in
// five seconds, and never where there are none.
func TestFirmwareTellsWhatIsWrong(t *testing.T) {
	program := benchProgram(t)
	require.NotContains(t, strings.Join(notes(parse(t, bench(t, program, "24"))), "|"), "could not be right")
	samples := parse(t, bench(t, program, "24", "unit"))
	var at []float64
	for i := range samples {
		if s := &samples[i]; s.Tag == decode.Note && strings.Contains(string(s.Text), "could not be right") {
			require.Regexp(t, `^\d+ values could not be right and went out empty: units\?$`, string(s.Text))
			at = append(at, sinceBegin(s))
		}
	}
	require.Len(t, at, 3)
	for i := 1; i < len(at); i++ {
		require.InDelta(t, 5, at[i]-at[i-1], 0.1)
	}
	require.Contains(t, strings.Join(notes(samples), "|"), "1500 values", "three rates, 100 times a second, 5 s")
}

// What is left blank is not sent: no craft's mass and no settings of another one.
func TestFirmwareBlank(t *testing.T) {
	source := filepath.Join(t.TempDir(), "blank.c")
	require.NoError(t, os.WriteFile(source, []byte(`#include <stdio.h>
#define main blank_main
int main(void);
#include "firmware/board_blank.c"
#undef main
int main(void)
{
    long i;
    int c;
    firmware_start(&the_bridge);
    for (i = 0; i < 300000; i++) {
        firmware_step(&the_bridge);
        while ((c = board_port_next()) >= 0)
            putchar(c);
    }
    return 0;
}
`), 0o600))
	for _, cc := range compilers(t) {
		out, err := exec.Command(compile(t, cc, "-O2", source, "firmware/firmware.c")).Output()
		require.NoError(t, err)
		counts, _ := tally(parse(t, string(out)))
		require.Equal(t, map[decode.Tag]int{decode.Hello: 31}, counts, "30 s")
	}
}

// A craft that is switched on fifty minutes after the bridge is heard at once: a
// task that had nothing to send must not lie half a turn of the clock behind.
func TestFirmwareHearsALateCraft(t *testing.T) {
	source := filepath.Join(t.TempDir(), "late.c")
	require.NoError(t, os.WriteFile(source, []byte(`#include <stdio.h>
#define main blank_main
#define board_micros blank_micros
#define board_craft blank_craft
int main(void);
#include "firmware/board_blank.c"
#undef main
#undef board_micros
#undef board_craft
static uint32_t now_us = 4282621618u;
static bool speaks;
uint32_t board_micros(void) { return now_us; }
bool board_craft(craft_reading *r)
{
    static const craft_reading still;
    *r = still;
    return speaks;
}
static void run(int steps, uint32_t step_us)
{
    int c;
    for (; steps > 0; steps--) {
        now_us += step_us;
        firmware_step(&the_bridge);
        while ((c = board_port_next()) >= 0)
            putchar(c);
    }
}
int main(void)
{
    firmware_start(&the_bridge);
    run(3000, 1000000u);
    speaks = true;
    run(200, 5000u);
    return 0;
}
`), 0o600))
	out, err := exec.Command(compile(t, compilers(t)[0], "-O2", source, "firmware/firmware.c")).Output()
	require.NoError(t, err)
	counts, lost := tally(parse(t, string(out)))
	require.Zero(t, lost)
	require.Equal(t, 100, counts[decode.Axes])
	require.Equal(t, 20, counts[decode.State])
}
