package hearing

import (
	"testing"

	"tetherbell/alarms"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// BenchmarkEngine measures a sample of the axes stream through the whole
// engine, with what makes work for the detector: lines of rotors to fit, and a
// tone that grows from 0.001 up to the limit. 10 000 ns at 1000 a second are
// one percent of a core.
func BenchmarkEngine(b *testing.B) {
	for _, c := range []struct {
		name  string
		bench Bench
	}{
		{"quiet", Bench{Rate: 1000, Seconds: 20, Seed: working, Wash: 1}},
		{"lines, sticks, ramps", Bench{Rate: 1000, Seconds: 20, Seed: working, Wash: 2, Lines: 0.01, Sticks: true, Ramps: true}},
		{"growing", Bench{Rate: 1000, Seconds: 20, Seed: working, Wash: 1, Hz: 12, Growth: 0.3, Begin: 6}},
	} {
		b.Run(c.name, func(b *testing.B) {
			d := NewDrawing(c.bench)
			var f Frame
			var samples []decode.Sample
			for d.Next(&f) && d.Truth() < Limit {
				s := decode.Sample{Tag: decode.Axes, Seq: uint16(len(samples)), Time: uint32(f.T * 1e6)}
				d.put(&f, &s)
				samples = append(samples, s)
			}
			for b.Loop() {
				b.StopTimer() // making an engine is no part of a sample
				e := alarms.New(craft.Craft{Motors: 4}, alarms.Options{})
				b.StartTimer()
				for i := range samples {
					e.Sample(&samples[i], 80)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(samples)), "ns/sample")
		})
	}
}
