package main

import "fmt"

// itselfNamed is how many of its own stalls a verdict names; it counts the rest.
const itselfNamed = 5

// itself is what the monitor told of itself: a part of it that stood still, a port
// that was lost, a beacon that could not be set. It is for people, and never the engine's.
type itself struct {
	named []string // the first of them
	more  int
}

// tellOfItself keeps it, for the verdict.
func (d *desk) tellOfItself(text string) {
	if len(d.itself.named) == itselfNamed {
		d.itself.more++
		return
	}
	d.itself.named = append(d.itself.named, fmt.Sprintf("  the monitor itself, at %.1f s: %s", float64(d.eng.Now())/1e6, printableText(text, 160)))
}

// lines are those of a verdict.
func (i *itself) lines() []string {
	if i.more == 0 {
		return i.named
	}
	return append(i.named[:len(i.named):len(i.named)], fmt.Sprintf("  and %d times more", i.more))
}
