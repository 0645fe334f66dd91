package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"tetherbell/decode"
	"tetherbell/link"
)

const (
	// smallText is how long a recording may be that a list judges by itself:
	// a blink of an eye for each.
	smallText = 8 << 20
	// stillWritten is how long ago a recording may have grown that somebody
	// still writes to: over ten times the longest pause between two writes, and
	// what the clock of a simple disk is worth.
	stillWritten = 5 * time.Second
	// headText and tailText are how much of a recording's ends is looked at:
	// a longest line and what comes after or before it.
	headText = link.MaxLine + 8<<10
	tailText = link.MaxLine + 8<<10
)

// The states of a recording.
const (
	stateClosed     = "closed"     // it has its #end
	stateWriting    = "writing"    // it has none, and has just grown
	stateTorn       = "torn"       // it has none
	stateOpen       = "open"       // it has no host line at all: nobody said how it ends
	stateUnreadable = "unreadable" // and Remark says why
)

// A row is one recording of a list.
type row struct {
	File     string  `json:"file"`
	Start    string  `json:"start_utc"`  // RFC 3339; "" when it is not known
	Duration float64 `json:"duration_s"` // of a torn one that was not judged: by the host's clock
	State    string  `json:"state"`
	tale
	Bytes      int64  `json:"bytes"`
	Compressed bool   `json:"compressed"`
	Continues  string `json:"continues"`
	Remark     string `json:"remark"`

	start  time.Time
	length int64 // of the text; -1: not known
}

// look tells what a recording is, by its ends where those say it.
func (s *sessions) look(ctx context.Context, path string) row {
	r := row{File: path, length: -1}
	err := r.open(ctx)
	switch {
	case err != nil:
		r.State, r.Remark = stateUnreadable, whyNot(err)
	case r.Verdict != "" || r.State == stateWriting:
	case s.judge || r.length >= 0 && r.length < smallText || r.length < 0 && r.Bytes < smallText/4:
		switch err := r.judge(ctx, s.con, s.judge); {
		case errors.Is(err, errNotSmall):
			r.Remark = r.unjudged()
		case err != nil:
			r.Remark = "not judged: " + whyNot(err)
		}
	default:
		r.Remark = r.unjudged()
	}
	return r
}

// unjudged says how one that is not small is judged.
func (r *row) unjudged() string { return "not judged: tetherbell check " + r.File }

// errNotSmall: there is more text than a list judges by itself.
var errNotSmall = errors.New("it is not small")

// A smallReader reads as much as a list judges by itself: how much compressed
// text comes to is known once it was read.
type smallReader struct {
	from io.Reader
	left int // bytes
}

func (s *smallReader) Read(p []byte) (int, error) {
	if s.left <= 0 {
		return 0, errNotSmall
	}
	n, err := s.from.Read(p[:min(len(p), s.left)])
	s.left -= n
	return n, err
}

// whyNot leaves the file's name out of an error: it stands in the same line.
func whyNot(err error) string {
	var open *link.OpenError
	if errors.As(err, &open) {
		o := *open
		o.What, o.Name = "", ""
		return string(bytes.TrimPrefix([]byte(o.Error()), []byte("open  : ")))
	}
	return err.Error()
}

// open reads both ends of a recording.
func (r *row) open(ctx context.Context) error {
	info, err := os.Stat(r.File)
	if err == nil && !info.IsDir() && !info.Mode().IsRegular() {
		return errors.New("it is no file")
	}
	f, err := openFile(ctx, r.File)
	if err != nil {
		return err
	}
	defer f.Close()
	r.Bytes, r.Compressed = info.Size(), f.Squeezed()
	if r.Bytes == 0 {
		return errors.New("it is empty")
	}
	head, err := io.ReadAll(io.LimitReader(f, headText))
	if err != nil {
		return fmt.Errorf("read its beginning: %w", err)
	}
	h := r.takeHead(head)
	r.start = startOf(&h, filepath.Base(r.File), info)
	r.Start = r.start.UTC().Format(time.RFC3339)
	tail, whole, err := r.tail(f, head)
	if err != nil {
		return fmt.Errorf("read its end: %w", err)
	}
	r.takeTail(tail, whole, h.there)
	if r.State == stateTorn && time.Since(info.ModTime()) < stillWritten && !r.Compressed {
		r.State = stateWriting
	}
	if err := f.Damage(); err != nil {
		r.hurt()
	}
	return nil
}

// hurt says that not all of a compressed recording could be read.
func (r *row) hurt() {
	r.Remark = "damaged"
	if r.State != stateClosed {
		r.State = stateTorn
	}
}

// takeHead reads who it is from a recording's beginning.
func (r *row) takeHead(text []byte) (h head) {
	var it link.Item
	s := link.NewSession(bytes.NewReader(text))
	var dec decode.Decoder
	var sample decode.Sample
	for n := 0; s.Next(&it) == nil; n++ {
		if n == 0 {
			h = headOf(&it)
			r.Continues = filepath.Base(h.Continues)
			if h.Continues == "" {
				r.Continues = ""
			}
			var c struct {
				Name string `json:"name"`
			}
			_ = json.Unmarshal(h.SessionHeader.Craft, &c) // without: the bridge names it
			r.Craft = c.Name
		}
		if r.Craft != "" {
			return h
		}
		if it.Kind == link.Wire && dec.Decode(it.Line, &sample) == nil && sample.Tag == decode.Craft {
			r.Craft = string(sample.Text)
		}
	}
	return h
}

// startOf tells when a recording began: by its header, else its name, else
// when it was last written to.
func startOf(h *head, name string, info fs.FileInfo) time.Time {
	if t, err := time.Parse(time.RFC3339, h.Start); err == nil {
		return t
	}
	const form = "20060102T150405Z"
	if len(name) >= len(form) {
		if t, err := time.Parse(form, name[:len(form)]); err == nil {
			return t
		}
	}
	return info.ModTime()
}

// tail reads a recording's end. whole tells that it is all of the recording.
func (r *row) tail(f *input, head []byte) (text []byte, whole bool, err error) {
	if len(head) < headText {
		r.length = int64(len(head))
		return head, true, nil
	}
	text, length, ok, err := tailOf(f, tailText)
	if ok {
		r.length = length
	}
	return text, false, err
}

// takeTail reads what it came to from a recording's end.
func (r *row) takeTail(text []byte, whole, headed bool) {
	if text == nil {
		r.State = stateOpen
		return
	}
	if !whole { // the first line is a part of one
		text = text[bytes.IndexByte(text, '\n')+1:]
	}
	s := link.NewSession(bytes.NewReader(text))
	var it link.Item
	var last link.Kind
	for s.Next(&it) == nil {
		last = it.Kind
		switch it.Kind {
		case link.At:
			r.Duration, headed = float64(it.MS)/1000, true
		case link.End:
			r.takeEnd(it.Line)
		}
	}
	switch {
	case last == link.End && s.Torn() == 0:
		r.State = stateClosed
	case headed || s.Torn() > 0:
		r.State = stateTorn
		r.Verdict, r.Worst = "", nil // it went on behind what looked like an end
	default:
		r.State = stateOpen
	}
}

func (r *row) takeEnd(text []byte) {
	e := parseEnding(text)
	if e.Summary != nil {
		r.Duration = e.Summary.Duration
	}
	if e.Verdict != "" {
		name := r.Craft
		r.tale = e.tale
		if r.Craft == "" {
			r.Craft = name
		}
	}
}

// judge plays a recording through the engine. What is odd about it is told by
// check; here the words have no room. Unless all is asked for, one that is not
// small is errNotSmall.
func (r *row) judge(ctx context.Context, con *console, all bool) error {
	f, err := openFile(ctx, r.File)
	if err != nil {
		return err
	}
	defer f.Close()
	silent := &console{in: con.in, out: io.Discard, err: io.Discard, known: con.known}
	k := checker{con: silent}
	var text io.Reader = f
	if !all {
		text = &smallReader{f, smallText}
	}
	d, err := k.play(ctx, link.NewSession(text), r.File, nil)
	if err != nil {
		return err
	}
	name := r.Craft
	r.tale = taleOf(d)
	if r.Craft == "" {
		r.Craft = name
	}
	sum := d.eng.Summary()
	r.Duration = float64((sum.Duration+500)/1000) / 1000
	if f.Damage() != nil {
		r.hurt()
	}
	return nil
}
