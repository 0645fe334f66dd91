package detect

import (
	"testing"

	"tetherbell/decode"
)

func TestSettingsSlip(t *testing.T) {
	for _, tt := range []struct {
		name  string
		file  float64 // idle_ready of the craft file
		value float64 // of the set line; 0 no line
		armed []float64
		want  Priority
	}{
		{"as it should be", 0, 0.08, state(0, 0, 1, 0), None},
		{"at the limit", 0, 0.20, state(0, 0, 1, 0), None},
		{"just over it, disarmed", 0, 0.201, state(0, 0, 1, 0), Medium},
		{"ten times too high, armed", 0, 0.8, state(1, 0, 1, 0), High},
		{"armed not known", 0, 0.8, state(no, 0, 1, 0), Medium},
		{"the craft file says otherwise", 0.08, 0.8, state(0, 0, 1, 0), Medium},
		{"the craft file is the slip", 0.8, 0, state(0, 0, 1, 0), Medium},
		{"the craft file is wrong, the craft is not", 0.8, 0.08, state(0, 0, 1, 0), None},
		{"not measured", 0, no, state(1, 0, 1, 0), None},
	} {
		t.Run(tt.name, func(t *testing.T) {
			c := heron
			c.IdleReady = tt.file
			tr := newTrial(NewSettingsSlip(), c)
			tr.feed(0, decode.State, 10, tt.armed)
			want := 0.0
			if tt.value != 0 {
				if tt.file == 0 {
					tr.silent(t)
				}
				tr.run(1, 1.001, stream{decode.Set, 1, 0, 0, steady(tt.value)})
				want = 1
			}
			tr.tick(2_000_000)
			switch {
			case tt.want == None:
				if len(tr.up) > 0 {
					t.Errorf("must not be up:%s", tr.list())
				}
			case tt.value == 0:
				tr.one(t, Craft, tt.want, 0, 0.02)
			default:
				got := tr.one(t, Craft, tt.want, want, want+0.011)
				near(t, "value", tt.value, got.value, 0)
				near(t, "limit", 0.20, got.limit, 0)
			}
		})
	}
}

// Arming worsens it, a corrected setting clears it, another setting is no
// matter, a restart of the bridge does not forget it.
func TestSettingsSlipChanges(t *testing.T) {
	tr := newTrial(NewSettingsSlip(), heron)
	watchful(t, tr, false)
	tr.feed(0, decode.State, 10, state(0, 0, 1, 0))
	tr.word = []byte("rate_p_roll")
	tr.feed(100_000, decode.Set, 1, []float64{0.8})
	tr.silent(t)
	tr.word = []byte("idle_ready")
	tr.feed(200_000, decode.Set, 1, []float64{0.8})
	watchful(t, tr, true)
	tr.tick(400_000)
	tr.d.Reset()
	tr.tick(1_400_000)
	tr.one(t, Craft, Medium, 0.2, 0.22)
	tr.feed(1_500_000, decode.State, 10, state(1, 0, 1, 0))
	tr.tick(1_600_000)
	if got := tr.said[len(tr.said)-1]; got.word != "worsened" || got.level != High {
		t.Errorf("arming must worsen it:%s", tr.list())
	}
	tr.feed(1_700_000, decode.State, 10, state(no, 0, 1, 0))
	tr.tick(1_800_000)
	if tr.up[Craft].level != High {
		t.Error("armed flag lost: it counts as it was last seen")
	}
	tr.feed(2_000_000, decode.Set, 1, []float64{0.08})
	tr.tick(3_000_000)
	if len(tr.up) > 0 {
		t.Errorf("a corrected setting must clear it:%s", tr.list())
	}
}
