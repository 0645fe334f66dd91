package main

import (
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/compare"
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
	for _, name := range []string{"gains-high", "idle-slip", "silence"} {
		t.Run(name, func(t *testing.T) {
			file := "../../testdata/sessions/" + name + ".bell"
			con := &console{out: io.Discard, err: io.Discard}
			var then, again comparing
			a, err := accountOf(context.Background(), con, file, nil, false, &then)
			require.NoError(t, err)
			b, err := accountOf(context.Background(), con, file, nil, true, &again)
			require.NoError(t, err)
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
