package dashboard

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"github.com/gdamore/tcell/v2"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// part is one stretch of a row in one style.
type part struct {
	text  string
	style tcell.Style
}

// row writes parts side by side and leaves out those that do not fit whole,
// but for the first, which is cut.
func (p pane) row(y int, parts ...part) {
	x := 0
	for i, t := range parts {
		switch {
		case t.text == "":
		case i == 0:
			x = p.text(x, y, t.text, t.style)
		default:
			x, _ = p.fits(x, y, p.w, t.text, t.style)
		}
	}
}

// inDoubt stands beside values that contradict physics: they are shown, and nothing
// is judged by them.
const inDoubt = "IN DOUBT"

// doubtWord says of which values. Of axes lines it is the rates: the loop's own
// outputs beside them are what it does with these.
func doubtWord(tag decode.Tag) string {
	name := tagNames[tag]
	if tag == decode.Axes {
		name = "gyro"
	}
	return strings.ToUpper(name) + " " + inDoubt
}

// drawPower draws lift and pack; rows is 1 or more.
func drawPower(p pane, f *Frame) {
	s, l := f.Snap, p.look
	of := clean(s.LiftOf)
	if of == "" {
		of = "weight"
	}
	level, up := markedBy(s, detect.NearLift, detect.GroundThrust)
	x := p.label(0, 0, 8, "lift", level, up)
	lift := part{pad(read(s.LiftN, 1)+" N", 9), l.bold}
	share := part{"no load cells", l.plain}
	if s.Streams[decode.Load].Count > 0 {
		share.text = "empty in its lines"
	}
	if s.LiftShare.OK {
		share = part{num(s.LiftShare.V, 2) + " of " + of + " ", l.bold}
	} else if s.LiftN.OK {
		share = part{of + " not known", l.plain}
	}
	doubtful := slices.Contains(s.Doubted, decode.Load)
	if doubtful {
		lift, share = part{read(s.LiftN, 1) + " N ", l.plain}, part{" " + inDoubt + " ", l.invert}
	}
	if old := strings.TrimPrefix(oldWord(f, decode.Load), ": "); old != "" {
		lift, share = part{read(s.LiftN, 1) + " N ", l.plain}, part{" " + old + " ", l.invert}
	}
	if p.h == 1 {
		half := p.sub(x, 0, p.w/2-x, 1)
		if !s.LiftN.OK && !s.LiftShare.OK {
			lift = part{}
		}
		half.row(0, lift, share)
		rest := p.sub(p.w/2, 0, p.w-p.w/2, 1)
		x = label(rest, s, 0, 0, 6, "pack", detect.Pack)
		rest.sub(x, 0, rest.w-x, 1).row(0, packParts(f, l)...)
		return
	}
	wide := max(4, min(p.w-x-32, 60))
	if s.LiftShare.OK && !isOld(f, decode.Load) && !doubtful {
		p.gauge(x, 0, wide, gauge{share: s.LiftShare.V, over: l.bold})
	} else {
		wide = -1
	}
	p.sub(x+wide+1, 0, p.w, 1).row(0, lift, share)
	x = label(p, s, 0, 1, 8, "pack", detect.Pack)
	p.sub(x, 1, p.w-x, 1).row(0, packParts(f, l)...)
	slipped, level, up := slippedIdle(s)
	x = p.label(0, 2, 8, "idle", level, up)
	idle := read(s.IdleReady, 3)
	if up {
		idle = num(slipped, 3)
	}
	p.sub(x, 2, p.w-x, 1).row(0, part{"ready " + idle + ", least in flight " + read(s.IdleLeast, 3), l.plain})
}

func packParts(f *Frame, l *look) []part {
	s := f.Snap
	if !s.Volts.OK && !s.Amps.OK {
		return []part{{"not measured", l.plain}}
	}
	if old := strings.TrimPrefix(oldWord(f, decode.Pack), ": "); old != "" {
		return []part{{read(s.Volts, 1) + " V ", l.plain}, {" " + old + " ", l.invert}}
	}
	parts := []part{{read(s.Volts, 1) + " V  ", l.bold}}
	if s.VoltsPerCell.OK {
		parts = append(parts, part{num(s.VoltsPerCell.V, 2) + " V/cell  ", l.bold})
	}
	return append(parts, part{read(s.Amps, 1) + " A", l.plain})
}

// linkParts word the pace of the line, what it loses, and the port.
func linkParts(f *Frame, l *look) (pace, loss, port []part) {
	s, st := f.Snap, &f.Status
	rate := s.LinesPerSecond
	if s.Bridges != nil {
		rate = linesOf(f)
	}
	gone := st.Lost || st.Ended
	silent := part{"silent " + span(float64(s.SilentUS)/1e6) + "  ", l.plain}
	if s.SilentUS >= silentAlready {
		silent.style = l.invert.Bold(true)
	}
	if s.SilentUS >= oldValues {
		rate = 0
	}
	pace = []part{{num(rate, 0) + " lines/s  ", l.bold}, silent}
	if s.Lines == 0 {
		pace[0].text = "no good line yet  "
	}
	if gone {
		pace = []part{{"no lines come  ", l.bold}}
		if st.Lost {
			pace = append(pace, silent)
		}
	}
	share := s.BadShare
	if s.Lines == 0 && s.Bad > 0 {
		share = 1 // the share is counted from the first good line on
	}
	loss = []part{
		{"bad+lost " + percent(share) + "  ", l.bold},
		{"bad " + strconv.FormatUint(s.Bad, 10) + "  lost " + strconv.FormatUint(s.Lost, 10) + "  ", l.plain},
	}
	if s.Restarts > 0 {
		loss = append(loss, part{plural(s.Restarts, "restart") + "  ", l.bold})
	}
	speed := size(s.BytesPerSecond) + "/s"
	if st.Baud > 0 {
		// 8N1: ten bits a byte.
		speed += " = " + num(s.BytesPerSecond*10/float64(st.Baud)*100, 0) + " % of " + strconv.Itoa(st.Baud) + " baud"
	}
	if gone || s.Lines == 0 {
		speed = "" // what it counts starts with the first good line
	} else {
		speed += "  "
	}
	state := part{clean(st.Port) + "  ", l.plain}
	if st.Lost || st.Ended {
		state.style = l.invert.Bold(true)
	}
	if st.Replay {
		state = part{replayWord(st, l) + "  ", l.bold}
	}
	port = []part{{clean(st.Source) + " ", l.bold}, state, {speed, l.plain}}
	if st.Drill != nil {
		port = port[1:] // it says that itself
	}
	if s.Bridge != "" {
		port = append(port, part{"bridge " + clean(s.Bridge), l.plain})
	}
	return pace, loss, port
}

// sightNew is how long a fault of the line that was seen stands out.
const sightNew = 5_000_000 // us

// seesParts name the faults of the line that were seen, the newest first. A
// sound line has none.
func seesParts(f *Frame, l *look) (sees []part) {
	all := slices.Clone(f.Status.Sights)
	slices.SortStableFunc(all, func(a, b Sight) int { return cmp.Compare(b.Last, a.Last) })
	for i := range all {
		s := &all[i]
		style := l.plain
		if f.Snap.T-s.Last < sightNew {
			style = l.bold
		}
		sees = append(sees, part{clean(s.Name) + " " + strconv.FormatUint(s.Count, 10) + "  ", style})
	}
	return sees
}

// keepParts word recording and sound.
func keepParts(f *Frame, l *look) (record, sound []part) {
	st := &f.Status
	switch {
	case st.RecordError != "":
		record = []part{{" NOT RECORDED: " + clean(st.RecordError) + " ", l.chip(detect.Medium)}}
	case st.Recording != "":
		record = []part{{clean(st.Recording) + " ", l.plain}, {size(float64(st.RecordedBytes)) + "  ", l.bold}}
	case st.Replay:
		record = []part{{"a replay: not recorded ", l.plain}}
	default:
		record = []part{{"nothing is recorded ", l.bold}}
	}
	if st.RecordMissing > 0 {
		record = append(record, part{" " + grouped(float64(st.RecordMissing)) + " lines are not in it ", l.chip(detect.Medium)})
	}
	if st.QueueDropped > 0 {
		record = append(record, part{" monitor too slow: " + strconv.FormatUint(st.QueueDropped, 10) + " lines dropped ", l.chip(detect.Medium)})
	}
	if f.Snap != nil && f.Snap.PausedUS > 0 {
		sound = append(sound, part{pausedWord(f.Snap), l.invert.Bold(true)}, part{"  ", l.plain})
	}
	text := clean(st.Sound)
	if text == "" {
		text = "not known"
	}
	if st.Tick != "" {
		text += ", tick " + clean(st.Tick)
	}
	return record, append(sound, part{text, l.plain})
}

// drawLink draws link, recording and sound: in three rows, or with more rows
// a row for each and the streams below.
func drawLink(p pane, f *Frame) {
	s, l := f.Snap, p.look
	pace, loss, port := linkParts(f, l)
	record, sound := keepParts(f, l)
	y := 0
	next := func(name string, parts []part) {
		p.text(1, y, name, l.bold)
		p.sub(8, y, p.w-8, 1).row(0, parts...)
		y++
	}
	beacon := beaconParts(f, l)
	if p.h < 7 { // it may have no row of its own
		beacon, pace = nil, append(pace, beaconShort(f, l)...)
	}
	if p.h <= 3 {
		first := slices.Concat(pace, loss, seesParts(f, l))
		if p.h == 2 && s.Bridges != nil { // there is no row for the ports
			first = append(bridgesShort(f, l), first...)
		}
		next("link", first)
		if p.h > 2 && s.Bridges != nil {
			next("ports", bridgesShort(f, l))
		} else if p.h > 2 { // what is kept and heard matters more
			next("port", port)
		}
		if s.PausedUS <= 0 { // a pause names the sound itself
			sound[0].text = "  sound: " + sound[0].text
		}
		name := "record"
		if f.Status.Replay && p.h == 2 { // where it stands, instead of the port
			name, record = "replay", []part{{replayWord(&f.Status, l) + "  ", l.bold}}
		}
		next(name, append(record, sound...))
	} else if s.Bridges != nil {
		next("link", slices.Concat(pace, loss))
		sees := seesParts(f, l)
		if len(sees) > 0 && p.h >= 5 {
			next("sees", sees)
		}
		if p.h-y >= len(s.Bridges)+2 {
			for i := range s.Bridges {
				next("port "+strconv.Itoa(i+1), bridgeParts(f, i, l))
			}
		} else {
			next("ports", bridgesShort(f, l))
		}
		next("record", record)
		next("sound", sound)
	} else {
		next("link", pace)
		next("loss", loss)
		if sees := seesParts(f, l); len(sees) > 0 {
			next("sees", sees)
		}
		next("port", port)
		next("record", record)
		next("sound", sound)
	}
	if len(beacon) > 0 {
		next("beacon", beacon)
	}
	label(p, s, 0, 0, 8, "link", detect.Link)
	for tag := decode.Tag(1); tag < decode.TagCount && y < p.h; tag++ {
		// The streams that alarms live on; the others stand in the lists.
		if tag != decode.Axes && tag != decode.Out && tag != decode.ERPM && tag != decode.State {
			continue
		}
		st := &s.Streams[tag]
		t := "never heard" + misnamedWord(s, tag)
		if st.Count > 0 {
			t = num(st.Rate(), 0) + "/s, last " + span(float64(s.T-st.Last)/1e6) + " ago"
		}
		next(tagNames[tag], []part{{t, l.plain}})
	}
}

var tagNames = [decode.TagCount]string{
	"unknown", "hello", "craft", "axes", "out", "erpm", "accel", "load", "temp", "pack", "air", "state", "set", "note",
}
