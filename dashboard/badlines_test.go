package dashboard

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestListHasBadLinesByCause: where there are any.
func TestListHasBadLinesByCause(t *testing.T) {
	f := ailing()
	text := func() string {
		var all []string
		for _, l := range listLines(f, &look{}, 80) {
			all = append(all, l.text)
		}
		return strings.Join(all, "\n")
	}
	assert.NotContains(t, text(), "BAD LINES")
	f.Status.BadCauses = "299 out of range, 2 bad checksum"
	assert.Contains(t, text(), "BAD LINES\n  299 out of range, 2 bad checksum\n")
}
