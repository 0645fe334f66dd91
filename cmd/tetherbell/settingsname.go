package main

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"tetherbell/alarms/detect"
	"tetherbell/decode/craft"
)

const (
	// Up to so many letters of a name may be wrong: two that changed places are
	// two. A name that both lists have is one that somebody knows how to write:
	// what lies beside it is new more often than wrong.
	lettersOff     = 2
	lettersOffBoth = 1
	// shortName: names with fewer letters have neighbours at two.
	shortName = 6
	// shortWord: words with fewer letters tell names apart (p and i, x and y, min
	// and max); one is no slip of another.
	shortWord = 4
)

// An askedName is the name that may have been meant by another one.
type askedName struct {
	name  string
	at    int  // what it is with that name: its place in settingsDiff.meant
	other bool // the name stands in the other list only
}

// askNames looks for names that stand in one list only and are nearly another
// one: of a setting of the other list, or one that the program goes by. It flags
// them, and judges all once more with the names that may be meant: a value does
// not pass because its name is wrong.
func (d *settingsDiff) askNames(names *craft.Settings, gap float64) {
	d.asks, d.meant = map[int]askedName{}, slices.Clone(d.all)
	var onlyOld, both []string
	for i := range d.all {
		switch c := &d.all[i]; {
		case c.Both():
			both = append(both, c.Name)
		case c.HasOld:
			onlyOld = append(onlyOld, c.Name)
		}
	}
	for i := range d.all {
		if c := &d.all[i]; c.HasNew && !c.HasOld {
			if name := nearName(c.Name, onlyOld, lettersOff); name != "" {
				d.askPair(i, name)
				onlyOld = slices.DeleteFunc(onlyOld, func(o string) bool { return o == name })
			}
		}
	}
	for i := range d.all {
		c, m := &d.all[i], &d.meant[i]
		if m.HasOld == m.HasNew { // in both, or asked about with its pair
			continue
		}
		name := ""
		if !goesBy(&c.Meaning) {
			name = knownNear(c.Name, names)
		}
		if name == "" {
			name = nearName(c.Name, both, lettersOffBoth)
		}
		if name != "" {
			c.Slips |= detect.SlipName
			d.asks[i], m.Name = askedName{name: name, at: i}, name
		}
	}
	for i := range d.meant {
		d.meant[i].Meaning = names.MeaningOf(d.meant[i].Name)
	}
	detect.PairSettings(d.meant)
	detect.JudgeSettings(d.meant, gap)
}

// askPair takes a setting of the new list and one of the old list for the same.
// Where only the new name is one that the program goes by, the old one is wrong.
func (d *settingsDiff) askPair(i int, oldName string) {
	k := slices.IndexFunc(d.all, func(c detect.SettingChange) bool { return c.Name == oldName && !c.HasNew })
	wrong, right := i, k
	if goesBy(&d.all[i].Meaning) && !goesBy(&d.all[k].Meaning) {
		wrong, right = k, i
	}
	d.all[wrong].Slips |= detect.SlipName
	d.asks[wrong] = askedName{name: d.all[right].Name, at: i, other: true}
	m := &d.meant[i]
	m.Name, m.Old, m.HasOld, m.OldAt = d.all[right].Name, d.all[k].Old, true, d.all[k].OldAt
	d.meant[k].HasOld = false
}

// goesBy reports whether the program judges a setting by what its name means.
func goesBy(m *craft.Meaning) bool { return m.IdleReady || m.IdleLeast || m.Share || m.Gain }

// nearName finds the name that was meant by one, at most so many letters off;
// "" where none is.
func nearName(name string, among []string, most int) string {
	loose := looseName(name)
	if len(loose) < shortName {
		most = 1
	}
	best, bestName := "", ""
	for _, n := range among {
		l := looseName(n) // a point would be a table to Nearest
		if !mayBeSlip(loose, l) || craft.NearestWithin(loose, []string{l}, most) == "" {
			continue
		}
		if best == "" || craft.NearestWithin(loose, []string{best, l}, most) == l {
			best, bestName = l, n
		}
	}
	return bestName
}

// mayBeSlip reports whether two names may be one of which a letter is wrong:
// other numbers and other short words are other names.
func mayBeSlip(a, b string) bool {
	digits := func(s string) string {
		return strings.Map(func(r rune) rune {
			if unicode.IsDigit(r) {
				return r
			}
			return -1
		}, s)
	}
	if a == b || digits(a) != digits(b) {
		return false
	}
	x, y := strings.Split(a, "_"), strings.Split(b, "_")
	if len(x) != len(y) { // a joint is missing, or too many
		return true
	}
	for i := range x {
		if x[i] != y[i] && max(len(x[i]), len(y[i])) < shortWord {
			return false
		}
	}
	return true
}

// knownNear finds the name that was meant among those that the program goes by
// whatever the other list has: armed idle, least flight output, shares. It may
// stand within a longer one. "" where none is near.
func knownNear(name string, names *craft.Settings) string {
	var all []string
	for _, list := range []craft.List{names.IdleReady, names.IdleLeast, names.Shares} {
		for pattern := range list.All() {
			if known := strings.Trim(pattern, "*_"); len(known) >= shortName && !strings.ContainsAny(known, "*?") {
				all = append(all, known)
			}
		}
	}
	words := strings.Split(looseName(name), "_")
	for _, known := range all {
		n := strings.Count(known, "_") + 1
		for i := 0; i+n <= len(words); i++ {
			if nearName(strings.Join(words[i:i+n], "_"), []string{known}, lettersOff) != "" {
				// Letter by letter as long as its loose name: its own joints stay.
				letters := []rune(name)
				ahead, behind := strings.Join(append(words[:i:i], ""), "_"), strings.Join(append([]string{""}, words[i+n:]...), "_")
				from, to := utf8.RuneCountInString(ahead), len(letters)-utf8.RuneCountInString(behind)
				return string(letters[:from]) + known + string(letters[to:])
			}
		}
	}
	return nearName(name, all, lettersOff) // a joint may be missing
}

// tellSlip words one flag of a setting.
func (d *settingsDiff) tellSlip(i int, s detect.Slip) (text, action string) {
	if s != detect.SlipName {
		return d.all[i].Tell(s, d.all)
	}
	c, a := &d.all[i], d.asks[i]
	here, there := d.new, d.old
	if !c.HasNew {
		here, there = there, here
	}
	text = c.Name + " is only in " + here
	if a.other {
		text += ", and " + a.name + " only in " + there
	} else {
		text += ", and reads like " + a.name
	}
	m := &d.meant[a.at]
	var said []string
	for _, slip := range m.Slips.Each() {
		t, _ := m.Tell(slip, d.meant)
		said = append(said, t)
	}
	if len(said) == 0 && m.Both() {
		said = append(said, "it went from "+shownNumber(m.Old)+" to "+shownNumber(m.New))
	}
	if len(said) > 0 {
		text += "; if that is meant: " + strings.Join(said, "; ")
	}
	return text, "did you mean " + a.name + "? put the name right, then compare again"
}
