package report

import (
	"bytes"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

var keep = flag.String("keep", "", "put the pages of the tests into this folder, for a look")

// A written is a Report or a Comparison.
type written interface {
	Write(w io.Writer, f Format) error
}

// rendered is a page in one form, as a string.
func rendered(t *testing.T, r written, f Format) string {
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
