package cable

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"tetherbell/decode"
)

// wrote notes a line of a form.
func (w *Watch) wrote(f form) { w.wrong[f].count++ }

// miswrote tells of lines of a form that is how the bridge writes. Each form is
// news once, whatever else is told already.
func (w *Watch) miswrote(f form, lines uint64) {
	s := w.see(Miswritten)
	s.count += lines - 1
	if !w.wrong[f].told {
		w.wrong[f].told = true
		w.pending |= 1 << Miswritten
	}
}

// always tells of lines of a form that all lines are of: it never comes again, for
// it never stops, and its times may be none.
func (w *Watch) always(f form, lines uint64) {
	w.wrong[f].count += lines
	if w.wrong[f].told {
		w.seen[Miswritten].last = w.now
	}
	w.miswrote(f, lines)
}

// proof notes a line whose checksum is good and that is none, and of the first
// one of a form what is wrong in it.
func (w *Watch) proof(l []byte, f form) {
	w.looked++
	w.wrote(f)
	w.miswrote(f, 1)
	if w.wrong[f].count > 1 {
		return
	}
	var s decode.Sample
	var bad *decode.LineError
	if errors.As(w.prove.dec.Decode(l, &s), &bad) {
		w.wrong[f].quote = quoted(bad)
	}
	if n, known := surplus(l); n > 0 {
		w.wrong[f].commas = true
		w.wrong[f].quote += fmt.Sprintf(" (%d fields, %d are known: decimal commas?)", n, known)
	}
}

// quotedMost is how much is shown of what stands in a field.
const quotedMost = 24

// quoted tells what stands where in a line, in printable letters.
func quoted(bad *decode.LineError) string {
	text, more := bad.Text, ""
	if len(text) > quotedMost {
		text, more = text[:quotedMost], "..."
	}
	switch what := strconv.QuoteToASCII(string(text)) + more; {
	case bad.Field != "":
		return " (" + bad.Field + ": " + what + ")"
	case len(text) > 0:
		return " (" + what + ")"
	}
	return ""
}

// habit reports whether a form is how the bridge writes.
func (w *Watch) habit(f form) bool {
	n := w.wrong[f].count
	num, denom := uint64(habitNum), uint64(habitDenom)
	switch f {
	case formBoot, formBehind:
		return n >= twice
	case sumNone: // as half a line looks
		num, denom = 19, 20
	case sumOther: // as a line looks of which two bytes are spoilt: but then some are whole
		num, denom = 19, 20
		if 20*w.heard > n && w.badRun < noneGood {
			return false
		}
	}
	return f.proven() && n > 0 || n >= habitLeast && denom*n >= num*w.looked
}

// own takes lines that were taken for something else as those of a form.
func (w *Watch) own(f form) {
	k := &w.wrong[f]
	for kind, n := range k.as {
		if n == 0 {
			continue
		}
		w.seen[Miswritten].count += n
		still := min(n, w.held[kind])
		w.held[kind] -= still
		w.seen[kind].count -= n - still
		k.as[kind] = 0
	}
	if w.held == [KindCount]uint64{} {
		w.since = 0
	}
}

// release lets go of lines that were held back for long: no form has shown
// itself, and they are what their checksums say.
func (w *Watch) release() {
	if w.now-w.since >= heldFor {
		w.letGo()
	}
}

func (w *Watch) letGo() {
	if w.since == 0 {
		return
	}
	for kind, n := range w.held {
		if n == 0 {
			continue
		}
		s := w.see(Kind(kind))
		if s.count == 1 {
			s.first = w.since
		}
		s.count += n - 1
		w.held[kind] = 0
	}
	w.since = 0
}

// worst is the form of the most lines, of those that are told.
func (w *Watch) worst() form {
	most := formNone
	for f := range formCount {
		if w.habit(f) && (most == formNone || w.wrong[f].count > w.wrong[most].count) {
			most = f
		}
	}
	return most
}

// wroteText tells of every form that is how the bridge writes.
func (w *Watch) wroteText() string {
	var all []string
	for f := range formCount {
		if !w.habit(f) {
			continue
		}
		lines := "lines"
		if w.wrong[f].count == 1 {
			lines = "line"
		}
		all = append(all, fmt.Sprintf("%d %s %s", w.wrong[f].count, lines, w.formText(f)))
	}
	return strings.Join(all, ", ")
}

// formText is what follows the number of lines.
func (w *Watch) formText(f form) string {
	if f == formFactor {
		return w.milli.text()
	}
	return w.countText(f) + w.wrong[f].quote
}
