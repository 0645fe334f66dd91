package alarms

import (
	"math"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// A pump feeds an engine with three moving axes and the other streams, in
// steady state, without a line's bytes.
type pump struct {
	e     *Engine
	axes  int64 // microseconds between axes lines
	us    int64
	n     int64
	s     decode.Sample
	mixed bool
}

func newPump(hz float64, mixed bool) *pump {
	return &pump{
		e:    New(craft.Craft{Motors: 4, Poles: 14, DiameterMM: 178, MassG: 655, Layout: "quad-x"}, Options{Baud: 3_000_000}),
		axes: int64(1e6 / hz), mixed: mixed,
	}
}

func (p *pump) send(tag decode.Tag, v ...float64) {
	p.s = decode.Sample{Tag: tag, Seq: p.s.Seq + 1, Time: uint32(p.us)}
	for i, x := range v {
		p.s.Put(i, x)
	}
	p.e.Sample(&p.s, 90)
}

// axesLine sends the next axes line: slow swing of each axis and some noise.
func (p *pump) axesLine() {
	p.us += p.axes
	p.n++
	t := float64(p.us) / 1e6
	a, b := math.Sin(2*math.Pi*3*t), math.Sin(2*math.Pi*7*t+1)
	fuzz := float64(p.n*7919%997)/997 - 0.5
	p.send(decode.Axes, 5*a+fuzz, 4*b-fuzz, 3*a+2*fuzz, 0, 0, 0, 0.01*a+0.002*fuzz, 0.01*b, 0.01*a*b, 0.3)
}

// step sends an axes line and what else is due with it.
func (p *pump) step() {
	p.axesLine()
	if p.mixed {
		if p.us%4000 < p.axes {
			p.send(decode.Out, 0.3, 0.31, 0.29, 0.3)
		}
		if p.us%10_000 < p.axes {
			p.send(decode.ERPM, 60000, 61000, 59000, 60000)
			p.send(decode.Accel, 0.1, 0.2, -9.8)
		}
		if p.us%50_000 < p.axes {
			p.send(decode.State, 1, 0, 1, 0.3, 0, 0, 0, 1)
			p.send(decode.Load, 2)
			p.send(decode.Pack, 16, 5)
		}
		if p.us%500_000 < p.axes {
			p.send(decode.Temp, 30, 31, 32, 33)
		}
	}
	if p.us%20_000 < p.axes {
		p.e.Tick(p.us / 1000)
	}
	p.e.Events()
}

// TestSteadyStateAllocatesNothing: what is not watched is looked at once a
// second and may cost a few bytes then; a run of AllocsPerRun rounds down.
func TestSteadyStateAllocatesNothing(t *testing.T) {
	for _, hz := range []float64{400, 1000} {
		p := newPump(hz, true)
		for range int(20 * hz) {
			p.step()
		}
		for name, f := range map[string]func(){
			"axes":  p.axesLine,
			"mixed": p.step,
			"out":   func() { p.us += 2500; p.send(decode.Out, 0.3, 0.31, 0.29, 0.3) },
			"erpm":  func() { p.us += 2500; p.send(decode.ERPM, 60000, 61000, 59000, 60000) },
			"state": func() { p.us += 2500; p.send(decode.State, 1, 0, 1, 0.3, 0, 0, 0, 1) },
			"bad":   func() { p.e.Bad(30) },
			"tick":  func() { p.us += 2500; p.axesLine(); p.e.Tick(p.us / 1000) },
		} {
			assert.Zero(t, testing.AllocsPerRun(5000, f), "%s at %v/s", name, hz)
			for range int(3 * hz) { // back to the usual
				p.step()
			}
		}
	}
}

// TestMemoryDoesNotGrow: ten minutes cost no more than the first.
func TestMemoryDoesNotGrow(t *testing.T) {
	if testing.Short() {
		t.Skip("takes some seconds")
	}
	p := newPump(200, true)
	minute := func() uint64 {
		for range 60 * 200 {
			p.step()
		}
		runtime.GC()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return m.HeapAlloc
	}
	first := minute()
	for range 8 {
		minute()
	}
	assert.Less(t, float64(minute()), float64(first)+64<<10)
	runtime.KeepAlive(p)
}

func benchmarkEngine(b *testing.B, hz float64, mixed bool) {
	p := newPump(hz, mixed)
	for range int(10 * hz) {
		p.step()
	}
	start := p.e.Summary().Lines
	b.ReportAllocs()
	for b.Loop() {
		p.step()
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(p.e.Summary().Lines-start), "ns/sample")
}

// BenchmarkEngineAxes: three axes at 1 kHz and ticks, all detectors.
func BenchmarkEngineAxes(b *testing.B) { benchmarkEngine(b, 1000, false) }

// BenchmarkEngineMixed: all streams of a bench, axes at 1 kHz.
func BenchmarkEngineMixed(b *testing.B) { benchmarkEngine(b, 1000, true) }

// BenchmarkEngineMixed400: the same with axes at 400 Hz.
func BenchmarkEngineMixed400(b *testing.B) { benchmarkEngine(b, 400, true) }

// BenchmarkSnapshot: a picture for the screen, at most 20 a second.
func BenchmarkSnapshot(b *testing.B) {
	p := newPump(400, true)
	for range 4000 {
		p.step()
	}
	var s Snapshot
	b.ReportAllocs()
	for b.Loop() {
		p.e.Snapshot(&s)
	}
}
