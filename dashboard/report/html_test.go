package report

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/account"
)

// A pageView is what a strict reader of XML finds in a page.
type pageView struct {
	ids   map[string]int
	refs  []string // what labels and links name
	tags  map[string]int
	attrs []xml.Attr
	text  string
}

func readPage(t *testing.T, page string) *pageView {
	t.Helper()
	v := &pageView{ids: map[string]int{}, tags: map[string]int{}}
	d := xml.NewDecoder(strings.NewReader(page))
	var text strings.Builder
	style := false
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err)
		switch e := tok.(type) {
		case xml.StartElement:
			style = e.Name.Local == "style"
			v.tags[e.Name.Local]++
			v.attrs = append(v.attrs, e.Attr...)
			for _, a := range e.Attr {
				switch a.Name.Local {
				case "id":
					v.ids[a.Value]++
				case "aria-labelledby":
					v.refs = append(v.refs, strings.Fields(a.Value)...)
				case "href":
					require.True(t, strings.HasPrefix(a.Value, "#"), "link to %s", a.Value)
					v.refs = append(v.refs, a.Value[1:])
				}
			}
		case xml.CharData:
			if !style {
				text.Write(e)
				text.WriteByte(' ')
			}
		}
	}
	v.text = strings.Join(strings.Fields(text.String()), " ")
	return v
}

func pagesUnderTest() map[string]written {
	return map[string]written{
		"bare": reportOf(bare()), "rich": reportOf(rich(20)), "hour": reportOf(rich(3600)), "hostile": reportOf(hostile()),
		"pair": pair(20), "pair-hour": pair(3600), "pair-nothing": nothing(), "pair-hostile": hostilePair(),
	}
}

func TestPageIsWhole(t *testing.T) {
	for name, r := range pagesUnderTest() {
		t.Run(name, func(t *testing.T) {
			page := rendered(t, r, HTML)
			v := readPage(t, page)
			for id, n := range v.ids {
				assert.Equal(t, 1, n, "id %s", id)
			}
			for _, id := range v.refs {
				assert.Contains(t, v.ids, id)
			}
			for _, tag := range []string{"script", "link", "img", "iframe", "image", "use", "foreignObject"} {
				assert.Zero(t, v.tags[tag], tag)
			}
			for _, a := range v.attrs {
				assert.False(t, strings.HasPrefix(a.Name.Local, "on"), "%s=%s", a.Name.Local, a.Value)
				assert.NotContains(t, []string{"src", "srcset", "style"}, a.Name.Local)
			}
			assert.NotContains(t, strings.ToLower(page), "http:")
			assert.NotContains(t, strings.ToLower(page), "https:")
			assert.NotContains(t, page, "@import")
			assert.NotContains(t, page, "ZgotmplZ", "html/template refused a value")
			assert.Contains(t, page, `content="default-src 'none'; style-src 'unsafe-inline'; img-src data:"`)
			assert.Less(t, len(page), 3<<20)
			assert.True(t, Ours([]byte(page[:Head])))
			assert.Equal(t, page, rendered(t, r, HTML), "the same account gives the same bytes")
			assert.NotContains(t, v.text, "NaN")
			assert.NotContains(t, v.text, "Inf")
		})
	}
}

// What the account says stands in all three forms.
func TestFormsAgree(t *testing.T) {
	a := rich(20)
	text := readPage(t, rendered(t, reportOf(a), HTML)).text
	md := rendered(t, reportOf(a), Markdown)
	js := rendered(t, reportOf(a), JSON)
	want := []string{a.Verdict.Fix[1:], a.Verdict.Headline[1:], a.Craft.Name}
	for _, r := range a.Alarms {
		want = append(want, r.Text)
		if r.Action != "" {
			want = append(want, r.Action)
		}
	}
	for _, w := range want {
		assert.Contains(t, text, w)
		assert.Contains(t, md, plainText(w))
		assert.Contains(t, js, w)
	}
	for _, form := range []string{md, js} {
		assert.True(t, Ours([]byte(form[:Head])))
	}
	assert.False(t, Ours([]byte("<!DOCTYPE html>\n<html><head><title>holiday</title></head></html>")))
	assert.False(t, Ours([]byte(`{"name":"else"}`)))
}

// hostile has marks of HTML, SVG and Markdown wherever a name or a text stands.
func hostile() *account.Account {
	a := rich(20)
	const evil = "<script>alert(1)</script>\"'><svg onload=x>|`*_\n\u202e&amp;"
	a.Craft.Name, a.Craft.Layout, a.Craft.Hold = evil, evil, evil
	a.Session = account.Session{File: evil, Tool: evil, Start: evil, Source: evil, Judged: evil, Remarks: []string{evil}}
	a.Verdict = account.Verdict{Worst: evil, Headline: evil, Fix: evil, Why: evil, Ended: evil}
	for i := range a.Alarms {
		r := &a.Alarms[i]
		r.Name, r.Text, r.Cause, r.Action, r.Unit = evil, evil, evil, evil, evil
	}
	a.Alarms[0].Priority, a.Alarms[1].Where = evil, evil
	a.Marks = append(a.Marks, account.Mark{At: 1, Text: evil, By: evil})
	for i := range a.Axes {
		a.Axes[i].Name = fmt.Sprintf("%d%s", i, evil)
		a.Axes[i].Found = []string{evil}
		a.Axes[i].Spectrum.Unit, a.Axes[i].Spectrum.Orders[0].Order = evil, evil
	}
	a.Balance.Direction, a.Balance.Why = evil, evil
	a.Throttle.Unit, a.Motors[0].RPM.Unit = evil, evil
	a.Link.Causes = map[string]uint64{evil: 2}
	a.Link.Streams[0].Tag = evil
	a.Settings[0].Name = evil
	a.NotWatched[0] = account.Lack{Name: evil, Why: evil}
	a.Disagree = []string{evil}
	a.Card.Title, a.Card.Outcome, a.Card.Steps[0] = evil, evil, account.Step{Name: evil, Text: evil, State: evil, Reason: evil}
	return a
}

func TestHostileTextIsHarmless(t *testing.T) {
	a := hostile()
	page := rendered(t, reportOf(a), HTML)
	v := readPage(t, page)
	honest := readPage(t, rendered(t, reportOf(rich(20)), HTML))
	assert.Equal(t, honest.tags["svg"], v.tags["svg"], "no element comes from a text")
	assert.Greater(t, strings.Count(v.text, "<script>alert(1)</script>"), 30, "the text itself is told")
	assert.NotContains(t, page, "\u202e")

	md := rendered(t, reportOf(a), Markdown)
	assert.NotRegexp(t, `(^|[^\\])<(script|svg)`, md)
	for line := range strings.Lines(md) {
		if strings.HasPrefix(line, "|") {
			bars := strings.Count(line, "|") - strings.Count(line, `\|`)
			assert.LessOrEqual(t, bars, 10, line)
		}
	}
}

func TestNothingMeasuredIsSaid(t *testing.T) {
	page := rendered(t, reportOf(bare()), HTML)
	v := readPage(t, page)
	assert.Zero(t, v.tags["svg"], "no empty chart")
	for _, want := range []string{"No alarm rang", "nothing to draw", "no axis was watched", "Nothing of the motors was measured", "is not known",
		"temperatures were not measured", "The pack was not measured", "Air pressure was not measured", "No stream was heard", "reported no settings",
		"All kinds of alarm were watched", "no guided run", "nothing odd"} {
		assert.Contains(t, v.text, want)
	}
}

// An alarm that got worse says when; its text is that of then.
func TestTimeOfAnAlarm(t *testing.T) {
	a := account.Alarm{At: 17.74, Priority: "medium"}
	assert.Equal(t, "17.740 s", alarmTime(&a))
	a.Priority, a.WorstAt, a.First = "high", at(17.79), true
	assert.Equal(t, "17.740 s, high from 17.790 s, first of a burst", alarmTime(&a))
}

// On a narrow screen what lies out of sight is told of.
func TestFirstAlarmOnANarrowScreen(t *testing.T) {
	a := &account.Account{LengthS: 20}
	assert.Empty(t, firstAlarm(a))
	a.Alarms = []account.Alarm{{At: 1, Name: "pressure-dip", Where: "craft", Priority: "note"}, {At: 16.2, Name: "rising-oscillation", Where: "roll", Priority: "high"}}
	assert.Equal(t, " The first alarm, rising-oscillation at roll, rang at 16.200 s: it lies to the right, out of sight.", firstAlarm(a))
	a.Alarms[1].At = 4
	assert.Equal(t, " The first alarm, rising-oscillation at roll, rang at 4.000 s.", firstAlarm(a))
}
