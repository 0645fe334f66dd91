package detect

// badOfBridge is added to the happenings of bad-link for each bridge before.
const badOfBridge = 2

// judgeEach judges each of several bridges. One alarm tells of the worst; it
// stays with the one that it told of while that is as bad in its kind.
func (d *BadLinkDetector) judgeEach(b *Bench, dst []Finding) []Finding {
	for len(d.each) < len(b.Bridges) { // once
		d.each = append(d.each, lossWindow{since: -1})
	}
	from, worst := len(dst), -1
	for i := range b.Bridges {
		w := &d.each[i]
		w.roll(b.Now, &b.Bridges[i].Link)
		had := len(dst)
		if dst = w.judge(b, b.Bridges[i].Baud, dst); len(dst) == had {
			continue
		}
		f := &dst[had]
		f.Case += badOfBridge * uint8(i)
		if worst < 0 || worseLink(f, &dst[worst], d.last) {
			worst = had
		}
	}
	if worst < 0 {
		return dst
	}
	dst[from] = dst[worst]
	d.last = int(dst[from].Case / badOfBridge)
	return dst[:from+1]
}

// worseLink reports whether one wire is worse than another; last is the bridge
// that was told.
func worseLink(f, than *Finding, last int) bool {
	if f.Level != than.Level {
		return f.Level > than.Level
	}
	if is := int(f.Case/badOfBridge) == last; is != (int(than.Case/badOfBridge) == last) {
		return is
	}
	return f.Value/f.Limit > than.Value/than.Limit
}

// describeBridge tells how bad the link of one of several bridges is.
func (d *BadLinkDetector) describeBridge(b *Bench, f Finding) Story {
	i := int(f.Case / badOfBridge)
	f.Case %= badOfBridge
	s := d.each[i].describe(b, b.Bridges[i].Baud, f)
	s.Text = b.Bridges[i].Name + ": " + s.Text
	s.Ails.Bridge = b.Bridges[i].Name
	s.More = append(s.More, Fact{"bridge", b.Bridges[i].Name})
	return s
}
