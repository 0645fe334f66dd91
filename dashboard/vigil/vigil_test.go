package vigil

import (
	"runtime"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

// A stage moves an injected clock in steps of 10 ms, at which members beat as
// they are told and one looker looks.
type stage struct {
	watch  Watch
	look   *Looker
	now    time.Time
	begin  time.Time
	every  [members]time.Duration // 0: does not beat
	beaten [members]time.Time
	said   []string
	when   []time.Duration
}

func newStage(self Member) *stage {
	s := &stage{now: time.Now()}
	s.begin, s.look = s.now, s.watch.Looker(self)
	s.every = [members]time.Duration{20 * time.Millisecond, 100 * time.Millisecond, 250 * time.Millisecond, 0, 50 * time.Millisecond}
	return s
}

// run lets time pass. looks false: the looker's own goroutine stands still.
func (s *stage) run(d time.Duration, looks bool) {
	for end := s.now.Add(d); s.now.Before(end); {
		s.now = s.now.Add(10 * time.Millisecond)
		for m, every := range s.every {
			if every > 0 && s.now.Sub(s.beaten[m]) >= every {
				s.watch.Beat(Member(m))
				s.beaten[m] = s.now
			}
		}
		if looks {
			s.see()
		}
	}
}

func (s *stage) see() {
	for _, f := range s.look.Look(s.now) {
		s.said = append(s.said, f.String())
		s.when = append(s.when, s.now.Sub(s.begin))
	}
}

type stallCase struct {
	name string
	self Member
	do   func(s *stage)
	want []string
	by   time.Duration // when the first of them is said at the latest
}

func stallCases() []stallCase {
	const ms = time.Millisecond
	return []stallCase{
		{"all beat", Screen, func(s *stage) { s.run(20*time.Second, true) }, nil, 0},
		{"desk", Screen, func(s *stage) {
			s.run(time.Second, true)
			s.every[Desk] = 0
			s.run(2*time.Second, true)
			s.every[Desk] = 20 * ms
			s.run(time.Second, true)
		}, []string{"the engine stands still (0.6 s): NOTHING IS WATCHED, no alarm of the bench can ring",
			"the engine goes on: it stood still for 2.0 s"}, 1800 * ms},
		{"sound, seen by the desk", Desk, func(s *stage) {
			s.run(time.Second, true)
			s.every[Sound] = 0
			s.run(2*time.Second, true)
		}, []string{"the sound stands still (0.6 s): NO ALARM IS HEARD"}, 1800 * ms},
		{"screen", Sound, func(s *stage) {
			s.run(time.Second, true)
			s.every[Screen] = 0
			s.run(2*time.Second, true)
		}, []string{"the screen stands still (0.7 s): what it shows is old"}, 1800 * ms},
		{"busy for half a second", Screen, func(s *stage) {
			for range 10 {
				s.run(time.Second, true)
				every := s.every
				s.every = [members]time.Duration{}
				s.run(500*ms, true)
				s.every = every
			}
		}, nil, 0},
		{"never began", Sound, func(s *stage) {
			s.every[Screen] = 0
			s.run(5*time.Second, true)
		}, nil, 0},
		{"rests on purpose", Screen, func(s *stage) {
			s.run(time.Second, true)
			s.every[Desk] = 0
			s.watch.Rest(Desk)
			s.run(4*time.Second, true)
		}, nil, 0},
		{"broke down", Sound, func(s *stage) {
			s.run(time.Second, true)
			s.every[Desk] = 0
			s.watch.Fall(Desk)
			s.run(4*time.Second, true)
		}, []string{"the engine has broken down: NOTHING IS WATCHED, no alarm of the bench can ring"}, 1100 * ms},
		{"the end in order", Sound, func(s *stage) {
			s.run(time.Second, true)
			s.every = [members]time.Duration{}
			s.watch.End()
			s.run(4*time.Second, true)
		}, nil, 0},
		{"all was stopped: nobody is blamed", Screen, func(s *stage) {
			s.run(time.Second, true)
			s.now = s.now.Add(4200 * ms)
			s.run(4*time.Second, true)
		}, []string{"the monitor itself stood still for 4.2 s (it was stopped): nothing was watched then"}, 5300 * ms},
		{"the looker alone stood still", Desk, func(s *stage) {
			s.run(time.Second, true)
			s.run(3*time.Second, false)
			s.run(2*time.Second, true)
		}, []string{"the engine goes on: it stood still for 3.0 s, nothing was watched then"}, 4100 * ms},
		{"stopped while one stalled: it stays named once", Screen, func(s *stage) {
			s.run(time.Second, true)
			s.every[Sound] = 0
			s.run(time.Second, true)
			s.now = s.now.Add(3 * time.Second)
			s.run(2*time.Second, true)
		}, []string{"the sound stands still (0.6 s): NO ALARM IS HEARD",
			"the monitor itself stood still for 3.0 s (it was stopped): nothing was watched then"}, 1800 * ms},
	}
}

func TestWhoStallsIsNamed(t *testing.T) {
	for _, c := range stallCases() {
		t.Run(c.name, func(t *testing.T) {
			s := newStage(c.self)
			c.do(s)
			assert.Equal(t, c.want, s.said)
			if len(c.want) > 0 && len(s.when) > 0 {
				assert.LessOrEqual(t, s.when[0], c.by)
				t.Logf("named at %v", s.when[0])
			}
		})
	}
}

func TestDown(t *testing.T) {
	s := newStage(Sound)
	s.run(time.Second, true)
	_, down := s.look.Down(Desk)
	assert.False(t, down)
	s.every[Desk] = 0
	s.run(time.Second, true)
	since, down := s.look.Down(Desk)
	assert.True(t, down)
	assert.InDelta(t, 1, s.now.Sub(since).Seconds(), 0.06)
	assert.False(t, s.look.Broken(Desk))
	s.watch.Fall(Desk)
	s.run(100*time.Millisecond, true)
	assert.True(t, s.look.Broken(Desk))
}

// The clock of the wall runs on while a computer sleeps, ours does not.
func TestSlept(t *testing.T) {
	s := newStage(Screen)
	s.run(time.Second, true)
	assert.Equal(t, Finding{Slept, Screen, time.Minute}, s.look.pause(50*time.Millisecond, time.Minute))
	assert.Contains(t, Finding{Slept, Screen, time.Minute}.String(), "the computer slept for 60.0 s")
}

func TestNilWatch(t *testing.T) {
	var w *Watch
	w.Beat(Desk)
	w.Rest(Desk)
	w.Fall(Desk)
	w.End()
	assert.Empty(t, w.Looker(Sound).Look(time.Now()))
}

func TestNothingIsAllocated(t *testing.T) {
	s := newStage(Screen)
	s.run(time.Second, true)
	assert.Zero(t, testing.AllocsPerRun(1000, func() {
		s.watch.Beat(Desk)
		s.now = s.now.Add(Every) // the sound stalls on the way, and is found
		s.look.Look(s.now)
	}))
}

// With the race detector: beats and looks from many sides.
func TestConcurrent(t *testing.T) {
	var w Watch
	var all sync.WaitGroup
	for m := range members {
		all.Go(func() {
			l, now := w.Looker(m), time.Now()
			for i := range 2000 {
				w.Beat(m)
				if i%7 == 0 {
					w.Rest(m)
				}
				now = now.Add(Every)
				l.Look(now)
			}
		})
	}
	all.Wait()
	w.End()
}

// Under load, whoever is cried has really stood still: each member notes the
// longest pause between two beats of its own.
func TestNoFalseCry(t *testing.T) {
	if testing.Short() {
		t.Skip("takes twenty seconds")
	}
	var w Watch
	var work sync.WaitGroup
	stop := make(chan struct{})
	var longest [members]atomic.Int64
	for m, every := range map[Member]time.Duration{Desk: 20 * time.Millisecond, Sound: 50 * time.Millisecond, Screen: 100 * time.Millisecond} {
		work.Go(func() {
			tick, last := time.NewTicker(every), time.Now()
			defer tick.Stop()
			note := func() {
				now := time.Now()
				longest[m].Store(max(longest[m].Load(), int64(now.Sub(last))))
				last = now
			}
			defer note() // of the pause in which the test ends
			for {
				select {
				case <-stop:
					return
				case <-tick.C:
				}
				note()
				w.Beat(m)
			}
		})
	}
	for range 4 * runtime.GOMAXPROCS(0) {
		work.Go(func() {
			kept := make([][]byte, 64)
			for i := 0; ; i++ {
				select {
				case <-stop:
					return
				default:
					kept[i%len(kept)] = make([]byte, 64<<10) // work for the collector too
				}
			}
		})
	}
	eyes, cried := w.Looker(Sentry), [members]int{}
	for end := time.Now().Add(20 * time.Second); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		for _, f := range eyes.Look(time.Now()) {
			if f.Kind == Stalled {
				cried[f.Member]++
			}
		}
	}
	close(stop)
	work.Wait()
	for _, m := range []Member{Desk, Sound, Screen} {
		pause := time.Duration(longest[m].Load())
		t.Logf("%v: longest pause %v, cried %d times", m, pause.Round(time.Millisecond), cried[m])
		if pause < 500*time.Millisecond {
			assert.Zero(t, cried[m])
		}
		assert.GreaterOrEqual(t, pause, min(time.Duration(cried[m]), 1)*(limits[m]-most))
	}
}

// Who broke down before the first look is down since that look.
func TestBrokenBeforeTheFirstLook(t *testing.T) {
	w, now := new(Watch), time.Now()
	l := w.Looker(Screen)
	assert.False(t, l.Awake(Sound))
	w.Beat(Sound)
	w.Fall(Sound)
	l.Look(now)
	since, down := l.Down(Sound)
	assert.True(t, down)
	assert.Equal(t, now, since)
	assert.True(t, l.Awake(Sound))
	l.Look(now.Add(time.Second))
	since, _ = l.Down(Sound)
	assert.Equal(t, now, since)
	w.Rest(Sound)
	assert.False(t, l.Awake(Sound))
	assert.False(t, (*Watch)(nil).Looker(Screen).Awake(Sound))
}
