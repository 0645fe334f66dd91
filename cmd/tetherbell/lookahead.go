package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"sort"
	"sync"
	"time"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/alarms/runcard"
	"tetherbell/decode"
	"tetherbell/decode/craft"
	"tetherbell/link"
)

const (
	// lookStep is how far apart the places lie that a look ahead keeps: an hour
	// is 3600 of them, and a second is read in no time.
	lookStep = 1_000_000
	// A look ahead works for lookBurst and then rests for as long: the replay
	// comes first, on a machine with one processor too.
	lookBurst = 20 * time.Millisecond
	lookCheck = 512 // lines between looks at the clock
)

// A waypoint is a line of a recording that one can go to: where it begins, when
// it is due, and the engine's time of the first good line from there.
type waypoint struct {
	offset, place, t int64
	past             int64          // as the pace's there
	owners           *decode.Owners // of the kinds of line, where there are several bridges; shared by all with the same
}

// A sight is something that a replay can jump to: an alarm or a mark.
type sight struct {
	place int64 // microseconds since the start of the recording
	text  string
}

// A lookahead reads through a recording beside its replay, with a file, a
// decoder and an engine of its own: the replay waits for none of it. It finds
// the length, places to go to, and what there is to be seen.
type lookahead struct {
	name  string
	about outline
	craft craft.Craft

	mu     sync.Mutex
	way    []waypoint
	read   bool  // all of it was read
	length int64 // known once it was
	sights []sight
	seen   int64 // up to here no sight is missing
	found  bool  // the sights are all there are
	err    error
}

// routineLook is started by the replay, ended by ctx or the end of the
// recording, and waited for by the replay's end.
func (k *lookahead) routineLook(ctx context.Context) {
	err := k.look(ctx)
	k.mu.Lock()
	k.err, k.read, k.found = err, k.read || err == nil, err == nil
	k.mu.Unlock()
}

func (k *lookahead) look(ctx context.Context) error {
	f, err := openFile(ctx, k.name)
	if err != nil {
		return err
	}
	defer f.Close()
	alarmed, err := k.readThrough(ctx, f)
	if err != nil || alarmed {
		return err
	}
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return fmt.Errorf("read recording %s: %w", k.name, err)
	}
	return k.judgeThrough(ctx, f)
}

// readThrough finds places, length, marks, and what the recording says that rang.
func (k *lookahead) readThrough(ctx context.Context, f io.Reader) (alarmed bool, err error) {
	w, p, clock := link.NewWalker(f, 0), pace{ticks: k.about.ticks}, alarms.NewClock()
	var it link.Item
	var dec decode.Decoder
	var s decode.Sample
	var r rest
	var many several
	var owners *decode.Owners                     // as at the last place
	piece := int64(0)                             // where it begins, of several bridges
	next, wanted := int64(0), waypoint{place: -1} // a place whose first good line has not come
	for r.on(ctx) {
		at, err := w.Next(&it)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return alarmed, readError(ctx, "recording", k.name, err)
		}
		due := p.due(&it)
		if due >= next && (it.Kind == link.At || it.Kind == link.Wire && !p.ticks) {
			wanted, next = waypoint{offset: at, place: due, past: p.past}, due-due%lookStep+lookStep
		}
		switch it.Kind {
		case link.At:
			clock.Tick(it.MS)
		case link.Lost:
			clock.Misses()
		case link.Bridge:
			clock.From(int(it.Count), it.US)
			many.turn(int(it.Count), it.US)
			piece = at
		case link.Wire:
			if dec.Decode(it.Line, &s) != nil {
				continue
			}
			many.own(goodLine, &s)
			t := clock.Sample(&s)
			if wanted.place < 0 || !k.about.counts(uint64(many.from)) {
				continue // begun with another's line, the engine would go by that one's clock
			}
			if now := many.owners.Settled(); owners == nil || *owners != now {
				owners = &now
			}
			if wanted.t, wanted.owners = t, owners; many.from > 0 {
				wanted.offset = piece
			}
			k.reach(wanted, alarmed)
			wanted.place = -1
		case link.Alarm:
			if text, ok := saidAlarm(it.Line); ok {
				alarmed = true
				k.see(due, text)
			}
		case link.Mark:
			if _, _, _, own := runcard.ParseMark(string(it.Line)); !own {
				k.see(due, "mark: "+string(it.Line))
			}
		}
	}
	k.mu.Lock()
	k.read, k.length, k.found = ctx.Err() == nil, p.now, alarmed
	k.mu.Unlock()
	return alarmed, ctx.Err()
}

// judgeThrough finds what rings in a recording that does not say so itself.
func (k *lookahead) judgeThrough(ctx context.Context, f io.Reader) error {
	s, p := link.NewSession(f), pace{ticks: k.about.ticks}
	due := int64(0)
	d := deskOf(alarms.New(k.craft, k.about.head.options()), nil, func(events []alarms.Event) {
		for i := range events {
			if e := &events[i]; e.Change <= alarms.Worsened && e.Priority >= detect.Low {
				k.see(due, sightWords(e.Priority.String(), e.Kind.String(), e.Where.String()))
			}
		}
	})
	var it link.Item
	var r rest
	for r.on(ctx) {
		err := s.Next(&it)
		if errors.Is(err, io.EOF) {
			d.finish()
			return nil
		}
		if err != nil {
			return readError(ctx, "recording", k.name, err)
		}
		if due = p.due(&it); it.Kind == link.At || r.n%lookCheck == 0 {
			k.passed(due)
		}
		d.item(&it)
	}
	return ctx.Err()
}

// reach keeps a waypoint. Where the recording says what rang, all sights up to it
// are known.
func (k *lookahead) reach(w waypoint, alarmed bool) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.way = append(k.way, w)
	if alarmed {
		k.seen = w.place
	}
}

// passed notes that no sight is missing up to a place.
func (k *lookahead) passed(place int64) {
	k.mu.Lock()
	k.seen = place
	k.mu.Unlock()
}

func (k *lookahead) see(place int64, text string) {
	k.mu.Lock()
	k.sights = append(k.sights, sight{place, text})
	k.mu.Unlock()
}

// saidAlarm words a line that says what rang: what came up, or grew worse.
func saidAlarm(text []byte) (words string, ok bool) {
	var e struct{ Alarm, Change, Priority, Where string }
	if json.Unmarshal(text, &e) != nil || e.Priority == detect.Note.String() {
		return "", false
	}
	if e.Change != alarms.Raised.String() && e.Change != alarms.Worsened.String() {
		return "", false
	}
	return sightWords(e.Priority, e.Alarm, e.Where), true
}

func sightWords(priority, alarm, where string) string { return priority + " " + alarm + " " + where }

// before is the nearest waypoint before a place; ok is false where the look
// ahead has not come so far.
func (k *lookahead) before(place int64) (w waypoint, ok bool) {
	k.mu.Lock()
	defer k.mu.Unlock()
	i := sort.Search(len(k.way), func(i int) bool { return k.way[i].place > place })
	if i == 0 || i == len(k.way) && !k.read {
		return w, false
	}
	return k.way[i-1], true
}

// whole returns the length, once all was read.
func (k *lookahead) whole() (length int64, ok bool) {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.length, k.read
}

// failed says why the look ahead came to nothing; nil while it did not.
func (k *lookahead) failed() error {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.err
}

// next returns the first sight after a place, or the last one before it. known
// is false while there may be others that have not been found yet.
func (k *lookahead) next(place int64, back bool) (s sight, ok, known bool) {
	k.mu.Lock()
	defer k.mu.Unlock()
	sort.SliceStable(k.sights, func(i, j int) bool { return k.sights[i].place < k.sights[j].place })
	i := sort.Search(len(k.sights), func(i int) bool { return k.sights[i].place > place })
	if back {
		i = sort.Search(len(k.sights), func(i int) bool { return k.sights[i].place >= place }) - 1
	}
	if i < 0 || i >= len(k.sights) {
		return s, false, k.found || back && k.seen >= place
	}
	if s = k.sights[i]; !k.found && max(place, s.place) > k.seen {
		return sight{}, false, false
	}
	return s, true, true
}

// A rest lets others work now and then.
type rest struct {
	n     int
	since time.Time
}

// on is asked before each line, and reports whether to go on.
func (r *rest) on(ctx context.Context) bool {
	if r.n++; r.n%lookCheck != 1 {
		return true
	}
	if ctx.Err() != nil {
		return false
	}
	if worked := time.Since(r.since); r.since.IsZero() {
		r.since = time.Now()
	} else if worked > lookBurst {
		t := time.NewTimer(lookBurst)
		select {
		case <-ctx.Done():
		case <-t.C:
		}
		r.since = time.Now()
	}
	return true
}
