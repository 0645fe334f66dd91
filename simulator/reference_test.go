package simulator

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A referenceLoop is one loop's figures and what an independent library made of
// them; testdata/loops.md tells how.
type referenceLoop struct {
	Name      string  `json:"name"`
	P         float64 `json:"p"`
	I         float64 `json:"i"`
	D         float64 `json:"d"`
	Leak      float64 `json:"leak_s"`
	GyroCut   float64 `json:"gyro_cut_rad_s"`
	DCut      float64 `json:"d_cut_rad_s"`
	Dead      float64 `json:"delay_s"`
	MotorLag  float64 `json:"motor_lag_s"`
	Torque    float64 `json:"torque_per_output_nm"`
	Inertia   float64 `json:"inertia_kgm2"`
	Stiffness float64 `json:"stiffness_nm_rad"`
	Damping   float64 `json:"damping_nms_rad"`

	Gain   float64 `json:"ultimate_gain,omitempty"`
	Hz     float64 `json:"ultimate_hz,omitempty"`
	Decay  float64 `json:"growth_at_0.85_per_s,omitempty"`
	Growth float64 `json:"growth_at_1.15_per_s,omitempty"`
}

const referenceFile = "testdata/loops.json"

func (l *loopTheory) reference(name string) referenceLoop {
	return referenceLoop{
		Name: name, P: l.p, I: l.i, D: l.d, Leak: l.leak, GyroCut: l.gyroCut, DCut: l.dCut, Dead: l.dead,
		MotorLag: l.motorLag, Torque: l.torquePerOutput, Inertia: l.inertia, Stiffness: l.stiffness, Damping: l.damping,
	}
}

// Ultimate gain and frequency of the simulated loop, and the growth beside it,
// against SciPy's state-space discretisation and NumPy's eigenvalues, for all
// loops whose controller runs at every tick without notches.
func TestCriticalGainOfALibrary(t *testing.T) {
	var now []referenceLoop
	var cases []loopCase
	for _, lc := range loopCases() {
		sc := lc.scenario()
		if sc.Loop.Notch || sc.Loop.SampleMS > 1 {
			continue
		}
		b := New(sc, 1)
		playUntil(b, 2.9)
		theory := theoryOf(&sc, lc.axis, b)
		now, cases = append(now, theory.reference(lc.name)), append(cases, lc)
	}
	if *update {
		text, err := json.MarshalIndent(now, "", " ")
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(referenceFile, append(text, '\n'), 0o644))
		t.Skip("now run the script of testdata/loops.md over it")
	}
	text, err := os.ReadFile(referenceFile)
	require.NoError(t, err)
	var want []referenceLoop
	require.NoError(t, json.Unmarshal(text, &want))
	require.Len(t, want, len(now))
	for k, w := range want {
		t.Run(w.Name, func(t *testing.T) {
			require.NotZero(t, w.Gain)
			assert.InEpsilon(t, w.Torque, now[k].Torque, 1e-3, "made for another loop: see testdata/loops.md")
			assert.InEpsilon(t, w.Inertia, now[k].Inertia, 1e-9)
			_, omega := cases[k].ring(w.Gain)
			below, _ := cases[k].ring(w.Gain * 0.97)
			above, _ := cases[k].ring(w.Gain * 1.03)
			assert.Negative(t, below, "3 %% under the library's ultimate gain it dies away")
			assert.Positive(t, above, "3 %% over it it grows")
			assert.InEpsilon(t, w.Hz, omega/(2*math.Pi), 0.02)
			less, _ := cases[k].ring(w.Gain * 0.85)
			assert.InEpsilon(t, w.Decay, less, 0.10)
			more, _ := cases[k].ring(w.Gain * 1.15)
			assert.InEpsilon(t, w.Growth, more, 0.10)
			t.Logf("at the library's gain %.4f: %.3f Hz, library %.3f; at 0.85 %.3f /s, library %.3f; at 1.15 %.3f, library %.3f",
				w.Gain, omega/(2*math.Pi), w.Hz, less, w.Decay, more, w.Growth)
		})
	}
}
