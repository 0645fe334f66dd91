package main

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/link"
)

// What a recording ends with begins as the summary of --json does, to the byte.
func TestEnd(t *testing.T) {
	f, err := os.Open("../../testdata/sessions/gains-high.bell")
	require.NoError(t, err)
	defer f.Close()
	k := checker{con: &console{err: &bytes.Buffer{}}}
	d, err := k.play(context.Background(), link.NewSession(f), "x", nil)
	require.NoError(t, err)
	sum := d.eng.Summary()
	want := string(sum.AppendJSON(nil, "a.bell"))
	got := appendEnd(nil, d, "a.bell")
	assert.True(t, strings.HasPrefix(string(got), strings.TrimSuffix(want, "}")+`,"craft":"Marsh Heron","verdict":"high","worst":{"alarm":"rising-oscillation",`), string(got))
	e := parseEnding(got)
	assert.Equal(t, taleOf(d), e.tale)
	assert.InDelta(t, 8.796, e.Summary.Duration, 1e-9)
	for _, text := range []string{"", "{}", "[]", "{", `{"summary":7}`, `{"verdict":{}}`} {
		assert.Empty(t, parseEnding([]byte(text)).Verdict, text)
	}
}

// A long recording is told by its two ends, plain and compressed; what lacks
// an end is not judged unasked, for that would take long.
func TestSessionsOfLongRecordings(t *testing.T) {
	dir := t.TempDir()
	const headLine = `#session {"tool":"tetherbell","start_utc":"2026-11-25T07:41:11Z","craft":{"name":"Old Crow"}}` + "\n"
	const endLine = `#end {"summary":{"lines":7,"duration_s":3601.5},"craft":"Old Crow","verdict":"medium","worst":{"alarm":"pack-sag","where":"pack","priority":"medium","t":12.5},"ends_armed":false,"not_fully_watched":false}` + "\n"
	var body strings.Builder
	for ms := 0; body.Len() < smallText; ms += 100 {
		fmt.Fprintf(&body, "#at %d.%03d\nhello,0,0,1,bench-1,42*A1C42CDB\n", ms/1000, ms%1000)
	}
	put := func(name string, parts ...string) {
		path := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(path, []byte(strings.Join(parts, "")), 0o600))
		require.NoError(t, os.Chtimes(path, time.Now(), time.Now().Add(-time.Hour)))
	}
	put("closed.bell", headLine, body.String(), endLine)
	put("went-on.bell", headLine, endLine, body.String(), endLine, "#at 9999.0\n")
	put("torn.bell", headLine, body.String(), endLine[:50])
	put("open.bell", "craft,1,12,Marsh Heron,quad-x,4,14,3,178,655,4*0F9FABD2\n", strings.Repeat("hello,0,0,1,bench-1,42*A1C42CDB\n", 400_000))
	put("20261125T074112Z_000.bell", headLine[:40], "\n", body.String(), endLine)
	put("squeezed.bell", headLine, body.String(), endLine)
	list := func(args ...string) map[string]row {
		t.Helper()
		var out, errs bytes.Buffer
		require.Zero(t, run(context.Background(), append([]string{"sessions", dir}, args...), nil, &out, &errs), errs.String())
		rows := map[string]row{}
		for line := range strings.Lines(out.String()) {
			var r row
			require.NoError(t, json.Unmarshal([]byte(line), &r), line)
			rows[filepath.Base(r.File)] = r
		}
		return rows
	}
	_, err := link.Squeeze(context.Background(), filepath.Join(dir, "squeezed.bell"))
	require.NoError(t, err)
	rows := list("--json")
	require.Len(t, rows, 6)
	for name, want := range map[string][4]string{ // state, verdict, craft, start
		"closed.bell":               {stateClosed, "medium", "Old Crow", "2026-11-25T07:41:11Z"},
		"squeezed.bell.zst":         {stateClosed, "medium", "Old Crow", "2026-11-25T07:41:11Z"},
		"went-on.bell":              {stateTorn, "", "Old Crow", "2026-11-25T07:41:11Z"},
		"torn.bell":                 {stateTorn, "", "Old Crow", "2026-11-25T07:41:11Z"},
		"20261125T074112Z_000.bell": {stateClosed, "medium", "Old Crow", "2026-11-25T07:41:12Z"},
	} {
		r := rows[name]
		assert.Equal(t, want, [4]string{r.State, r.Verdict, r.Craft, r.Start}, name)
		if r.Verdict != "" {
			assert.Equal(t, &taleRing{Alarm: "pack-sag", Where: "pack", Priority: "medium", T: 12.5}, r.Worst, name)
			assert.InDelta(t, 3601.5, r.Duration, 1e-9)
		} else {
			assert.Contains(t, r.Remark, "not judged: tetherbell check ")
			assert.Nil(t, r.Worst)
		}
	}
	assert.Equal(t, stateOpen, rows["open.bell"].State)
	assert.Equal(t, "Marsh Heron", rows["open.bell"].Craft, "the bridge's own line, where no header names it")
	judged := list("--json", "--judge")
	assert.Equal(t, "quiet", judged["torn.bell"].Verdict)
	assert.Equal(t, stateTorn, judged["torn.bell"].State)
	assert.Equal(t, "quiet", judged["open.bell"].Verdict)
	assert.Equal(t, "medium", judged["closed.bell"].Verdict, "of the day")
}

// Little compressed text may come to any length: a list stops reading it, and
// judges it when it is asked to.
func TestSessionsOfShortLongText(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "long.bell")
	text := strings.Repeat("hello,0,0,1,bench-1,42*A1C42CDB\n", smallText/32+1) + "#end {}\n"
	require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	done, err := link.Squeeze(t.Context(), path)
	require.NoError(t, err)
	raw, err := os.ReadFile(done.Path)
	require.NoError(t, err)
	// Without its table nobody knows how long it is. The seekable format ends
	// with a frame of 8 bytes of head, the entries, and a footer: their number
	// (4 bytes), a flag byte (its highest bit: checksums) and a magic number (4)
	// (facebook/zstd, contrib/seekable_format/zstd_seekable_compression_format.md;
	// from memory).
	n, entry := int(binary.LittleEndian.Uint32(raw[len(raw)-9:])), 8
	if raw[len(raw)-5]&0x80 != 0 {
		entry = 12
	}
	raw = raw[:len(raw)-9-n*entry-8]
	require.Less(t, len(raw), smallText/4)
	require.NoError(t, os.WriteFile(done.Path, raw, 0o600))
	code, out, errs := told("sessions", dir)
	require.Zero(t, code, errs)
	assert.Contains(t, out, "not judged: tetherbell check "+done.Path)
	code, out, errs = told("sessions", "--judge", dir)
	require.Zero(t, code, errs)
	assert.Contains(t, out, "  quiet  ")

	r := &smallReader{strings.NewReader("12345"), 5}
	_, err = io.ReadAll(r)
	assert.ErrorIs(t, err, errNotSmall)
}

// The verdict of one that ends armed is not quiet alone, and times are rounded.
func TestSessionCells(t *testing.T) {
	for _, c := range []struct {
		tale
		duration          float64
		verdict, len, odd string
	}{
		{tale{Verdict: quiet, Armed: true}, 39.999, "ends ARMED, quiet", "0:00:40", ""},
		{tale{Verdict: "low", Armed: true}, 39.4, "ends ARMED, low", "0:00:39", ""},
		{tale{Verdict: "high", Armed: true}, 3599.5, "HIGH", "1:00:00", "ends ARMED"},
		{tale{Verdict: quiet}, 59.49, "quiet", "0:00:59", ""},
		{tale{Verdict: "empty"}, 0, "empty", "-", ""},
	} {
		r := row{tale: c.tale, Duration: c.duration}
		cells := append(r.cells(), "")
		assert.Equal(t, []string{c.len, c.verdict, c.odd}, []string{cells[1], cells[3], cells[6]})
	}
}

// A recording that was accepted is the same one when it is compressed: its
// checksum is that of the text.
func TestAcceptCompressed(t *testing.T) {
	ownFolder(t)
	path := played(t, t.TempDir(), "calm", 1)
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, append(text, "#end {}\n"...), 0o600))
	code, _, errs := told("accept", path)
	require.Zero(t, code, errs)
	code, out, errs := told("sessions", "--compress", filepath.Dir(path))
	require.Zero(t, code, errs)
	require.Contains(t, out, path+".zst: ")
	require.NoFileExists(t, path)
	code, _, errs = told("accept", path+".zst")
	assert.Equal(t, exitTrouble, code)
	assert.Contains(t, errs, "this recording is in the baseline")
}
