package alarms

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
)

// tellScouted feeds a session to an engine and its scouts, in stretches that chance
// cuts.
func tellScouted(in []input, rng *rand.Rand, w Watcher) []byte {
	e, scouts := NewScouted(heron(), Options{Baud: 115200})
	if w != nil {
		e.SetWatcher(w)
	}
	var out []byte
	fetch := func() {
		for i := range e.Events() {
			out = append(e.events[i].AppendJSON(out, ""), '\n')
		}
	}
	notes := [2][2]Notes{}
	for n := 0; ; n++ {
		part := in[:min(1+rng.IntN(400), len(in))]
		in = in[len(part):]
		for k, s := range scouts {
			s.Note(&notes[n%2][k])
			for i := range part {
				part[i].scout(s)
			}
			if len(in) == 0 {
				s.Finish()
			}
		}
		e.Read(notes[n%2][:])
		for i := range part {
			part[i].feed(e)
			fetch()
		}
		if len(in) == 0 {
			break
		}
	}
	e.Finish()
	fetch()
	sum := e.Summary()
	return sum.AppendJSON(out, "x")
}

func (in *input) scout(s *Scout) {
	switch in.kind {
	case 'l':
		x := in.s
		s.Sample(&x, 60)
	case 'b':
		s.Bad(60)
	case 't':
		s.Tick(in.ms)
	}
}

// onlooker writes down all that a watcher may ask.
type onlooker struct{ seen []string }

func (o *onlooker) Look(l *Look) {
	a, limit, ok := l.Swing(len(o.seen) % 3)
	o.seen = append(o.seen, fmt.Sprint(l.Bench.Now, a, limit, ok, l.Missing(detect.RisingOscillation), l.Missing(detect.LowMargin), len(l.Up)))
}

// TestScoutedSaysTheSame: an engine with scouts gives the events and the summary
// of one alone, to the byte, wherever the input is cut, and shows a watcher the
// same.
func TestScoutedSaysTheSame(t *testing.T) {
	swings := 0
	for seed := range uint64(4) {
		in := drawSession(seed, 60, seed != 1)
		e := New(heron(), Options{Baud: 115200})
		var alone, beside onlooker
		e.SetWatcher(&alone)
		for i := range in {
			in[i].feed(e)
		}
		e.Finish()
		swings += int(e.Summary().Raised[detect.RisingOscillation])
		want := tellAll(in, nil, nil)
		rng := rand.New(rand.NewPCG(seed, 7))
		assert.Equal(t, string(want), string(tellScouted(in, rng, nil)))
		assert.Equal(t, string(want), string(tellScouted(in, rng, &beside)))
		require.Equal(t, alone.seen, beside.seen)
	}
	assert.Positive(t, swings, "none of the sessions swings")
}

// A session that never begins has nothing that was watched, with scouts too.
func TestScoutedOfNothing(t *testing.T) {
	in := []input{{kind: 'b'}, {kind: 't', ms: 20}, {kind: 't', ms: 40}}
	assert.Equal(t, string(tellAll(in, nil, nil)), string(tellScouted(in, rand.New(rand.NewPCG(1, 1)), nil)))
}

// An engine that is given other input than its scout may not go on as if nothing
// were found.
func TestScoutedApart(t *testing.T) {
	e, scouts := NewScouted(heron(), Options{})
	notes := make([]Notes, len(scouts))
	in := drawSession(2, 1, true)
	for k, s := range scouts {
		s.Note(&notes[k])
		for i := range in {
			in[i].scout(s)
		}
	}
	e.Read(notes)
	assert.Panics(t, func() {
		for i := range in {
			if i%2 == 0 {
				in[i].feed(e)
			}
		}
		e.Finish()
	})
	assert.Panics(t, func() { e.Read(notes) }, "notes that were not used up")
}
