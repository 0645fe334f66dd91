package alarms

import (
	"fmt"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
)

// A tape takes what a life says, and tells stories that change with the level.
type tape struct{ events []Event }

func (p *tape) tell(f detect.Finding, _ detect.Kind) detect.Story {
	return detect.Story{Text: fmt.Sprintf("%s by case %d", f.Level, f.Case)}
}
func (p *tape) emit(ev Event) { p.events = append(p.events, ev) }

func (p *tape) words() string {
	var out []string
	for _, ev := range p.events {
		out = append(out, fmt.Sprintf("%s %s", ev.Change, ev.Priority))
	}
	p.events = nil
	return strings.Join(out, ", ")
}

// A stage plays a time line to a life, 100 ms a step.
type stage struct {
	l    life
	tape tape
	now  int64
	kind detect.Kind
}

func newStage(k detect.Kind) *stage { return &stage{l: newLife(), kind: k} }

const stageWhere = detect.Pitch

// expand writes out repeats: "h3 .2" is "hhh..".
func expand(t *testing.T, line string) string {
	var b strings.Builder
	for _, word := range strings.Fields(line) {
		n := 1
		if len(word) > 1 {
			var err error
			n, err = strconv.Atoi(word[1:])
			require.NoError(t, err)
		}
		b.WriteString(strings.Repeat(word[:1], n))
	}
	return b.String()
}

// play takes a finding a step: h high, m medium, l low, n note, - inside the
// deadband, . nothing, c high of another case, a acknowledge (no step of its
// own). It returns a state a step: the priority as a capital while it is up,
// small while it is latched, . when free; with ' behind it when acknowledged.
func (s *stage) play(t *testing.T, line string) string {
	levels := map[rune]detect.Priority{'h': detect.High, 'm': detect.Medium, 'l': detect.Low, 'n': detect.Note, '-': detect.None, 'c': detect.High}
	var out strings.Builder
	for _, r := range expand(t, line) {
		if r == 'a' {
			s.l.acknowledge(s.now, s.kind, stageWhere, &s.tape)
			continue
		}
		var found []detect.Finding
		if level, ok := levels[r]; ok {
			f := detect.Finding{Where: stageWhere, Level: level, Value: 2, Limit: 1}
			if r == 'c' {
				f.Case = 1
			}
			found = append(found, f)
		}
		s.l.judge(s.now, s.kind, found, &s.tape)
		s.now += 100_000
		out.WriteString(s.state())
	}
	return out.String()
}

func (s *stage) state() string {
	a := s.l.find(s.kind, stageWhere)
	if a == nil {
		return "."
	}
	word := strings.ToUpper(a.priority.String()[:1])
	if !a.active {
		word = a.worst.String()[:1]
	}
	if a.acknowledged {
		word += "'"
	}
	return word
}

// TestLives: tip-over clears after one second.
func TestLives(t *testing.T) {
	for _, c := range []struct{ name, in, states, events string }{
		{"raised at once, latched when gone", "h .10 .5", "H11 h5", "raised high, cleared high"},
		{"medium is latched too", "m .11", "M11 m", "raised medium, cleared medium"},
		{"low is not", "l .11 .", "L11 . .", "raised low, cleared low"},
		{"nor a note", "n .11 .", "N11 . .", "raised note, cleared note"},
		{"flicker is one alarm", "h .9 h .9 h .9", "H30", "raised high"},
		{"the deadband holds", "h -30", "H31", "raised high"},
		{"the deadband raises nothing", "-30", ".30", ""},
		{"and the clear counts from its end", "h -5 .10 .", "H16 h", "raised high, cleared high"},
		{"worsened at once", "l m h", "L M H", "raised low, worsened medium, worsened high"},
		{"eased after a second", "h m9 m m m", "H11 M2", "raised high, eased medium"},
		{"a peak within the second holds", "h m9 h m9 h", "H21", "raised high"},
		{"the deadband holds it too", "h m5 -1 m10", "H17", "raised high"},
		{"latched at its worst", "h m12 .11", "H11 M12 h", "raised high, eased medium, cleared medium"},
		{"a low one that was high is latched", "h l12 .11", "H11 L12 h", "raised high, eased low, cleared low"},
		{"acknowledged, then gone", "h a h .11", "H H' H'10 .", "raised high, acknowledged high, cleared high"},
		{"gone, then acknowledged", "h .11 a .", "H11 h .", "raised high, cleared high, acknowledged high"},
		{"acknowledged twice is once", "h a a h", "H H'", "raised high, acknowledged high"},
		{"nothing to acknowledge", "a . a", ".", ""},
		{"what comes next is heard again", "m a m h", "M M' H", "raised medium, acknowledged medium, worsened high"},
		{"easing is no news", "h a m11 m", "H H'10 M' M'", "raised high, acknowledged high, eased medium"},
		{"again while latched", "h .11 h", "H11 h H", "raised high, cleared high, raised high"},
		{"again while latched, lower: the high one stays latched", "h .11 l .11", "H11 h L11 h", "raised high, cleared high, raised low, cleared low"},
		{"again after it was acknowledged", "h a .11 h", "H H'10 . H", "raised high, acknowledged high, cleared high, raised high"},
		{"again while latched, then acknowledged", "h .11 h a .11 .", "H11 h H H'10 . .", "raised high, cleared high, raised high, acknowledged high, cleared high"},
		{"another happening at the same place", "h c h", "H H H", "raised high, cleared high, raised high, cleared high, raised high"},
		{"acknowledged, another happening sounds", "h a h c", "H H' H", "raised high, acknowledged high, cleared high, raised high"},
	} {
		s := newStage(detect.TipOver)
		got := s.play(t, c.in)
		assert.Equal(t, states(t, c.states), got, c.name)
		assert.Equal(t, c.events, s.tape.words(), c.name)
	}
}

// states writes out a line of states, in which ' belongs to its letter.
func states(t *testing.T, line string) string {
	var b strings.Builder
	for _, word := range strings.Fields(line) {
		if i := strings.IndexByte(word, '\''); i > 0 {
			n := 1
			if word[i+1:] != "" {
				var err error
				n, err = strconv.Atoi(word[i+1:])
				require.NoError(t, err)
			}
			b.WriteString(strings.Repeat(word[:i+1], n))
			continue
		}
		b.WriteString(expand(t, word))
	}
	return b.String()
}

// TestClearDelays: every kind clears after its own delay and not before.
func TestClearDelays(t *testing.T) {
	for k := range detect.KindCount {
		s := newStage(k)
		steps := int(clearAfter[k] / 100_000)
		s.play(t, "h")
		s.play(t, fmt.Sprintf(".%d", max(1, steps)))
		if steps > 0 {
			assert.Equal(t, "H", s.state(), k.String())
			s.play(t, ".")
		}
		assert.Equal(t, "h", s.state(), k.String())
	}
}

func TestSoundOfALife(t *testing.T) {
	s := newStage(detect.TipOver)
	sounding := func() detect.Priority { return s.l.sounding(s.now) }
	s.play(t, "n")
	assert.Equal(t, detect.None, sounding(), "a note makes no sound")
	assert.Zero(t, s.l.soundSeq)
	s.play(t, "l")
	assert.Equal(t, detect.Low, sounding())
	assert.EqualValues(t, 1, s.l.soundSeq, "worsened to low is heard")
	s.play(t, "m2 a m")
	assert.Equal(t, detect.None, sounding(), "acknowledged")
	assert.EqualValues(t, 2, s.l.soundSeq)
	s.l.pausedTo = s.now + 30*detect.Second
	s.play(t, "m")
	assert.Positive(t, s.l.pausedTo, "nothing new: the pause goes on")
	s.play(t, "h")
	assert.Equal(t, detect.High, sounding(), "a new high alarm ends the pause and the acknowledgement")
	assert.EqualValues(t, 3, s.l.soundSeq)
	s.play(t, ".11")
	assert.Equal(t, detect.None, sounding(), "what is latched makes no sound")
	s.l.pausedTo = s.now + 30*detect.Second
	s.play(t, "m")
	assert.Equal(t, detect.None, sounding(), "a new medium one does not end a pause")
	assert.EqualValues(t, 4, s.l.soundSeq)
	s.now = s.l.pausedTo
	assert.Equal(t, detect.Medium, sounding(), "the pause is over")
}

// TestReminder: silence must not come to mean that a high alarm is over.
func TestReminder(t *testing.T) {
	for _, c := range []struct {
		name, in string
		pause    float64 // of the sound, until then, seconds
		heard    uint64  // how often, with the raise
	}{
		{"high", "h a h650", 0, 3},
		{"not before its time", "h a h299", 0, 1},
		{"in the deadband too", "h a -310", 0, 2},
		{"medium needs none", "m a m650", 0, 1},
		{"eased needs none", "h a m650", 0, 1},
		{"nor one that is gone", "h a h9 .400", 0, 1},
		{"not acknowledged: it sounds anyway", "h650 h", 0, 1},
		{"a pause goes before", "h a h310", 40, 1},
		{"and it comes once that is over", "h a h410", 40, 2},
	} {
		s := newStage(detect.TipOver)
		first, rest, _ := strings.Cut(c.in, " ")
		s.play(t, first)
		s.l.pausedTo = int64(c.pause * float64(detect.Second))
		s.play(t, rest)
		assert.Equal(t, c.heard, s.l.soundSeq, c.name)
		assert.NotContains(t, s.tape.words(), "remind", "nothing has changed")
	}
	s := newStage(detect.TipOver)
	s.play(t, "h a h299")
	require.EqualValues(t, 1, s.l.soundSeq)
	require.Equal(t, detect.None, s.l.sounding(s.now))
	s.play(t, "h2")
	assert.EqualValues(t, 2, s.l.soundSeq)
	assert.Equal(t, detect.High, s.l.sounding(s.now))
	assert.Equal(t, "H'", s.state(), "it stays acknowledged")
	s.play(t, "h5")
	assert.Equal(t, detect.None, s.l.sounding(s.now), "one burst, no more")
	assert.EqualValues(t, 2, s.l.soundSeq)
}

// TestMotorThatWokeIsNotForgotten: acknowledged while it turned, it is still
// there once it stands, until that is acknowledged too.
func TestMotorThatWokeIsNotForgotten(t *testing.T) {
	for _, k := range []detect.Kind{detect.SpinDisarmed, detect.LateStop} {
		s := newStage(k)
		s.play(t, "h a h5 .8")
		assert.Equal(t, "h", s.state(), k.String())
		assert.Equal(t, ".", s.play(t, "a ."), k.String())
		assert.Equal(t, "raised high, acknowledged high, cleared high, acknowledged high", s.tape.words())
		assert.Equal(t, detect.None, s.l.sounding(s.now))
	}
}

// TestFirstOfABurst: alarms at several places, in tenths of a second.
func TestFirstOfABurst(t *testing.T) {
	l, p := newLife(), &tape{}
	at := func(s float64, k detect.Kind, level detect.Priority) {
		var f []detect.Finding
		if level != detect.None {
			f = append(f, detect.Finding{Where: stageWhere, Level: level})
		}
		l.judge(int64(s*1e6), k, f, p)
	}
	first := func() []bool {
		var out []bool
		for _, ev := range p.events {
			if ev.Change == Raised {
				out = append(out, ev.First)
			}
		}
		return out
	}
	at(1, detect.TipOver, detect.High)
	at(1.1, detect.GroundThrust, detect.High)
	at(1.2, detect.TipOver, detect.None)
	at(2.2, detect.TipOver, detect.None) // cleared
	at(3, detect.TipOver, detect.High)   // comes again: not the first any more
	assert.Equal(t, []bool{true, false, false}, first())
	assert.True(t, l.find(detect.TipOver, stageWhere).marked, "but it stays marked as the first")
	assert.False(t, l.find(detect.GroundThrust, stageWhere).marked)
	for _, k := range []detect.Kind{detect.TipOver, detect.GroundThrust} {
		at(4, k, detect.None)
		at(5, k, detect.None)
	}
	at(12.9, detect.NearLift, detect.High)
	assert.Equal(t, []bool{true, false, false, false}, first(), "within ten seconds of the last raise")
	at(13, detect.NearLift, detect.None)
	at(14, detect.NearLift, detect.None)
	at(22.9, detect.LateStop, detect.Low)
	assert.True(t, p.events[len(p.events)-1].First, "ten quiet seconds later a new burst begins")
	at(50, detect.TipOver, detect.High)
	assert.False(t, p.events[len(p.events)-1].First, "while an alarm is up its burst goes on")
}

// TestFullTable: more places than there is room for.
func TestFullTable(t *testing.T) {
	l, p := newLife(), &tape{}
	raise := func(i int, level detect.Priority) {
		l.judge(int64(i)*10, detect.LateStop, []detect.Finding{{Where: detect.Where(i), Level: level}}, p)
	}
	for i := range maxSlots {
		raise(i+1, detect.Medium)
	}
	raise(1000, detect.High)
	assert.EqualValues(t, 1, l.overflow, "all are up: there is no room")
	assert.Nil(t, l.find(detect.LateStop, 1000))
	l.judge(1_000_000, detect.LateStop, nil, p)
	l.judge(2_000_000, detect.LateStop, nil, p) // all are latched now
	require.False(t, l.anyActive())
	l.judge(2_000_010, detect.LateStop, []detect.Finding{{Where: 1000, Level: detect.High}}, p)
	assert.NotNil(t, l.find(detect.LateStop, 1000), "what rings now comes before what has rung")
	assert.Nil(t, l.find(detect.LateStop, 1), "the oldest gave way")
	assert.EqualValues(t, 2, l.overflow)
}
