package report

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

var keep = flag.String("keep", "", "put the pages of the tests into this folder, for a look")

// rendered is a report in one form, as a string.
func rendered(t *testing.T, r *Report, f Format) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, r.Write(&b, f))
	if *keep != "" {
		name := filepath.Base(t.Name()) + f.Extension()
		require.NoError(t, os.WriteFile(filepath.Join(*keep, name), b.Bytes(), 0o600))
	}
	return b.String()
}

// sscan reads the place of a circle.
func sscan(s string, x, y *float64) (int, error) {
	return fmt.Sscanf(s, `class="weight" cx="%g" cy="%g"`, x, y)
}
