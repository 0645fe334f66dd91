//go:build linux

package main

import (
	"context"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tetherbell/simulator"
)

const notAcknowledged = "NOT ACKNOWLEDGED"

// BenchmarkLineToBanner measures the way of an alarm through the whole
// program: from the write of the line that shows a raised stick at arming,
// into a pseudo-terminal that passes for the serial port, to the banner read
// from the terminal that the screen is on. 1000 axes lines a second go by all
// the while. Run it with -benchtime 200x.
func BenchmarkLineToBanner(b *testing.B) {
	sink := startNullSink(b)
	r := startRig(b, 140, 45, sink)
	came := make(chan time.Time, 1)
	up := false
	r.glass.seen = func(g *glassPane, at time.Time) {
		if is := g.has(notAcknowledged); is != up {
			up = is
			if is {
				came <- at
			}
		}
	}
	s := startStream(b, r)
	time.Sleep(3 * time.Second) // the sound comes up, the windows fill
	chance := rand.New(rand.NewPCG(1, 2))
	var took []float64
	for b.Loop() {
		at := s.set(true, 0.3)
		select {
		case seen := <-came:
			took = append(took, seen.Sub(at).Seconds()*1000)
		case <-time.After(5 * time.Second):
			b.Fatalf("no banner:\n%s", r.glass.picture())
		}
		s.set(false, 0)
		time.Sleep(300 * time.Millisecond) // the alarm's condition goes
		for r.glass.shows(notAcknowledged) {
			r.press(b, "a")
			time.Sleep(100 * time.Millisecond)
		}
		// The phase against every clock inside is left to chance.
		time.Sleep(200*time.Millisecond + time.Duration(chance.IntN(200_000))*time.Microsecond)
	}
	slices.Sort(took)
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(took[len(took)/2], "p50-ms")
	b.ReportMetric(took[len(took)*95/100], "p95-ms")
	b.ReportMetric(took[len(took)-1], "max-ms")
	b.ReportMetric(float64(len(took)), "alarms")
	b.ReportMetric(machineLoad(), "load")
}

// held is a scenario that goes up to its top and stays there.
func held(t testing.TB, name string, last float64, changes ...string) simulator.Scenario {
	sc, err := simulator.Load(name)
	require.NoError(t, err)
	sc.Seconds = 3600
	sc.Events = slices.DeleteFunc(sc.Events, func(e simulator.Event) bool { return e.At > last })
	for _, set := range append([]string{"link.baud=3000000", "rates.axes_hz=1000", "craft.pack_mah=100000"}, changes...) {
		require.NoError(t, sc.Set(set))
	}
	return sc
}

// BenchmarkWholeCPU measures what the whole program takes of a processor at
// 1000 axes lines a second beside the other streams, on a terminal of 200 by
// 60, while it is recorded, with sound where there is a sound server: while
// nothing rings, and while an oscillation of high priority does.
func BenchmarkWholeCPU(b *testing.B) {
	for _, c := range []struct {
		name  string
		scene func() simulator.Scenario
		shows string
	}{
		{"calm", func() simulator.Scenario { return held(b, "calm", 9.5) }, "ARMED"},
		{"alarm", func() simulator.Scenario { return held(b, "gains-high", 9) }, notAcknowledged},
	} {
		b.Run(c.name, func(b *testing.B) {
			sink := startNullSink(b)
			r := startRig(b, 200, 60, sink, "--record", b.TempDir())
			bridge := simulator.New(c.scene(), 1)
			ctx, cancel := context.WithCancel(context.Background())
			sent := make(chan error, 1)
			// The bridge: ended by cancel, waited for below.
			go func() { sent <- pump(ctx, bridge, r.bridge.master, false) }()
			time.Sleep(22 * time.Second) // up to the top
			r.sees(b, c.shows)
			if c.name == "calm" && r.glass.shows(notAcknowledged) {
				b.Fatalf("it rings:\n%s", r.glass.picture())
			}
			begin, cpu := time.Now(), r.cpu(b)
			frames, bytes := r.glass.drawn()
			for b.Loop() {
				time.Sleep(20 * time.Second)
			}
			span, used := time.Since(begin), r.cpu(b)-cpu
			frames2, bytes2 := r.glass.drawn()
			now, _ := r.memory(b)
			cancel()
			wholeSent(b, sent)
			b.ReportMetric(0, "ns/op")
			b.ReportMetric(100*used.Seconds()/span.Seconds(), "core-percent")
			b.ReportMetric(float64(frames2-frames)/span.Seconds(), "frames/s")
			b.ReportMetric(float64(bytes2-bytes)/span.Seconds()/1000, "screen-kB/s")
			b.ReportMetric(now, "rss-MB")
			b.ReportMetric(map[bool]float64{true: 1}[sink != nil], "sound")
			b.ReportMetric(machineLoad(), "load")
		})
	}
}

// BenchmarkHour measures the memory after an hour's stream of 1000 axes lines
// a second. It is sent as fast as the program takes it, over a minute or so,
// so that fewer pictures are drawn than in an hour; all else is an hour's.
func BenchmarkHour(b *testing.B) {
	for b.Loop() {
		r := startRig(b, 200, 60, startNullSink(b))
		begin := time.Now()
		require.NoError(b, pump(context.Background(), simulator.New(held(b, "gains-high", 9), 1), r.bridge.master, true))
		r.bridge.drain()
		span := time.Since(begin)
		r.sees(b, "ARMED 59:")
		now, most := r.memory(b)
		b.ReportMetric(now, "rss-MB")
		b.ReportMetric(most, "peak-MB")
		b.ReportMetric(3600/span.Seconds(), "times-real")
		b.ReportMetric(r.cpu(b).Seconds(), "cpu-s")
		b.ReportMetric(machineLoad(), "load")
	}
	b.ReportMetric(0, "ns/op")
}
