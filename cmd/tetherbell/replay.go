package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/alarms/runcard"
	"tetherbell/dashboard"
	"tetherbell/dashboard/vigil"
	"tetherbell/decode/craft"
	"tetherbell/link"
)

const (
	minSpeed, maxSpeed = 1.0 / 64, 64.0 // of the keys; --speed may go beyond
	stepUS             = 100_000        // one step of a replay that stands still
	maxAt              = 1e9            // seconds: longer than any recording, and no overflow in microseconds
)

func newReplay(con *console) *cobra.Command {
	var f flags
	var d drillFlags
	var speed, at float64
	var paused bool
	cmd := &cobra.Command{
		Use:   "replay FILE...",
		Short: "See and hear a recording again at its own pace",
		Long: `Plays a recording at its own pace through the same decoder, engine, screen and
sound as the live watch: pause with Space, step with Right, jump with [ and ],
or to the next alarm or mark with > and to the one before with <; change the
speed with + and -; go round a stretch with l, pressed at its start, at its end,
and once more to leave it. What a person acknowledged on the day is fed
back; nobody else acknowledges.

--at and --paused begin at a moment of it, and stand still there. On a screen, a
far place is gone to at once: it is judged from twelve seconds before on, which
the screen says. Without a screen all that lies before is judged.

` + drillHelp,
		Example: `  tetherbell replay session.bell
  tetherbell replay --speed 4 --plain session.bell
  tetherbell replay --at 62.5 --paused session.bell
  tetherbell replay --drill --who Ann testdata/drill`,
		Args: func(_ *cobra.Command, args []string) error { return d.args(args) },
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := f.check(cmd); err != nil {
				return err
			}
			if !(speed > 0 && speed <= 1000) {
				return hinted(usagef("a speed of %v is not over 0 and up to 1000", speed), "its own pace is --speed 1")
			}
			if !(at >= 0 && at <= maxAt) {
				return hinted(usagef("there is no moment %v s into a recording", at), "its beginning is --at 0")
			}
			if paused && f.form(con) != asScreen {
				return hinted(usagef("--paused stands still until a key is pressed, and there is no screen to press it on"),
					"run it in a terminal, without --plain and --json")
			}
			if err := d.check(cmd); err != nil {
				return err
			}
			if d.on {
				return d.run(cmd.Context(), con, &f, speed, args)
			}
			r := &replayer{con: con, name: args[0], speed: speed, at: int64(at * 1e6), paused: paused}
			return r.open(cmd.Context(), &f)
		},
	}
	cmd.Flags().Float64Var(&speed, "speed", 1, "times its own pace")
	cmd.Flags().Float64Var(&at, "at", 0, "begin so many `SECONDS` into it; what lies before is not heard or printed")
	cmd.Flags().BoolVar(&paused, "paused", false, "stand still where it begins, until Space is pressed")
	f.addCraft(cmd)
	f.addTo(cmd)
	d.addTo(cmd)
	return cmd
}

// A replayer plays a recording. Its desk is the same as that of a live run;
// only the clock is another. One goroutine owns it.
type replayer struct {
	con     *console
	name    string
	file    io.ReadSeeker
	about   outline
	look    *lookahead // reads on beside; nil without a screen
	craft   craft.Craft
	card    *runcard.Card // of the day; nil: none
	desk    *desk
	session *link.Session
	pace    pace
	item    link.Item
	waiting bool  // item was read and is not due yet
	due     int64 // when it is
	pos     int64 // microseconds since the start of the recording
	aimed   int64 // place of the sight that was gone to last; 0: none since the last other jump
	halt    int64 // engine time where it stops by itself; 0: nowhere
	from    int64 // engine time that the desk was seated at; 0: the beginning
	speed   float64
	at      int64 // where it begins
	paused  bool
	ended   bool
	aud     audience
	loop    loop
	acts    chan dashboard.Act
	drill   *driller // that leads it; nil: nobody
	hint    string
	quietTo time.Time // end of a sound pause of the person who looks on
	shownAt time.Time
}

func (r *replayer) open(ctx context.Context, f *flags) error {
	file, err := openFile(ctx, r.name)
	if err != nil {
		return err
	}
	defer file.Close()
	r.file = file
	if r.about, err = outlineOf(ctx, file, r.name); err != nil {
		return err
	}
	if r.about.damage != nil {
		r.con.note("%s is damaged: %v", r.name, r.about.damage)
	}
	r.craft = r.about.head.craft(r.con, r.name)
	if f.craft != "" {
		if r.craft, err = loadCraft(ctx, f.craft); err != nil {
			return err
		}
	}
	r.card = r.about.head.card(r.con, r.name)
	r.aud.form = f.form(r.con)
	r.rewind()
	return r.run(ctx, f)
}

// rewind starts afresh from the beginning, where the reader stands.
func (r *replayer) rewind() {
	r.seat(r.about.head.options())
	r.desk.onCard, r.aud.card = r.aud.carded, r.desk.cardView
	r.desk.useCard(r.card)
	r.pace, r.from, r.halt = pace{ticks: r.about.ticks}, 0, 0
}

// lapsed tells what has left the watch, or is back, as the day did.
func (r *replayer) lapsed(t int64, text string) {
	if r.aud.form == asJSON && !r.aud.quiet {
		r.con.note("%s", text)
		return
	}
	r.aud.remark(t, "watch", text, text)
}

// seat sits a new desk down where the reader stands.
func (r *replayer) seat(o alarms.Options) {
	r.desk = deskOf(alarms.New(r.craft, o), nil, r.tell)
	r.desk.acted, r.desk.turned, r.desk.ailing = r.acted, r.aud.turned, r.aud.remark
	r.desk.lapsed = r.lapsed
	r.desk.useBridges(r.about.head.Sources)
	r.desk.notes.headed = r.about.head.there // a far jump does not read it
	r.session = link.NewSession(r.file)
	r.waiting, r.ended, r.aud.card = false, false, nil
	r.aud.journal, r.aud.fresh = nil, true
}

func (r *replayer) run(ctx context.Context, f *flags) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	bell := make(chan struct{}, 1)
	if r.aud.form == asScreen { // its desk may take its time, as for a far jump: nobody misses that
		r.aud.watch = new(vigil.Watch)
	}
	if err := r.aud.openSound(ctx, r.con, f, bell); err != nil {
		return err
	}
	defer r.aud.sound.Close()
	if r.aud.form != asScreen {
		stayAwake()
		r.aud.out = newPrinter(r.con.out)
		return r.routineDesk(ctx)
	}
	r.acts = make(chan dashboard.Act, 64)
	r.look = &lookahead{name: r.name, about: r.about, craft: r.craft}
	done, looked := make(chan struct{}), make(chan struct{})
	var guard faults
	var fault error
	// The look ahead: ended by ctx or the recording's end, waited for below.
	go guard.guard(cancel, looked, func() { r.look.routineLook(ctx) })
	// The desk: ended by ctx, waited for below.
	go guard.guard(cancel, done, func() { fault = r.routineDesk(ctx) })
	err := dashboard.RunWatched(ctx, nil, r.aud.latest, r.take, bell, r.aud.watch)
	r.aud.watch.End()
	cancel()
	<-done
	<-looked
	if guard.fault() == nil && fault == nil {
		verdictAfter(r.con, r.verdict())
		if err := r.session.Damage(); err != nil && r.about.damage == nil {
			r.con.note("%s is damaged: %v", r.name, err)
		}
	}
	return errors.Join(guard.fault(), fault, err)
}

// acted is called by the desk with what the person did on the day.
func (r *replayer) acted(word, text string) {
	var s alarms.Snapshot
	r.desk.eng.Snapshot(&s)
	r.aud.acted(s.T, word, text)
}

// verdict is what the replay came to, up to where it was left.
func (r *replayer) verdict() []string {
	n := &r.desk.notes
	if n.only == "" && (!r.ended || r.from > 0) {
		n.only, n.left = r.seen(), !r.ended
	}
	if !r.ended {
		r.finish()
	}
	sum := r.desk.eng.Summary()
	out := r.desk.verdict(r.name, &sum)
	if r.from > 0 {
		out = append(out, fmt.Sprintf("  judged from %.1f s on: what came before is not known here", float64(r.from)/1e6))
	}
	return out
}

// seen says how much of the recording a replay has judged that was left, or that
// jumped over its beginning: its verdict must not be taken for the recording's.
func (r *replayer) seen() string {
	s := fmt.Sprintf("ONLY ITS FIRST %.1f s", float64(r.pos)/1e6)
	if r.from > 0 {
		s = fmt.Sprintf("ONLY %.1f s TO %.1f s", float64(r.from)/1e6, float64(r.pos)/1e6)
	}
	if r.about.known {
		s += fmt.Sprintf(" OF %.1f s", float64(r.about.length)/1e6)
	}
	return s + " WERE SEEN: "
}

// take is called by the screen with what the person did.
func (r *replayer) take(a dashboard.Act) {
	select {
	case r.acts <- a:
	default:
	}
}

// routineDesk moves the recording on at its pace.
func (r *replayer) routineDesk(ctx context.Context) error {
	tick := time.NewTicker(tickEvery)
	defer tick.Stop()
	if r.at > 0 {
		if err := r.jump(r.at); err != nil {
			return r.failed(ctx, err)
		}
	}
	last := time.Now()
	for {
		select {
		case now := <-tick.C:
			if !r.paused && !r.ended {
				r.pos += int64(float64(now.Sub(last).Microseconds()) * r.speed)
			}
			last = now
			if err := r.turn(); err != nil {
				return r.failed(ctx, err)
			}
		case a := <-r.acts:
			if err := r.act(a); err != nil {
				return r.failed(ctx, err)
			}
		case <-r.broken():
			return nil
		case <-ctx.Done():
			return r.close(ctx)
		}
		if time.Since(r.shownAt) >= frameEvery {
			r.show()
		}
		if r.ended && r.aud.form != asScreen {
			return r.close(ctx)
		}
	}
}

// broken is closed when standard output takes no more.
func (r *replayer) broken() <-chan struct{} {
	if r.aud.out == nil {
		return nil
	}
	return r.aud.out.broken
}

// halted reports whether it has come to where it stops by itself.
func (r *replayer) halted() bool { return r.halt > 0 && r.desk.eng.Now() >= r.halt }

// advance feeds the desk all that is due up to a place in the recording.
func (r *replayer) advance(to int64) error {
	for !r.ended && !r.halted() {
		if !r.waiting {
			err := r.session.Next(&r.item)
			if errors.Is(err, io.EOF) {
				r.finish()
				return nil
			}
			if err != nil {
				return fmt.Errorf("read recording %s: %w", r.name, err)
			}
			r.due, r.waiting = r.pace.due(&r.item), true
		}
		if r.due > to {
			return nil
		}
		r.waiting = false
		r.desk.item(&r.item)
	}
	return nil
}

func (r *replayer) finish() {
	r.ended = true
	if !r.about.known { // now it is
		r.about.length, r.about.known = r.pace.now, true
	}
	r.pos = r.about.length
	r.desk.finish()
}

// failed tells a reading that failed from one that the person ended: the end of
// ctx closes the file under it.
func (r *replayer) failed(ctx context.Context, err error) error {
	if ctx.Err() != nil {
		return r.close(ctx)
	}
	return err
}

// close tells what the replay came to, where no screen does.
func (r *replayer) close(ctx context.Context) error {
	if r.aud.out == nil {
		return nil
	}
	verdict := r.verdict()
	if r.aud.form == asJSON {
		sum := r.desk.eng.Summary()
		r.aud.out.print(sum.AppendJSON(nil, r.name))
	} else {
		for _, s := range verdict {
			r.aud.out.say(s)
		}
	}
	r.aud.out.close(ctx.Done(), printPatience)
	remarks(r.con, r.name, r.session, r.desk)
	return nil
}

// tell is called by the desk with what changed.
func (r *replayer) tell(events []alarms.Event) {
	r.hear(new(alarms.Snapshot))
	if r.deaf() || r.drill != nil && r.aud.form == asJSON { // there, attempts alone are told
		return
	}
	r.aud.told(events)
	r.shownAt = time.Time{}
}

// hear tells the sound what should be heard: nothing while the replay stands
// still or the person wants quiet.
func (r *replayer) hear(s *alarms.Snapshot) {
	r.desk.eng.Snapshot(s)
	if rest := time.Until(r.quietTo); rest > 0 {
		s.PausedUS = max(s.PausedUS, rest.Microseconds())
		s.Sounding = detect.None
	}
	if r.deaf() {
		s.Alarms, s.Sounding = nil, detect.None
	}
	if r.aud.still = r.paused || r.ended; r.aud.still {
		s.Sounding = detect.None
	}
	r.aud.heard(s)
}

// show makes a new picture.
func (r *replayer) show() {
	r.shownAt = time.Now()
	s := new(alarms.Snapshot)
	r.hear(s)
	r.measure()
	if r.aud.form != asScreen {
		return
	}
	st := dashboard.Status{
		Source: r.name, Baud: r.about.head.baud, Port: "replay", Ended: r.ended, Hint: r.hint,
		Sound: r.aud.sound.Status(), Heard: r.aud.sound.State(), Tick: r.aud.tickWord(), Replay: true, ReplayAt: float64(r.pos) / 1e6,
		ReplayLength: float64(r.about.length) / 1e6, Speed: r.speed, Paused: r.paused,
		JudgedFrom: float64(r.from) / 1e6, Loop: r.loop.view(), Sights: r.desk.cableSights(), BadCauses: r.desk.countCauses(),
	}
	if r.drill != nil {
		r.drill.dress(&st)
	}
	r.aud.show(s, st)
}

// deaf reports whether this is a drill in which the trainee has no alarms.
func (r *replayer) deaf() bool { return r.drill != nil && !r.drill.heard }
