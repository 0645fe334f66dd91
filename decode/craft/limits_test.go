package craft

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The longest list that is taken, and what would take a reader hours: both are
// done within the time of a glance (seconds here, for a machine that is busy).
func TestListLimits(t *testing.T) {
	var longest strings.Builder
	for i := range maxSettings {
		fmt.Fprintf(&longest, "setting_number_%04d = %d\n", i, i)
	}
	for _, c := range []struct{ name, text, want string }{
		{"longest", longest.String(), ""},
		{"one too many", longest.String() + "x = 1\n", "over 5000 settings"},
		{"very many", longest.String() + strings.Repeat("y = 1\n", 100_000), "over 5000 settings"},
		{"dots", strings.Repeat("a.", 250_000) + "a = 1\n", "a name of 250001 parts"},
		{"dots in a table's name", "[" + strings.Repeat("a.", 250_000) + "a]\nx = 1\n", "a name of 250001 parts"},
		{"dots in an inline table", "x = {" + strings.Repeat("a.", 250_000) + "a = 1}\n", "a name of 250001 parts"},
		{"brackets", "a = " + strings.Repeat("[", 500_000), "nested more than"},
		{"tables in tables", "a = " + strings.Repeat("{b=", 150_000) + "1" + strings.Repeat("}", 150_000), "nested more than"},
		{"a long name", strings.Repeat("a", 1_000_000) + " = 1\n", "is not a name"},
		{"a long number", "a = " + strings.Repeat("9", 1_000_000) + "\n", "a"},
	} {
		var all []Setting
		var err error
		took := time.Hour
		for range 3 { // the soonest: a machine may stand still for longer than it should take
			begin := time.Now()
			all, err = ParseSettingsTOML([]byte(c.text))
			if took = min(took, time.Since(begin)); took < 20*time.Second {
				break
			}
		}
		assert.Less(t, took, 20*time.Second, c.name)
		if c.want == "" {
			require.NoError(t, err, c.name)
			assert.Len(t, all, maxSettings)
			assert.Equal(t, maxSettings, all[maxSettings-1].Line)
			continue
		}
		require.ErrorContains(t, err, c.want, c.name)
		assert.Less(t, len(err.Error()), 500, c.name)
	}
}
