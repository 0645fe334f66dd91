package detect

import (
	"math"

	"tetherbell/decode"
)

// A LineSpectrum is the newest spectrum that the rotors' lines were sought in.
type LineSpectrum struct {
	Tag    decode.Tag // Axes: body rates; Accel: specific force
	At     int64      // engine time of its last sample, 0 none yet
	BinHz  float64    // between two values of Amp
	TurnHz float64    // the rotors' turns a second over its time, mean of those that turn
	Unit   string     // of Amp: "deg/s" or "g"
	Amp    []float32  // peak amplitude in each bin, the three axes together; a copy
}

// Spectrum copies the newest spectrum, of the faster of the streams that are
// heard. ok is false while there is none.
func (d *RotorLineDetector) Spectrum(b *Bench) (s LineSpectrum, ok bool) {
	e, scale := d.rate, 1.0
	s.Tag, s.Unit = decode.Axes, "deg/s"
	if d.rate.bins == 0 || d.force.bins > 0 && d.force.rate > d.rate.rate {
		e, scale, s.Tag, s.Unit = d.force, 1/gravity, decode.Accel, "g"
	}
	if e.bins == 0 || e.size == 0 || d.poles == 0 {
		return LineSpectrum{}, false
	}
	s.At, s.BinHz = e.to, e.rate/float64(2*(e.bins-1))
	turning := 0.0
	for m := range min(b.Motors, decode.MaxMotors) {
		if hz, _ := d.turns.mean(m, e.from, e.to); hz > 0 {
			s.TurnHz, turning = s.TurnHz+hz*2/float64(d.poles), turning+1
		}
	}
	if turning > 0 {
		s.TurnHz /= turning
	}
	s.Amp = make([]float32, e.bins)
	for k := range s.Amp {
		p := e.power[0][k] + e.power[1][k] + e.power[2][k]
		s.Amp[k] = float32(scale * math.Sqrt(max(p, 0)))
	}
	return s, true
}
