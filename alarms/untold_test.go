package alarms

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/alarms/detect"
	"tetherbell/decode/craft"
)

// TestUntold: who begins to watch a bridge that runs hears what the craft is within
// its ten seconds. Until then somebody is to wait, not after it, and never where a
// craft file was given.
func TestUntold(t *testing.T) {
	names := func(s *Snapshot) (out []string) {
		for _, l := range s.Untold {
			out = append(out, l.Name)
		}
		return out
	}
	all := []string{"settings-slip", "pack-sag"} // this bench has no load cells: near-lift lacks more
	look := func(r *rig) *Snapshot {
		s := new(Snapshot)
		r.e.Snapshot(s)
		return s
	}
	r := newRig(t, 20)
	r.e = New(craft.Craft{}, Options{})
	r.run(5, usual(0)...)
	assert.ElementsMatch(t, all, names(look(r)))
	assert.True(t, look(r).Awaited)
	r.craftLine("Marsh Heron", "quad-x", 4, 14, 3, 178, 655, 4)
	r.setLine("idle_ready", 0.08)
	r.run(2, usual(0)...)
	assert.Empty(t, names(look(r)), "it has come")
	assert.False(t, look(r).Awaited)

	r = newRig(t, 20)
	r.e = New(craft.Craft{}, Options{})
	r.run(10, usual(0)...)
	assert.True(t, look(r).Awaited)
	r.run(2, usual(0)...)
	assert.ElementsMatch(t, all, names(look(r)), "this bridge never says it")
	assert.False(t, look(r).Awaited, "nobody waits for ever")

	r = newRig(t, 20)
	r.e = New(craft.Craft{Name: "Marsh Heron", MassG: 655, Cells: 4}, Options{})
	r.run(5, usual(0)...)
	assert.Equal(t, []string{"settings-slip"}, names(look(r)), "the file knows the rest")
	assert.False(t, look(r).Awaited)
	assert.False(t, detect.Untold("no load lines"))
}
