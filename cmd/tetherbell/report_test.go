package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/account"
	"tetherbell/alarms/compare"
	"tetherbell/decode/craft"
	"tetherbell/link"
)

// The same recording gives the same page. The pages in testdata/reports are to
// be read when they change.
func TestReportGolden(t *testing.T) {
	reports, err := filepath.Abs("../../testdata/reports")
	require.NoError(t, err)
	t.Chdir("../../testdata/sessions") // the page names the recording as it was given
	for _, name := range []string{"gains-high", "noisy-link"} {
		t.Run(name, func(t *testing.T) {
			var out, errs bytes.Buffer
			code := run(context.Background(), []string{"report", "--format", "markdown", "-o", "-", name + ".bell"}, strings.NewReader(""), &out, &errs)
			require.Equal(t, exitOK, code, errs.String())
			assert.Empty(t, errs.String())
			golden := filepath.Join(reports, name+".md")
			if *update {
				require.NoError(t, os.MkdirAll(reports, 0o755))
				require.NoError(t, os.WriteFile(golden, out.Bytes(), 0o600))
			}
			want, err := os.ReadFile(golden)
			require.NoError(t, err)
			assert.Equal(t, string(want), out.String())
		})
	}
}

// The same two recordings give the same page of before and after.
func TestComparisonGolden(t *testing.T) {
	golden, err := filepath.Abs("../../testdata/reports/gains-halved.md")
	require.NoError(t, err)
	t.Chdir(t.TempDir())
	told := func(args ...string) []byte {
		var out, errs bytes.Buffer
		require.Equal(t, exitOK, run(context.Background(), args, strings.NewReader(""), &out, &errs), errs.String())
		assert.Empty(t, errs.String())
		return out.Bytes()
	}
	require.NoError(t, os.WriteFile("gains-high.bell", told("simulate", "--fast", "gains-high", "--seed", "3"), 0o600))
	require.NoError(t, os.WriteFile("gains-halved.bell", told("simulate", "--fast", "gains-high", "--seed", "3", "--set", "gains.scale=0.5"), 0o600))
	got := told("report", "--format", "markdown", "-o", "-", "gains-high.bell", "gains-halved.bell")
	if *update {
		require.NoError(t, os.WriteFile(golden, got, 0o600))
	}
	want, err := os.ReadFile(golden)
	require.NoError(t, err)
	assert.Equal(t, string(want), string(got))
}

// What a comparison takes beside an account is the same whether the alarms are
// those of the day or are worked out again, and it counts those that the
// account tells.
func TestComparingTakesBothWays(t *testing.T) {
	for _, name := range []string{"gains-high", "noisy-link", "first-run"} {
		t.Run(name, func(t *testing.T) {
			file := recordedDay(t, craft.Craft{Name: "Heron", MassG: 700}, name, 2)
			con := &console{out: io.Discard, err: io.Discard}
			var then, again comparing
			a, err := accountOf(context.Background(), con, file, nil, false, &then)
			require.NoError(t, err)
			b, err := accountOf(context.Background(), con, file, nil, true, &again)
			require.NoError(t, err)
			require.Equal(t, judgedThen, a.Session.Judged)
			require.Equal(t, judgedAgain, b.Session.Judged)
			assert.NotEmpty(t, then.run.Digest)
			assert.Equal(t, then.run.Digest, again.run.Digest)
			assert.False(t, then.run.Start.IsZero())
			assert.NotEmpty(t, a.Alarms)
			assert.Equal(t, compare.Between(then.run, then.run), compare.Between(again.run, again.run))
			rang := map[string]int{}
			for _, one := range compare.Between(then.run, again.run).Alarms {
				assert.Equal(t, one.Before, one.After)
				rang[one.Name] = one.After
			}
			told := map[string]int{}
			for _, one := range b.Alarms {
				told[one.Name]++
			}
			assert.Equal(t, told, rang)
			assert.Equal(t, b.LengthS, a.LengthS)
			assert.Positive(t, compare.Between(then.run, again.run).A.LengthS)
		})
	}
}

// A device is written to, not replaced by a file.
func TestReportLeavesDevices(t *testing.T) {
	if _, err := os.Stat(os.DevNull); err != nil || filepath.Separator != '/' {
		t.Skip("no device to write to here")
	}
	var out, errs bytes.Buffer
	code := run(context.Background(), []string{"report", "-o", os.DevNull, "../../testdata/sessions/calm.bell"}, strings.NewReader(""), &out, &errs)
	require.Equal(t, exitOK, code, errs.String())
	s, err := os.Stat(os.DevNull)
	require.NoError(t, err)
	assert.False(t, s.Mode().IsRegular())
}

// One recording given twice is found out, be it under another name or
// compressed; two in the wrong order are, by when they began.
func TestComparisonOfOddPairs(t *testing.T) {
	t.Chdir(t.TempDir())
	told := func(args ...string) string {
		var out, errs bytes.Buffer
		require.Equal(t, exitOK, run(context.Background(), args, strings.NewReader(""), &out, &errs), errs.String())
		return out.String()
	}
	lines := told("simulate", "--fast", "gains-high", "--seed", "7")
	headed := func(name, start string) {
		head := `#session {"tool":"tetherbell","version":"0.0.1","start_utc":"` + start + `"}` + "\n"
		require.NoError(t, os.WriteFile(name, []byte(head+lines+"#end {}\n"), 0o600))
	}
	headed("one.bell", "2026-11-25T07:41:11Z")
	headed("early.bell", "2026-11-24T07:41:11Z")
	text, err := os.ReadFile("one.bell")
	require.NoError(t, err)
	require.NoError(t, os.WriteFile("copy.bell", text, 0o600))
	_, err = link.Squeeze(context.Background(), "copy.bell")
	require.NoError(t, err)
	verdict := func(a, b string, more ...string) string {
		page := told(append([]string{"report", "--format", "markdown", "-o", "-", a, b}, more...)...)
		_, page, _ = strings.Cut(page, "## Verdict")
		page, _, _ = strings.Cut(page, "\n## ")
		return page
	}
	const same, backwards = "are the same recording", "The second began before the first: are they in the right order?"
	for _, more := range [][]string{nil, {"--again"}} {
		v := verdict("one.bell", "copy.bell.zst", more...)
		assert.Contains(t, v, same)
		assert.Contains(t, v, "Name two recordings")
		assert.NotContains(t, v, "longer")
		assert.NotContains(t, v, backwards)
	}
	v := verdict("one.bell", "early.bell")
	assert.NotContains(t, v, same)
	assert.Contains(t, v, "- **Warning:** "+backwards)
	assert.NotContains(t, verdict("early.bell", "one.bell"), backwards)
}

// A session that rang high is never told as a step forward from one that did
// not, whatever is better in its holds.
func TestComparisonMindsAlarms(t *testing.T) {
	t.Chdir(t.TempDir())
	var out, errs bytes.Buffer
	for _, name := range []string{"nose-heavy", "gains-high"} {
		out.Reset()
		require.Equal(t, exitOK, run(context.Background(), []string{"simulate", "--fast", name, "--seed", "7"}, strings.NewReader(""), &out, &errs), errs.String())
		require.NoError(t, os.WriteFile(name+".bell", out.Bytes(), 0o600))
	}
	out.Reset()
	require.Equal(t, exitOK, run(context.Background(), []string{"report", "--format", "markdown", "-o", "-", "nose-heavy.bell", "gains-high.bell"}, strings.NewReader(""), &out, &errs), errs.String())
	page := out.String()
	assert.NotContains(t, page, "Keep the change")
	assert.NotContains(t, page, "BETTER.")
	assert.Contains(t, page, "rising-oscillation rang at high priority in gains-high.bell, nothing over medium in nose-heavy.bell;")
	assert.Contains(t, page, "lower the gains of roll: halve them, then come up in small steps. Do not take gains-high.bell as a step forward")
	assert.Contains(t, page, "| oscillation in roll output | ? too short to tell |")
}

// An account has room for a thousand alarms: one that rang high after them still
// makes its session the worse one.
func TestComparingMindsUnlistedAlarms(t *testing.T) {
	session := func(last string) *compare.Run {
		acc := account.New(craft.Craft{}, 0)
		var c comparing
		c.begin(craft.Craft{})
		say := func(alarm, change, priority, where string) {
			require.True(t, acc.Told(fmt.Appendf(nil, `{"t":1,"alarm":%q,"change":%q,"priority":%q,"where":%q,"value":1,"limit":1,"text":"x","detail":{"unit":"1"}}`,
				alarm, change, priority, where)))
		}
		for range 1000 {
			say("bad-link", "raised", "low", "link")
			say("bad-link", "cleared", "low", "link")
		}
		say("pack-sag", "raised", last, "pack")
		c.end("x.bell", acc, account.Ending{})
		return c.run
	}
	r := compare.Between(session("low"), session("high"))
	require.NotNil(t, r.Louder)
	assert.Equal(t, compare.Louder{Session: "x.bell", After: true, Alarms: []string{"pack-sag"}, Priority: "high", Other: "low"}, *r.Louder)
	assert.Nil(t, compare.Between(session("low"), session("low")).Louder)
}
