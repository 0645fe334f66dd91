package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"path/filepath"
	"strings"

	"tetherbell/alarms"
	"tetherbell/alarms/runcard"
	"tetherbell/dashboard/table"
	"tetherbell/decode"
	"tetherbell/link"
)

// A survey is what is known of a recording after it was read once. Tables need
// it before their first row, and a recording that cannot be exported must not
// cost the tables that lie there.
type survey struct {
	info      table.Info
	head      head
	damage    error  // what could not be read of a compressed one; nil: nothing
	beginning string // SHA-256 of so many bytes as the last export knew
}

// follows reports whether it is the recording of a receipt, or has grown from
// it.
func (s *survey) follows(r *table.Receipt) bool {
	return r.SHA256 == s.info.SHA256 || r.SHA256 == s.beginning
}

// A beginning hashes what is read, and notes the sum at its mark.
type beginning struct {
	hash.Hash
	left int64 // to the mark
	sum  string
}

func (b *beginning) Write(p []byte) (int, error) {
	n := len(p)
	if b.left > 0 && b.left <= int64(n) {
		b.Hash.Write(p[:b.left])
		b.sum = hex.EncodeToString(b.Sum(nil))
		p, b.left = p[b.left:], 0
	} else {
		b.left -= int64(n)
	}
	b.Hash.Write(p)
	return n, nil
}

// surveyOf reads a recording without judging it. mark is how many of its bytes
// were exported the last time.
func surveyOf(ctx context.Context, file string, mark int64) (survey, error) {
	f, err := openFile(ctx, file)
	if err != nil {
		return survey{}, err
	}
	defer f.Close()
	sum := &beginning{Hash: sha256.New(), left: mark}
	session := link.NewSession(io.TeeReader(f, sum))
	s := survey{info: table.Info{File: filepath.Base(file), MadeBy: "tetherbell " + version}}
	var last [decode.TagCount]int64
	for tag := range s.info.Ordered {
		s.info.Ordered[tag] = true
	}
	clock := alarms.NewClock()
	var many several
	var dec decode.Decoder
	var sample decode.Sample
	var bad, otherVersion uint64
	var it link.Item
	for n := 0; ; n++ {
		err := session.Next(&it)
		if n == 0 {
			s.head = headOf(&it)
		}
		if errors.Is(err, io.EOF) {
			break
		}
		if err == nil && n%1024 == 0 {
			err = ctx.Err()
		}
		if err != nil {
			return survey{}, readError(ctx, "recording", file, err)
		}
		switch it.Kind {
		case link.At:
			clock.Tick(it.MS)
		case link.Lost:
			clock.Misses()
		case link.Bridge:
			clock.From(int(it.Count), it.US)
			many.turn(int(it.Count), it.US)
		case link.Wire:
			err := dec.Decode(it.Line, &sample)
			if err != nil {
				bad += badOf(err, &otherVersion)
				continue
			}
			many.own(goodLine, &sample)
			at := clock.Sample(&sample)
			if s.info.Lines++; sample.Tag == decode.Unknown {
				s.info.Unknown++
			}
			if at < last[sample.Tag] {
				s.info.Ordered[sample.Tag] = false
			}
			last[sample.Tag] = at
		}
	}
	if s.damage = f.Damage(); s.info.Lines == 0 && s.damage != nil {
		return survey{}, damaged(file, f)
	}
	if s.info.Lines == 0 {
		return survey{}, noGoodLine(file, false, session.Bytes() == 0, bad, otherVersion)
	}
	s.info.Source, s.info.StartUTC = s.head.Source, s.head.Start
	s.info.Bytes = session.Bytes()
	s.info.SHA256, s.beginning = hex.EncodeToString(sum.Sum(nil)), sum.sum
	return s, nil
}

// oddities words what is odd about the recording; the session ends with the
// survey, and does not know of damage behind that.
func (s *survey) oddities(file string, session *link.Session, d *desk) []string {
	var out []string
	if s.damage != nil {
		out = append(out, fmt.Sprintf("%s is damaged: %v", file, s.damage))
	}
	return append(out, oddities(file, session, &d.notes)...)
}

// badOf counts a line that is not good.
func badOf(err error, otherVersion *uint64) uint64 {
	var bad *decode.LineError
	if !errors.As(err, &bad) {
		return 0 // blank, or the host's
	}
	if bad.Cause == decode.OtherVersion {
		*otherVersion++
	}
	return 1
}

// fill plays a recording through an engine into its tables, and returns what
// is known of it at its end.
func (e *exporter) fill(ctx context.Context, file string, s *survey, book *table.Book) (table.Info, error) {
	info := s.info
	f, err := openFile(ctx, file)
	if err != nil {
		return info, err
	}
	defer f.Close()
	// No further than the survey went: the recording may still be growing.
	session := link.NewSession(io.LimitReader(f, info.Bytes))
	c := filler{book: book, clock: alarms.NewClock()}
	k := checker{con: e.con, craft: e.craft}
	c.desk = deskOf(alarms.New(k.craftFor(&s.head, file), s.head.options()), nil, c.events)
	c.desk.useBridges(s.head.Sources)
	c.desk.useCard(s.head.card(e.con, file))
	var it link.Item
	for n := 0; ; n++ {
		err := session.Next(&it)
		if errors.Is(err, io.EOF) {
			break
		}
		if err == nil && n%1024 == 0 {
			err = ctx.Err()
		}
		if err != nil {
			return info, readError(ctx, "recording", file, err)
		}
		if c.item(&it); c.err != nil {
			return info, c.err
		}
	}
	c.desk.finish()
	if c.err != nil {
		return info, c.err
	}
	sum := c.desk.eng.Summary()
	if sum.Lines != info.Lines || session.Bytes() != info.Bytes {
		return info, hinted(fmt.Errorf("export %s: it changed while it was read", file), "try again when nobody writes to it")
	}
	for _, odd := range s.oddities(file, session, c.desk) {
		e.con.note("%s", odd)
	}
	info.Remarks = strings.Join(s.oddities(info.File, session, c.desk), "; ")
	info.Bad, info.Lost, info.Duration = sum.Bad, sum.Lost, sum.Duration
	info.Craft = c.desk.eng.CraftName()
	return info, nil
}

// A filler hands what comes of a recording to its tables.
type filler struct {
	book  *table.Book
	desk  *desk
	clock *alarms.Clock // the engine's, for it does not tell the time of a sample
	err   error         // the first
}

func (c *filler) events(events []alarms.Event) {
	for i := range events {
		c.keep(c.book.Event(&events[i]))
	}
}

func (c *filler) keep(err error) {
	if c.err == nil {
		c.err = err
	}
}

func (c *filler) item(it *link.Item) {
	switch it.Kind {
	case link.At:
		c.clock.Tick(it.MS)
	case link.Lost:
		c.clock.Misses()
	case link.Bridge:
		c.clock.From(int(it.Count), it.US)
	case link.Mark:
		by := "person"
		if _, _, _, own := runcard.ParseMark(string(it.Line)); own && c.desk.card != nil {
			by = "card"
		}
		c.keep(c.book.Mark(c.clock.Now(), by, string(it.Line)))
	case link.Note:
		c.keep(c.book.Mark(c.clock.Now(), "monitor", string(it.Line)))
	case link.Pause:
		c.keep(c.book.Mark(c.clock.Now(), "person", pauseText(it.MS)))
	}
	good := c.desk.good
	c.desk.item(it)
	if c.desk.good == good {
		return
	}
	c.keep(c.book.Sample(c.clock.Sample(&c.desk.sample), &c.desk.sample))
}
