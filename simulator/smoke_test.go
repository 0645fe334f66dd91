package simulator

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/require"

	"tetherbell/decode"
)

// run plays a whole scenario and returns its lines.
func run(sc Scenario, seed uint64) []byte {
	b := New(sc, seed)
	var out []byte
	for done := false; !done; {
		out, _, done = b.Next(out)
	}
	return out
}

// Every line of a sound link decodes, whatever goes wrong with the craft, and
// its counter leaves nothing out.
func TestEveryLineDecodes(t *testing.T) {
	for _, sc := range List() {
		if sc.Name == "noisy-link" {
			continue
		}
		t.Run(sc.Name, func(t *testing.T) {
			var d decode.Decoder
			var s decode.Sample
			var seen [decode.TagCount]int
			var seq uint16
			for line := range bytes.Lines(run(sc, 1)) {
				require.LessOrEqual(t, len(line), 240)
				require.NoError(t, d.Decode(bytes.TrimSuffix(line, []byte("\n")), &s), "%s", line)
				require.Equal(t, seq, s.Seq)
				seq++
				seen[s.Tag]++
			}
			for tag := decode.Unknown + 1; tag < decode.TagCount; tag++ {
				if tag != decode.Note {
					require.NotZero(t, seen[tag], tag.String())
				}
			}
		})
	}
}
