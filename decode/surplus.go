package decode

import "bytes"

var comma = []byte(",")

// mostFields are how many fields each tag has.
var mostFields = func() (n [TagCount]int) {
	for t := range n {
		n[t] = len(Fields(Tag(t)))
	}
	return n
}()

// Surplus tells of a line that has more fields than its tag is known to have: how
// many there are, and how many are known. It is 0, 0 for every other line, and for
// notes, whose text may hold commas. Only the line's commas are looked at: its
// checksum may stand behind it.
func Surplus(tag Tag, line []byte) (fields, known int) {
	fields = bytes.Count(line, comma) - 2 // less count and time
	if tag == Unknown || tag == Note || fields <= mostFields[tag] {
		return 0, 0
	}
	return fields, mostFields[tag]
}
