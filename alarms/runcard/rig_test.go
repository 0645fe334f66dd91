package runcard_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/runcard"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// A bench is a bridge made by hand: every value is told by the test, so that
// what a step measures can be worked out on paper.
type bench struct {
	e    *alarms.Engine
	run  *runcard.Run
	us   int64
	seq  uint16
	c    craft.Craft
	news []runcard.News

	armed, stop, stick, roll float64
	out, rpm, temp           func(motor int) float64 // nil: no such lines; rpm of the shaft
	load                     func() float64
}

func newBench(t testing.TB, c craft.Craft, steps string) *bench {
	t.Helper()
	card, err := runcard.Parse([]byte("name = \"trial\"\ntitle = \"A trial\"\n" + steps))
	require.NoError(t, err)
	b := &bench{e: alarms.New(c, alarms.Options{}), c: c, run: runcard.NewRun(card)}
	b.e.SetWatcher(b.run)
	return b
}

// heron is the craft of these tests: weight 6.423 N.
func heron() craft.Craft {
	return craft.Craft{Motors: 4, Poles: 14, DiameterMM: 178, MassG: 655, Layout: "quad-x", IdleReady: 0.08, IdleLeast: 0.10}
}

func (b *bench) line(tag decode.Tag, v ...float64) {
	s := decode.Sample{Tag: tag, Seq: b.seq, Time: uint32(b.us)}
	b.seq++
	for i, x := range v {
		if x > -999 { // less: not measured
			s.Put(i, x)
		}
	}
	b.e.Sample(&s, 60)
	b.e.Events()
	b.news = append(b.news, b.run.News()...)
}

func (b *bench) motors(tag decode.Tag, f func(int) float64, scale float64) {
	if f == nil {
		return
	}
	v := make([]float64, b.c.Motors)
	for i := range v {
		if v[i] = f(i); v[i] > -999 {
			v[i] *= scale
		}
	}
	b.line(tag, v...)
}

// pass lets so many seconds go by: a line of axes every 5 ms, of each other
// stream every 20.
func (b *bench) pass(seconds float64) {
	for end := b.us + int64(seconds*1e6); b.us < end; b.us += 5000 {
		b.line(decode.Axes, 0.1*float64(b.us%7), 0, 0, 0, 0, 0, 0.0001*float64(b.us%11), 0, 0, b.stick)
		if b.us%20_000 == 0 {
			b.line(decode.State, b.armed, b.stop, 1, b.stick, b.roll, 0, 0, 1)
			b.motors(decode.Out, b.out, 1)
			b.motors(decode.ERPM, b.rpm, float64(b.c.Poles)/2)
			if b.load != nil {
				b.line(decode.Load, b.load())
			}
			b.motors(decode.Temp, b.temp, 1)
		}
	}
}

// silence lets the host's clock run on without a line, and the bridge's with it.
func (b *bench) silence(seconds float64) {
	for end := b.us + int64(seconds*1e6); b.us < end; b.us += 20_000 {
		b.e.Tick(b.us / 1000)
		b.e.Events()
	}
}

// step is a step as it stands.
func (b *bench) step(id string) runcard.StepView {
	for _, s := range b.run.View().Steps {
		if s.ID == id {
			return s
		}
	}
	panic("no step " + id)
}

// all is the same for every motor.
func all(v float64) func(int) float64 { return func(int) float64 { return v } }

func oneStep(kind, more string) string {
	return "[[step]]\nid = \"it\"\nkind = \"" + kind + "\"\nsay = \"Do it.\"\nif_failed = \"Mend it.\"\n" + more
}
