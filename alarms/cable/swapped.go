package cable

// Swapped says that another bridge than before is at this line's port. What was seen
// of that a little before was no fault of the line, and is taken back: clock and count
// are another's, and so are the pace and what is of no use.
func (w *Watch) Swapped(now int64) {
	w.now = now
	for _, k := range [...]Kind{Restart, ClockStep, Flood, Trickle} {
		s := &w.seen[k]
		switch {
		case s.count == 0 || now-s.last > recent:
		case now-s.first <= recent:
			*s = seen{}
			w.pending &^= 1 << k
		case k == Restart || k == ClockStep:
			s.count--
		}
	}
	w.see(Swapped)
	w.pace = pace{}
}
