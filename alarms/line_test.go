package alarms_test

import (
	"fmt"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/alarms/sweep"
	"tetherbell/decode/craft"
	"tetherbell/simulator"
)

// lineSeeds is how many seeds are played: 100 with TETHERBELL_SEEDS=100.
func lineSeeds() int {
	if n, err := strconv.Atoi(os.Getenv("TETHERBELL_SEEDS")); err == nil && n > 0 {
		return n
	}
	if quick || testing.Short() {
		return 3
	}
	return 11
}

// TestPoleCountIsNamed: whatever the craft file says, the count that the
// simulated motors have is named, and no other before it: in sound craft and
// shaken ones, on streams from 200 a second, whole and spoilt, over all counts
// from 8 to 28 and wrong ones among them, the octaves too.
func TestPoleCountIsNamed(t *testing.T) {
	names := []string{"calm", "unbalanced", "bent-blade", "poles-wrong", "hexa", "tri", "stand"}
	for seed := range lineSeeds() {
		poles := 8 + 2*(seed%11)
		file := 8 + 2*((seed*7+seed/11*3+3)%11)
		name := names[seed%len(names)]
		rate := []float64{200, 400, 1000}[seed/2%3]
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			t.Parallel()
			sc, err := simulator.Load(name)
			require.NoError(t, err)
			sc.Craft.Poles = poles
			sweep.SetRate(&sc, rate)
			sc.Link.Flipped = sweep.BadShare * float64(seed%2)
			kept := sc.Events[:0]
			for _, e := range sc.Events {
				if sc.Seconds = 18; e.At < sc.Seconds {
					kept = append(kept, e)
				}
			}
			sc.Events = kept
			require.NoError(t, sc.Check())
			events, _ := sweep.Play(sc, craft.Craft{Poles: file}, uint64(seed)+500)
			var said []any
			for _, e := range events {
				if e.Kind != detect.RotorLine || e.Where != detect.Craft || e.Change != alarms.Raised {
					continue
				}
				assert.Equal(t, "fits_poles", e.Story.More[1].Name, e.Plain())
				assert.InDelta(t, float64(file)/float64(poles), e.Value, 1e-9)
				assert.Equal(t, detect.Low, e.Priority)
				said = append(said, e.Story.More[1].Value)
			}
			if file == poles {
				assert.Empty(t, said, "%s has %d poles", name, poles)
			} else {
				assert.Equal(t, []any{poles}, said, "%s, the file says %d", name, file)
			}
		})
	}
}

// TestFoldIsTold: at 60 lines a second the rotors' shake stands where loops
// swing, and the better pace that is named does away with it.
func TestFoldIsTold(t *testing.T) {
	sc, err := simulator.Load("slow-stream")
	require.NoError(t, err)
	events, _ := sweep.Play(sc, craft.Craft{}, 3)
	told := 0.0
	for _, e := range events {
		if e.Kind != detect.RotorLine {
			continue
		}
		t.Log(e.Plain())
		assert.Equal(t, detect.Craft, e.Where)
		if e.Change == alarms.Raised {
			for _, f := range e.Story.More {
				if f.Name == "better_rate_hz" {
					told = f.Value.(float64)
				}
			}
		}
	}
	require.NotZero(t, told)
	sc.Rates.Axes = told
	events, _ = sweep.Play(sc, craft.Craft{}, 3)
	for _, e := range events {
		assert.NotEqual(t, detect.RotorLine, e.Kind, e.Plain())
	}
}
