package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/decode"
)

const sharedSessions = "../../testdata/sessions"

// goodSamples reads the good lines of a recording without the code under test:
// what begins with # is the host's.
func goodSamples(t *testing.T, path string) (out []decode.Sample) {
	t.Helper()
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	var dec decode.Decoder
	for line := range bytes.Lines(text) {
		var s decode.Sample
		if line[len(line)-1] == '\n' && dec.Decode(line[:len(line)-1], &s) == nil {
			out = append(out, s)
		}
	}
	return out
}

func csvRows(t *testing.T, path string) [][]string {
	t.Helper()
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	return rows
}

// Every good line of every recording is a row: in order, and number for number.
func TestExportEveryLine(t *testing.T) {
	files, err := filepath.Glob(sharedSessions + "/*.bell")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, file := range files {
		out := t.TempDir()
		code, _, errs := told("export", file, "-o", out)
		require.Equal(t, 0, code, errs)
		want := map[decode.Tag][]decode.Sample{}
		samples := goodSamples(t, file)
		for _, s := range samples {
			want[s.Tag] = append(want[s.Tag], s)
		}
		for tag := decode.Unknown + 1; tag < decode.TagCount; tag++ {
			path := filepath.Join(out, tag.String()+".csv")
			if len(want[tag]) == 0 {
				assert.NoFileExists(t, path)
				continue
			}
			rows := csvRows(t, path)
			require.Len(t, rows[1:], len(want[tag]), path)
			for i, row := range rows[1:] {
				requireRow(t, &want[tag][i], row)
			}
		}
	}
}

func requireRow(t *testing.T, s *decode.Sample, row []string) {
	t.Helper()
	for i, f := range decode.Fields(s.Tag) {
		cell := row[i+1]
		switch v, ok := s.Get(max(f.Slot, 0)); {
		case f.Kind == decode.Word:
			require.Equal(t, string(s.Word), cell)
		case f.Slot < 0:
			require.Equal(t, string(s.Text), cell)
		case !ok:
			require.Empty(t, cell)
		default:
			n, err := strconv.ParseFloat(cell, 64)
			require.NoError(t, err)
			require.Equal(t, v, n, f.Name)
		}
	}
}

// Where a bridge neither restarts nor is silent, t is its own time since the
// first line.
func TestExportTime(t *testing.T) {
	out := t.TempDir()
	file := sharedSessions + "/calm.bell"
	code, _, errs := told("export", file, "-o", out)
	require.Equal(t, 0, code, errs)
	samples := goodSamples(t, file)
	next := map[decode.Tag]int{}
	rows := map[decode.Tag][][]string{}
	for _, s := range samples {
		if rows[s.Tag] == nil {
			rows[s.Tag] = csvRows(t, filepath.Join(out, s.Tag.String()+".csv"))[1:]
		}
		us := s.Time - samples[0].Time
		require.Equal(t, fmt.Sprintf("%d.%06d", us/1e6, us%1e6), rows[s.Tag][next[s.Tag]][0])
		next[s.Tag]++
	}
}

// What the table of alarms says is what check says.
func TestExportAlarmsAsCheck(t *testing.T) {
	seen := 0
	for _, name := range []string{"idle-slip", "noisy-link", "hushed", "gains-high"} {
		file, out := sharedSessions+"/"+name+".bell", t.TempDir()
		code, _, errs := told("export", file, "-o", out)
		require.Equal(t, 0, code, errs)
		_, text, _ := told("check", "--json", file)
		rows := csvRows(t, filepath.Join(out, "alarms.csv"))[1:]
		lines := strings.Split(strings.TrimSpace(text), "\n")
		require.Len(t, rows, len(lines)-1, name)
		for i, row := range rows {
			var ev struct {
				T, Value, Limit                      json.Number
				Alarm, Change, Priority, Where, Text string
				Detail                               json.RawMessage
			}
			require.NoError(t, json.Unmarshal([]byte(lines[i]), &ev))
			assert.Equal(t, []string{ev.T.String() + "000", ev.Alarm, ev.Change, ev.Priority, ev.Where, ev.Value.String(), ev.Limit.String()}, row[:7])
			assert.Equal(t, ev.Text, row[8])
			assert.Equal(t, string(ev.Detail), row[13])
			seen++
		}
	}
	assert.Greater(t, seen, 5)
}

// A recording that has grown replaces its own tables; another of the same name
// does not, until it is forced to.
func TestExportGrown(t *testing.T) {
	dir := t.TempDir()
	file, out := filepath.Join(dir, "a.bell"), filepath.Join(dir, "out")
	whole, err := os.ReadFile(sharedSessions + "/calm.bell")
	require.NoError(t, err)
	half := whole[:bytes.LastIndexByte(whole[:len(whole)/2], '\n')+1]
	export := func(text []byte, args ...string) (int, string, string) {
		require.NoError(t, os.WriteFile(file, text, 0o600))
		return told(append([]string{"export", file, "-o", out}, args...)...)
	}
	code, said, errs := export(half)
	require.Equal(t, 0, code, errs)
	assert.Contains(t, said, "written to")
	code, said, errs = export(whole)
	require.Equal(t, 0, code, errs)
	assert.Contains(t, said, "replaced in")
	rows := len(csvRows(t, filepath.Join(out, "axes.csv")))

	other, err := os.ReadFile(sharedSessions + "/stop-late.bell")
	require.NoError(t, err)
	for _, text := range [][]byte{other, half, bytes.Replace(whole, []byte("\n"), []byte("\n\n"), 1)} {
		code, _, errs = export(text)
		assert.Equal(t, exitTrouble, code)
		assert.Contains(t, errs, "is of another recording, a.bell")
		assert.Contains(t, errs, "hint: write elsewhere with -o DIR, or replace it with --force")
		assert.Len(t, csvRows(t, filepath.Join(out, "axes.csv")), rows)
	}
	code, said, errs = export(other, "--force")
	require.Equal(t, 0, code, errs)
	assert.Contains(t, said, "replaced in")
}

// A stream that lags itself is not promised to lie in the order of t.
func TestExportOrder(t *testing.T) {
	var text []byte
	for i, us := range []uint32{1_000_000, 1_040_000, 1_010_000, 1_100_000} {
		s := decode.Sample{Tag: decode.Axes, Seq: uint16(2 * i), Time: us}
		text = decode.Append(text, &s)
		s = decode.Sample{Tag: decode.Load, Seq: uint16(2*i + 1), Time: 1_000_000 + uint32(i)}
		text = decode.Append(text, &s)
	}
	file := filepath.Join(t.TempDir(), "lag.bell")
	require.NoError(t, os.WriteFile(file, text, 0o600))
	s, err := surveyOf(t.Context(), file, 0)
	require.NoError(t, err)
	assert.False(t, s.info.Ordered[decode.Axes])
	assert.True(t, s.info.Ordered[decode.Out])
	assert.EqualValues(t, 8, s.info.Lines)
	assert.EqualValues(t, len(text), s.info.Bytes)
}

// An independent reader sees the same rows: Python's csv module.
func TestExportForeignCSV(t *testing.T) {
	python, err := exec.LookPath("python3")
	if err != nil {
		t.Skip("python3 is not here")
	}
	out := t.TempDir()
	code, _, errs := told("export", sharedSessions+"/streams.bell", "-o", out)
	require.Equal(t, 0, code, errs)
	for _, name := range []string{"axes", "note", "hello", "alarms", "recording"} {
		path := filepath.Join(out, name+".csv")
		if _, err := os.Stat(path); err != nil {
			continue
		}
		text, err := exec.Command(python, "-c", "import csv,json,sys; print(json.dumps(list(csv.reader(open(sys.argv[1], newline='')))))", path).Output()
		require.NoError(t, err)
		var rows [][]string
		require.NoError(t, json.Unmarshal(text, &rows))
		assert.Equal(t, csvRows(t, path), rows)
	}
}

// A SQL engine reads a whole folder with a filter on the partition, and computes
// what the lines themselves give.
func TestExportForeignParquet(t *testing.T) {
	command := strings.Fields(os.Getenv("TETHERBELL_PARQUET_READER"))
	if len(command) == 0 {
		t.Skip("TETHERBELL_PARQUET_READER names no reader, such as: node " +
			"testdata/parquet-reader.cjs, with NODE_PATH where its package lies")
	}
	dir := t.TempDir()
	const odd = "a b=c%ü '1'"
	for from, to := range map[string]string{"calm": "calm", "gains-high": odd, "streams": "20261125T074111Z"} {
		text, err := os.ReadFile(filepath.Join(sharedSessions, from+".bell"))
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(dir, to+".bell"), text, 0o600))
	}
	out := filepath.Join(dir, "out")
	code, _, errs := told("export", dir, "-o", out, "--format", "parquet")
	require.Equal(t, 0, code, errs)
	for _, c := range []struct {
		session string
		tag     decode.Tag
		slot    int
	}{
		{"calm", decode.Axes, decode.RateRoll}, {odd, decode.Axes, decode.ControlPitch}, {odd, decode.Out, 1},
		{"20261125T074111Z", decode.Accel, decode.ForceZ}, {"calm", decode.Out, 7}, {"calm", decode.Hello, decode.HelloBoot},
	} {
		name := columnOf(c.tag, c.slot)
		text, err := exec.Command(command[0], append(command[1:], out, c.tag.String(), c.session, name)...).Output()
		require.NoError(t, err)
		var got struct {
			Rows, Measured  int
			Low, High, Mean *float64
		}
		require.NoError(t, json.Unmarshal(text, &got), string(text))
		rows, vals := 0, []float64{}
		for _, s := range goodSamples(t, filepath.Join(dir, c.session+".bell")) {
			if s.Tag != c.tag {
				continue
			}
			if rows++; s.Has&(1<<c.slot) != 0 {
				vals = append(vals, s.Num[c.slot])
			}
		}
		t.Logf("session %q, %s.%s: %s", c.session, c.tag, name, bytes.TrimSpace(text))
		require.Positive(t, rows)
		assert.Equal(t, rows, got.Rows)
		assert.Equal(t, len(vals), got.Measured)
		if len(vals) == 0 {
			assert.Nil(t, got.Low)
			continue
		}
		low, high, sum := math.Inf(1), math.Inf(-1), 0.0
		for _, v := range vals {
			low, high, sum = min(low, v), max(high, v), sum+v
		}
		assert.Equal(t, low, *got.Low)
		assert.Equal(t, high, *got.High)
		mean := sum / float64(len(vals))
		assert.InDelta(t, mean, *got.Mean, 1e-12*(1+math.Abs(high-low)))
	}
}

func columnOf(tag decode.Tag, slot int) string {
	for _, f := range decode.Fields(tag) {
		if f.Slot == slot {
			return f.Name
		}
	}
	return ""
}
