package alarms

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// TestAnotherCraftIsTold: behind a restart another craft may be at the same port.
func TestAnotherCraftIsTold(t *testing.T) {
	for _, c := range []struct {
		name   string
		motors float64
		says   string
	}{
		{"Marsh Heron", 4, ""},
		{"Marsh Heron", 6, "craft changed: 6 motors, was 4: is this the craft that you mean?"},
		{"Bittern", 4, `craft changed: "Bittern", was "Marsh Heron": is this the craft that you mean?`},
		{"Bittern", 6, `craft changed: "Bittern" with 6 motors, was "Marsh Heron" with 4: is this the craft that you mean?`},
	} {
		r := newRig(t, 20)
		r.e = New(craft.Craft{}, Options{})
		says := func(name string, motors float64) {
			s := decode.Sample{Tag: decode.Craft, Seq: r.seq, Time: uint32(r.bridge), Text: []byte(name), Word: []byte("x")}
			r.seq++
			s.Put(decode.CraftMotors, motors)
			r.e.Sample(&s, 60)
		}
		flows := []flow{axesFlow(200), outFlow(100), stateFlow(50, 0)}
		says("Marsh Heron", 4)
		r.run(5, flows...)
		r.restart()
		says(c.name, c.motors)
		r.run(3, flows...)
		says(c.name, c.motors)
		r.run(2, flows...)
		var told []string
		for _, l := range r.e.AllLosses() {
			if l.Names == nil && len(l.Why) > 5 && l.Why[:5] == "craft" {
				told = append(told, l.String())
			}
		}
		if c.says == "" {
			assert.Empty(t, told)
			continue
		}
		if assert.Len(t, told, 1, "once") {
			assert.Equal(t, c.says+" First: before you arm, start the watch anew for it", told[0])
		}
	}
}
