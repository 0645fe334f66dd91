package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/runcard"
	"tetherbell/decode/craft"
	"tetherbell/link"
	"tetherbell/simulator"
)

// A cardDay is what a card said on a day, or when it was played again.
type cardDay struct {
	news []runcard.News
	desk *desk
}

func newCardDay(c *runcard.Card, rec *link.Recorder) *cardDay {
	d := &cardDay{desk: newDesk(craft.Craft{}, 0, rec, func([]alarms.Event) {})}
	d.desk.onCard = func(_ *runcard.Card, n runcard.News) { d.news = append(d.news, n) }
	d.desk.useCard(c)
	return d
}

// live goes through a card with the simulator: ticks of the host's clock every
// 20 ms, and acts of the person at their times (seconds).
func (d *cardDay) live(t *testing.T, sc simulator.Scenario, acts map[float64]string) {
	t.Helper()
	sim := simulator.New(sc, 1)
	var out []byte
	next := int64(0)
	for done := false; !done; {
		var us int64
		out, us, done = sim.Next(out[:0])
		d.desk.feed(out)
		for ; next <= us; next += 20_000 {
			d.desk.tick(next / 1000)
			for at, act := range acts {
				if us >= int64(at*1e6) {
					act, refused := strings.CutPrefix(act, "refused ")
					word, id, _ := strings.Cut(act, " ")
					a, ok := runcard.ActNamed(word)
					require.True(t, ok)
					require.Equal(t, refused, d.desk.card.May(a, id) != nil, act)
					d.desk.cardAct(a, id)
					delete(acts, at)
				}
			}
		}
	}
	d.desk.finish()
}

// again plays a recording.
func again(t *testing.T, path string) *cardDay {
	t.Helper()
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	var d *cardDay
	s := link.NewSession(f)
	var it link.Item
	for {
		err := s.Next(&it)
		if errors.Is(err, io.EOF) {
			d.desk.finish()
			return d
		}
		require.NoError(t, err)
		if d == nil {
			h := headOf(&it)
			d = newCardDay(h.card(&console{err: io.Discard}, path), nil)
			require.NotNil(t, d.desk.card)
		}
		d.desk.item(&it)
	}
}

// TestCardIsReplayedFromTheRecordingAlone: ticks are fed back, what telemetry
// shows is worked out anew, and both come to the same at the same moments. The
// card is one of the builder's own, whose file is gone by then. It has a step
// that is refused, done again, and left out.
func TestCardIsReplayedFromTheRecordingAlone(t *testing.T) {
	text := strings.Replace(string(runcard.Example()), `name = "first-run"`, `name = "own"`, 1)
	text = strings.Replace(text, "throttle = 0.12", "throttle = 0.11", 1)
	card, err := runcard.Parse([]byte(text))
	require.NoError(t, err)
	sc, err := simulator.Load("by-the-card")
	require.NoError(t, err)
	require.NoError(t, sc.Set("rates.axes_hz=200"))
	require.NoError(t, sc.Set("gains.scale=3.1")) // the throttle step fails
	rec, err := startRecording(t.TempDir(), link.SessionHeader{Source: "test"}, craft.Craft{}, card)
	require.NoError(t, err)
	day := newCardDay(card, rec)
	day.live(t, sc, map[float64]string{
		0.5: "tick props-off", 0.8: "refused tick propellers", // the stop is pressed at 1 s
		3.003: "tick propellers", 4: "no straps", 5.5: "again straps", 6: "tick straps", 7.77: "skip leads", 9: "tick area-clear",
		30: "refused skip idle", // it is armed
		80: "skip higher", 81: "skip sticks",
	})
	require.NoError(t, rec.Close([]byte("{}"), time.Minute))

	path := rec.Status().Path
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	for mark, n := range map[string]int{
		"card begin own: First spin-up of a craft": 1, "card tick propellers": 2, "card passed propellers: ticked": 1, "card tick straps": 1, "card no straps": 1, "card again straps": 1,
		"card skip leads": 1, "card passed straps: ticked": 1, "card passed stop: rotors down": 1,
		"card failed higher: rising-oscillation roll: ": 1, "card end: ": 1,
	} {
		assert.Equal(t, n, strings.Count(string(data), "\n#mark "+mark), mark)
	}

	played := again(t, path)
	assert.Equal(t, day.news, played.news)
	assert.Equal(t, day.desk.cardView(), played.desk.cardView())
	assert.Equal(t, day.desk.cardOutcome(), played.desk.cardOutcome())
}

// TestVerdictNamesTheSteps: whether the card passed, and if not, for which steps.
func TestVerdictNamesTheSteps(t *testing.T) {
	const two = "name = \"own\"\ntitle = \"Own\"\n[[step]]\nid = \"look\"\nkind = \"person\"\nsay = \"Look.\"\nif_failed = \"Mend.\"\n" +
		"[[step]]\nid = \"clear\"\nkind = \"person\"\nsay = \"Clear.\"\nif_failed = \"Wait.\"\n"
	for acts, want := range map[string][]string{
		"tick look, tick clear": {"  card own: CARD PASSED: 2 of 2 passed"},
		"skip look, tick clear": {"  card own: CARD NOT PASSED: left out look (1 of 2 passed)"},
		"skip look, skip clear": {"  card own: CARD NOT PASSED: left out look, clear (0 of 2 passed)"},
		"tick look":             {"  card own: CARD NOT PASSED: not done clear (1 of 2 passed)"},
		"skip look, no clear": {"  card own: CARD NOT PASSED: failed clear; left out look (0 of 2 passed)",
			"    failed clear: not right, says the person; Wait."},
	} {
		card, err := runcard.Parse([]byte(two))
		require.NoError(t, err)
		d := newCardDay(card, nil)
		for act := range strings.SplitSeq(acts, ", ") {
			word, id, _ := strings.Cut(act, " ")
			a, _ := runcard.ActNamed(word)
			d.desk.cardAct(a, id)
		}
		d.desk.finish()
		assert.Equal(t, want, d.desk.cardOutcome(), acts)
		last := d.news[len(d.news)-1]
		assert.Equal(t, "card end: "+strings.TrimPrefix(want[0], "  card own: "), last.Mark)
		assert.Equal(t, strings.Contains(want[0], "CARD PASSED"), last.State == runcard.Passed)
		assert.Equal(t, "Card"+strings.ToLower(strings.TrimPrefix(last.Mark, "card end: CARD"))+".", spoken(card, last))
	}
}

// TestMarksCannotPoseAsTheCards: what a person types as a note ticks nothing, on
// the day or later.
func TestMarksCannotPoseAsTheCards(t *testing.T) {
	card, err := runcard.Load("first-run")
	require.NoError(t, err)
	l := &live{con: &console{err: io.Discard}, desk: newDesk(craft.Craft{}, 0, nil, nil)}
	l.desk.useCard(card)
	var marks []string
	l.desk.acted = func(_, text string) { marks = append(marks, text) }
	for _, text := range []string{"card tick props-off", "card\rtick props-off", "card passed stop: at once", "tether hooked"} {
		l.order(order{kind: orderMark, text: text})
	}
	assert.Equal(t, []string{"on the card tick props-off", "on the card tick props-off", "on the card passed stop: at once", "tether hooked"}, marks)
	assert.Equal(t, "props-off", l.desk.cardView().TickID)
	l.order(order{kind: orderCard, act: runcard.Tick, text: "props-off"})
	assert.Equal(t, "propellers", l.desk.cardView().TickID)
	l.ended = true
	l.order(order{kind: orderCard, act: runcard.Tick, text: "propellers"})
	assert.Equal(t, "propellers", l.desk.cardView().TickID, "a tick after the end would not be in the recording")
}

// TestSpokenOnceForEachStep: the seam for a voice hears the next thing to do,
// and a step that failed with what to do about it; figures stay on the screen.
func TestSpokenOnceForEachStep(t *testing.T) {
	card, err := runcard.Load("after-change")
	require.NoError(t, err)
	a := audience{form: asJSON}
	type said struct {
		text  string
		state runcard.State
	}
	var heard []said
	a.announce = func(state runcard.State, words ...string) {
		heard = append(heard, said{strings.Join(words, " / "), state})
	}
	r := runcard.NewRun(card)
	tell := func() {
		for _, n := range r.News() {
			a.carded(card, n)
		}
	}
	tell()
	require.True(t, r.Do(runcard.Tick, "fastened"))
	require.True(t, r.Do(runcard.No, "read-back"))
	tell()
	assert.Equal(t, []said{
		{card.Steps[0].Say, runcard.Now},
		{"fastened passed.", runcard.Passed},
		{card.Steps[1].Say, runcard.Now},
		{"read-back failed. Correct it before you go on.", runcard.Failed},
	}, heard)
	heard, a.quiet = nil, true // a replay that runs ahead
	require.True(t, r.Do(runcard.Skip, "read-back"))
	tell()
	assert.Empty(t, heard)
}

// TestByEyeIsSpoken: what nobody but a person can see is said, also where the
// next step begins at once and its words would take the place.
func TestByEyeIsSpoken(t *testing.T) {
	const step = "[[step]]\nid = %q\nkind = \"at-rest\"\nsay = \"Wait for %s.\"\nif_failed = \"Mend.\"\n"
	card, err := runcard.Parse([]byte("name = \"own\"\ntitle = \"Own\"\n" + fmt.Sprintf(step, "first", "it") + fmt.Sprintf(step, "last", "all")))
	require.NoError(t, err)
	var heard []string
	a := audience{form: asJSON}
	a.announce = func(_ runcard.State, words ...string) { heard = append(heard, strings.Join(words, " / ")) }
	d := newDesk(craft.Craft{}, 0, nil, func([]alarms.Event) {})
	d.onCard = a.carded
	d.useCard(card)
	sc, err := simulator.Load("calm")
	require.NoError(t, err)
	sim := simulator.New(sc, 1)
	for us := int64(0); us < 7e6; { // disarmed, and neither outputs nor speeds come
		var out []byte
		out, us, _ = sim.Next(nil)
		for line := range strings.Lines(string(out)) {
			if !strings.Contains(line, "out,") && !strings.Contains(line, "erpm,") {
				d.feed([]byte(line))
			}
		}
	}
	const eye = " is not measured: look yourself, and tick it after disarming."
	require.Equal(t, []string{"Wait for it.", "first" + eye + " / Wait for all.", "last" + eye}, heard)
}

func TestParseCardOrders(t *testing.T) {
	for line, want := range map[string]order{
		"tick area-clear": {kind: orderCard, act: runcard.Tick, text: "area-clear"},
		" no  straps ":    {kind: orderCard, act: runcard.No, text: "straps"},
		"skip a":          {kind: orderCard, act: runcard.Skip, text: "a"},
		"again a":         {kind: orderCard, act: runcard.Again, text: "a"},
	} {
		got, err := parseOrder(line)
		require.NoError(t, err)
		assert.Equal(t, want, got)
	}
	_, err := parseOrder("tick")
	assert.EqualError(t, err, "tick which step of the card?")
}
