package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"hash/crc32"
	"io"
	"path/filepath"

	"tetherbell/alarms"
	"tetherbell/alarms/account"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
	"tetherbell/link"
)

// What an account says of where its alarms come from.
const (
	judgedAgain = "the alarms are worked out again from the lines"
	judgedThen  = "the alarms are those of the day, as the recording keeps them"
)

// accountOf tells a recording. Where it is whole, of this very version, and
// judged by its own craft, the alarms are those that were said on the day, which
// saves judging again; own, another craft file, and again make them be worked
// out anew. So does a card of steps, which looks on as the engine judges.
// What a comparison needs of the lines goes to cmp on the way, if that is not nil.
func accountOf(ctx context.Context, con *console, file string, own *craft.Craft, again bool, cmp *comparing) (*account.Account, error) {
	if own == nil && !again {
		a, err := accountThen(ctx, con, file, cmp)
		if a != nil || err != nil {
			return a, err
		}
	}
	return accountAgain(ctx, con, file, own, cmp)
}

// accountAgain judges the recording anew.
func accountAgain(ctx context.Context, con *console, file string, own *craft.Craft, cmp *comparing) (*account.Account, error) {
	f, err := openInput(ctx, file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	s := link.NewSession(cmp.from(f))
	var was head
	k := checker{con: con, craft: own}
	k.sits = func(d *desk, h *head, c craft.Craft) {
		d.acc, d.cmp = account.New(c, h.baud), cmp
		cmp.begin(c)
		was = *h
	}
	d, err := k.play(ctx, s, file, nil)
	if err != nil {
		return nil, err
	}
	if d.good == 0 {
		return nil, noGoodLine(file, f.Pipe(), s.Bytes() == 0, d.bad, d.causes[decode.OtherVersion])
	}
	d.acc.Lost(d.notes.lost)
	e := account.Ending{Session: sessionOf(file, &was, s, &d.notes), NotWatched: d.eng.Summary().NotWatched, Card: d.cardView(), BreaksOff: d.notes.breaksOff()}
	e.Session.Judged = judgedAgain
	return cmp.end(file, d.acc, e), nil
}

// sessionOf says where an account comes from.
func sessionOf(file string, h *head, s *link.Session, n *notes) account.Session {
	out := account.Session{File: filepath.Base(file), Tool: h.Tool, Start: h.Start, Source: h.Source, Baud: h.baud}
	if h.Version != "" {
		out.Tool += " " + h.Version
	}
	if h.broken {
		out.Remarks = append(out.Remarks, "the first line is damaged: craft and card of that day are not known")
	}
	out.Remarks = append(out.Remarks, oddities("the recording", s, n)...)
	return out
}

// accountThen takes the alarms from the recording; nil where they cannot be
// taken from there.
func accountThen(ctx context.Context, con *console, file string, cmp *comparing) (*account.Account, error) {
	f, err := openInput(ctx, file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	if f.Pipe() {
		return nil, nil
	}
	end, ok, err := lastEnd(f)
	if err != nil {
		return nil, readError(ctx, "recording", file, err)
	}
	if !ok {
		return nil, nil
	}
	t := telling{s: link.NewSession(cmp.from(f)), file: file, cmp: cmp}
	if ok, err := t.play(ctx, con); !ok || err != nil {
		return nil, err
	}
	lacks, ok := lacksOf(end.Summary.NotWatched)
	if !ok || !end.fits(&t) {
		return nil, nil
	}
	e := account.Ending{Session: sessionOf(file, &t.head, t.s, &t.notes), NotWatched: lacks}
	e.Session.Judged = judgedThen
	return cmp.end(file, t.acc, e), nil
}

// A telling is a recording on its way into an account without an engine.
type telling struct {
	s     *link.Session
	file  string
	head  head
	acc   *account.Collector
	cmp   *comparing // nil: nothing is compared
	dec   decode.Decoder
	notes notes // of what is odd; a whole recording has little
	many  several
	said  uint32 // checksum of what was said
}

// play reads the recording; ok is false where its alarms cannot be trusted to be
// the engine's own, and all of them.
func (t *telling) play(ctx context.Context, con *console) (ok bool, err error) {
	var it link.Item
	var s decode.Sample
	for n := 0; ; n++ {
		err := t.s.Next(&it)
		switch {
		case errors.Is(err, io.EOF):
			return t.notes.ended && t.s.Torn() == 0 && t.s.Damage() == nil, nil
		case err != nil:
			return false, readError(ctx, "recording", t.file, err)
		case n%1024 == 0 && ctx.Err() != nil:
			return false, readError(ctx, "recording", t.file, ctx.Err())
		case n == 0:
			t.head = headOf(&it)
			if h := &t.head; h.Tool != "tetherbell" || h.Version != version || h.Card != "" {
				return false, nil
			}
			c := t.head.craft(con, t.file)
			t.acc = account.New(c, t.head.baud)
			t.cmp.begin(c)
			continue
		}
		if t.notes.ended || !t.item(&it, &s) {
			return false, nil
		}
	}
}

// item takes one line; ok is false for one that makes the told alarms worthless.
func (t *telling) item(it *link.Item, s *decode.Sample) (ok bool) {
	switch it.Kind {
	case link.Wire:
		t.line(it.Line, s)
	case link.Bridge:
		t.many.turn(int(it.Count), it.US)
		t.acc.From(int(it.Count), it.US)
		t.cmp.turn(int(it.Count), it.US)
	case link.At:
		t.acc.Tick(it.MS)
		t.cmp.tick(it.MS)
	case link.Alarm:
		t.said = crc32.Update(t.said, castagnoli, it.Line)
		return t.acc.Told(it.Line)
	case link.Mark:
		t.acc.Mark(string(it.Line))
	case link.Note:
		t.acc.Own(string(it.Line))
	case link.End:
		t.notes.ended = true
	case link.Lost, link.Header, link.Other: // a line of the host that is not understood may have said something
		return false
	}
	return true
}

func (t *telling) line(l []byte, s *decode.Sample) {
	switch err := t.dec.Decode(l, s); {
	case err == nil:
		t.many.own(goodLine, s)
		t.acc.Sample(s, len(l)+1)
		t.cmp.sample(s)
	case errors.Is(err, decode.ErrBlank), errors.Is(err, decode.ErrHost):
	default:
		t.acc.Bad(causeOf(err), len(l)+1)
	}
}

// causeOf is why a line was rejected.
func causeOf(err error) decode.Cause {
	var bad *decode.LineError
	if errors.As(err, &bad) {
		return bad.Cause
	}
	return decode.CauseCount
}

// fits reports whether the recording holds what its end says: every line, and
// every word that was said.
func (e *ending) fits(t *telling) bool {
	for k, n := range t.acc.Raised() {
		if e.Summary.Alarms[detect.Kind(k).String()] != n {
			return false
		}
	}
	good, bad, lost := t.acc.Lines()
	return good > 0 && good == e.Summary.Lines && bad == e.Summary.Bad && lost == e.Summary.Lost && saidSum(t.said) == e.Said
}

// endRoom is how far from the end of a file its last line may begin: all kinds
// with a reason each come to less than a quarter of it.
const endRoom = 64 << 10

// lastEnd reads the last line of a file, if it is the end of a recording whose
// length is known, and goes back to the beginning.
func lastEnd(f io.ReadSeeker) (e ending, ok bool, err error) {
	tail, _, ok, err := tailOf(f, endRoom)
	if err != nil || !ok {
		return e, false, err
	}
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return e, false, err
	}
	tail, whole := bytes.CutSuffix(tail, []byte("\n"))
	last := tail[bytes.LastIndexByte(tail, '\n')+1:]
	var it link.Item
	if link.ParseItem(last, &it); !whole || it.Kind != link.End {
		return e, false, nil
	}
	e = parseEnding(it.Line)
	return e, e.Summary != nil, nil
}

// lacksOf reads what was not watched, in its order.
func lacksOf(text []byte) (out []alarms.Lack, ok bool) {
	d := json.NewDecoder(bytes.NewReader(text))
	if t, err := d.Token(); err != nil || t != json.Delim('{') {
		return nil, false
	}
	for d.More() {
		name, err := d.Token()
		if err != nil {
			return nil, false
		}
		var l alarms.Lack
		l.Name, _ = name.(string) // a key is one
		if d.Decode(&l.Why) != nil {
			return nil, false
		}
		out = append(out, l)
	}
	return out, true
}
