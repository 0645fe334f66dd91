package dashboard

// steered tells whether a replay has something to say of its own: a stretch that
// it goes round, what came of the last key, or that it knows nothing of what came
// before.
func steered(f *Frame) bool {
	if !steers(f) {
		return false
	}
	st := &f.Status
	return len(st.Loop) > 0 || st.Hint != "" || st.JudgedFrom > 0
}

// drawReplay draws the line of a replay that is steered.
func drawReplay(p pane, st *Status) {
	l := p.look
	for x := range p.w {
		p.put(x, 0, ' ', l.plain)
	}
	x := 1
	if word := loopWord(st); word != "" {
		x = p.text(0, 0, " "+word+" ", l.invert.Bold(true)) + 1
	}
	from := ""
	if st.JudgedFrom > 0 {
		from = "judged from " + clock(int64(st.JudgedFrom*1e6), 0) + " on"
	}
	x, _ = p.fits(x, 0, p.w, clean(st.Hint), l.bold)
	if x > 1 && from != "" {
		from = l.dot + from
	}
	if from == "" {
		return
	}
	if _, whole := p.fits(x, 0, p.w, from+": what came before is not known here", l.plain); !whole {
		p.fits(x, 0, p.w, from, l.plain)
	}
}

// loopWord says which stretch is gone round; empty where none is.
func loopWord(st *Status) string {
	switch len(st.Loop) {
	case 1:
		return "LOOP from " + clock(int64(st.Loop[0]*1e6), 1)
	case 2:
		return "LOOP " + clock(int64(st.Loop[0]*1e6), 1) + " to " + clock(int64(st.Loop[1]*1e6), 1)
	}
	return ""
}
