package alarms_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/alarms/sweep"
	"tetherbell/decode/craft"
	"tetherbell/simulator"
)

// TestWhatRingsIsAtItsLimit: at the moment when an alarm of medium or high
// priority is raised, what the screen shows of its distance is at the limit or
// past it: the list of the nearest never calls far what rings. An oscillation
// rings because it grows, before its limit.
func TestWhatRingsIsAtItsLimit(t *testing.T) {
	rang := map[detect.Kind]bool{}
	for _, name := range []string{"weak-motor", "leads-crossed", "blade-breaks", "motor-locks", "old-pack", "noisy-link", "tip-over", "stand-load", "propeller-off"} {
		sc, err := simulator.Load(name)
		require.NoError(t, err)
		sim := simulator.New(sc, 1)
		e := alarms.New(craft.Craft{Hold: craft.Hold(sc.Craft.Hold), HoldRatedN: sc.Craft.HoldRatedN}, alarms.Options{})
		sweep.FeedEach(sim, e, func(events []alarms.Event) {
			for _, ev := range events {
				if ev.Change == alarms.Raised && ev.Priority >= detect.Medium {
					atItsLimit(t, name, e, &ev)
					rang[ev.Kind] = true
				}
			}
		})
	}
	for _, k := range []detect.Kind{detect.OutputImbalance, detect.TipOver, detect.NearLift, detect.VibrationStep,
		detect.RotorLost, detect.PackSag, detect.BadLink, detect.GroundThrust} {
		assert.True(t, rang[k], "%s was to ring", k)
	}
}

func atItsLimit(t *testing.T, name string, e *alarms.Engine, ev *alarms.Event) {
	if ev.Kind == detect.RisingOscillation || ev.Kind == detect.StaleLink { // a silence that has just ended
		return
	}
	var s alarms.Snapshot
	e.Snapshot(&s)
	has := false
	for _, r := range s.Reaches {
		has = has || r.Kind == ev.Kind
		if r.Kind == ev.Kind && r.Where&ev.Where != 0 && r.Share >= 0.99 {
			return
		}
	}
	assert.False(t, has, "%s: %s", name, ev.Plain())
}

// TestNoActionLeadsAHandToRotors: while the craft is armed, or may be, no
// alarm's action touches it before the rotors stand.
func TestNoActionLeadsAHandToRotors(t *testing.T) {
	if testing.Short() {
		t.Skip("takes some seconds")
	}
	touching := []string{"check", "move", "cover", "slack", "feel", "take", "look", "unplug", "count", "balance", "find", "free"}
	guarded := 0
	for _, name := range []string{"nose-heavy", "weak-motor", "temp-hangs", "stand-lets-go", "windup", "leads-crossed", "first-run", "noisy-link", "motor-locks", "old-pack"} {
		sc, err := simulator.Load(name)
		require.NoError(t, err)
		e := alarms.New(craft.Craft{Hold: craft.Hold(sc.Craft.Hold), HoldRatedN: sc.Craft.HoldRatedN}, alarms.Options{})
		sweep.FeedEach(simulator.New(sc, 1), e, func(events []alarms.Event) {
			for _, ev := range events {
				if e.State().Armed == detect.No || ev.Change != alarms.Raised && ev.Change != alarms.Worsened {
					continue
				}
				for part := range strings.SplitSeq(ev.Story.Action, "; ") {
					if strings.HasPrefix(part, alarms.OnceStill) {
						guarded++
						continue
					}
					for _, word := range touching {
						assert.False(t, strings.HasPrefix(part, word+" "), "%s: %s", name, ev.Plain())
					}
				}
			}
		})
	}
	assert.Greater(t, guarded, 3)
}
