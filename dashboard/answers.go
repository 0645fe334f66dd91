package dashboard

// A terminal can be asked for a sign of life by the device status report of
// ECMA-48 (DSR, 8.3.35 of the 5th edition, from memory): CSI 5 n asks, and a
// terminal in order answers CSI 0 n, in between what its keyboard sends.
const (
	question = "\x1b[5n"
	answer   = "\x1b[0n"
)

// answers takes a terminal's answers out of what it sends, to the byte: all
// other bytes come through unchanged and in order, however reads split them. A
// read that ends in what may be the begin of an answer holds that back, and
// somebody with a clock must release it, for it may be the Escape key.
type answers struct {
	matched int // bytes of an answer that came last
	given   int // so many of these were released already
}

// sift appends what is no answer to out, and counts the answers.
func (a *answers) sift(out, in []byte) (rest []byte, n int) {
	for _, c := range in {
		if c == answer[a.matched] {
			if a.matched++; a.matched == len(answer) {
				*a = answers{}
				n++
			}
			continue
		}
		out = a.release(out)
		*a = answers{}
		if c == answer[0] { // stands at the begin of an answer alone
			a.matched = 1
		} else {
			out = append(out, c)
		}
	}
	return out, n
}

// holds reports whether something is held back.
func (a *answers) holds() bool { return a.matched > a.given }

// escape reports whether that is a key by itself.
func (a *answers) escape() bool { return a.matched == 1 }

// release appends what is held back. After Escape the rest of an answer that was
// torn apart on its way is still none of the keyboard's, until forget; after more
// than that the rest goes through too, for whoever reads has the begin of it.
func (a *answers) release(out []byte) []byte {
	out = append(out, answer[a.given:a.matched]...)
	if a.given = a.matched; a.matched > 1 {
		*a = answers{}
	}
	return out
}

// forget says that what was released was the keyboard's.
func (a *answers) forget() {
	if !a.holds() {
		*a = answers{}
	}
}
