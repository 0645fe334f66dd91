package main

import (
	"crypto/sha256"
	"encoding/hex"
	"hash"
	"io"
	"path/filepath"
	"time"

	"tetherbell/alarms"
	"tetherbell/alarms/account"
	"tetherbell/alarms/compare"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// A comparing gathers what a comparison needs of a recording, while its account
// is made of the same lines. A nil one takes nothing.
type comparing struct {
	clock *alarms.Clock
	col   *compare.Collector
	text  hash.Hash    // of the recording's text
	run   *compare.Run // once the recording has ended
}

// begin makes it ready for the first line of a recording, whatever it has taken
// before.
func (c *comparing) begin(of craft.Craft) {
	if c != nil {
		c.clock, c.col = alarms.NewClock(), compare.NewCollector(of)
	}
}

func (c *comparing) sample(s *decode.Sample) {
	if c != nil {
		c.col.Sample(c.clock.Sample(s), s)
	}
}

func (c *comparing) tick(ms int64) {
	if c != nil {
		c.clock.Tick(ms)
	}
}

func (c *comparing) turn(bridge int, us int64) {
	if c != nil {
		c.clock.From(bridge, us)
	}
}

func (c *comparing) misses() {
	if c != nil {
		c.clock.Misses()
	}
}

// end closes the account of a recording, and takes its alarms from there: so a
// comparison counts those that the account tells, be they of the day or not.
func (c *comparing) end(file string, acc *account.Collector, e account.Ending) *account.Account {
	raised, loudest := acc.Raised(), detect.None
	a := acc.Finish(e)
	if c == nil {
		return a
	}
	for i := range a.Alarms {
		k, ok := detect.KindNamed(a.Alarms[i].Name)
		if !ok || raised[k] == 0 {
			continue
		}
		raised[k]--
		p := detect.PriorityNamed(a.Alarms[i].Priority)
		loudest = max(loudest, p)
		c.col.Event(&alarms.Event{Kind: k, Change: alarms.Raised, Priority: p})
	}
	// An account lists no more than it has room for, and counts all. Where none of
	// its list is as bad as its verdict, what is not listed is taken to be: no
	// session may look calmer for its many alarms.
	unlisted := detect.None
	if p := detect.PriorityNamed(a.Verdict.Worst); p > loudest {
		unlisted = p
	}
	for k, n := range raised {
		for range n {
			c.col.Event(&alarms.Event{Kind: detect.Kind(k), Change: alarms.Raised, Priority: unlisted})
		}
	}
	c.run = c.col.Run()
	c.run.Name = filepath.Base(file)
	if t, err := time.Parse(time.RFC3339, e.Session.Start); err == nil {
		c.run.Start = t
	}
	if c.text != nil {
		c.run.Digest = hex.EncodeToString(c.text.Sum(nil))
	}
	return a
}

// from returns what reads a recording, and where two are compared takes the
// digest of all that is read: two names may stand for one recording, and one of
// them be compressed.
func (c *comparing) from(f *input) io.Reader {
	if c == nil {
		return f
	}
	c.text = sha256.New()
	return &digested{f, c.text}
}

// A digested input tells its text to a digest. All else it does as the input.
type digested struct {
	*input
	text hash.Hash
}

func (d *digested) Read(p []byte) (int, error) {
	n, err := d.input.Read(p)
	d.text.Write(p[:n]) // never fails
	return n, err
}
