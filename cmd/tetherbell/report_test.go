package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
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
