package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/decode"
	"tetherbell/decode/craft"
	"tetherbell/simulator"
)

// TestOddTagsAreTold: a line of a tag that is not known is good and ignored, and
// its bridge's builder hears of it, with the tag that was meant where one letter
// makes it; never once for each line, and of no more tags than fit.
func TestOddTagsAreTold(t *testing.T) {
	var lines strings.Builder
	line := func(tag string, n int) {
		for range n {
			at := strings.Count(lines.String(), "\n")
			lines.WriteString(summed(fmt.Sprintf("%s,%d,%d,1", tag, at, at*10_000)) + "\n")
		}
	}
	line("load", 100)
	line("axis", 3)
	line("gps", 1) // two letters from set: nothing is guessed
	line("rpm", 1)
	line("lod", 1) // load came: nothing is lost by it
	for c := range 11 {
		line("own"+string(rune('a'+c)), 2)
	}
	wrong := []string{
		"  axis: is axes meant? 3 lines of that tag came from 1.0 s on, ignored, and none of axes; first: have the bridge name them axes",
		"  rpm: is erpm meant? 1 line of that tag came from 1.0 s on, ignored, and none of erpm; first: have the bridge name them erpm",
	}
	want := []string{
		"  ignored: 1 line of the tag gps, which is not known, first at 1.0 s",
		"  ignored: 1 line of the tag lod, which is not known (is load meant?), first at 1.1 s",
	}
	var news []string
	d := newDesk(craft.Craft{}, 0, nil, nil)
	d.ailing = func(_ int64, word, text, entry string) {
		assert.Equal(t, "line", word)
		assert.Equal(t, "line: "+text, entry)
		news = append(news, text)
	}
	d.feed([]byte(lines.String()))
	assert.EqualValues(t, 128, d.good)
	assert.Equal(t, wrong, d.misnamedLines())
	got := d.oddTagLines()
	const apart = 8
	require.Len(t, got, apart-len(wrong)+1)
	assert.Equal(t, want, got[:2])
	assert.Equal(t, "  ignored: 14 lines of still other tags", got[apart-len(wrong)])
	require.Len(t, news, apart)
	assert.Equal(t, "tag axis is not known (is axes meant?): its lines are ignored", news[0])

	// check reads in lots, and finds the same.
	file := filepath.Join(t.TempDir(), "odd.bell")
	require.NoError(t, os.WriteFile(file, []byte(lines.String()), 0o600))
	code, out, _ := told("check", file)
	assert.Zero(t, code)
	for _, w := range slices.Concat(wrong, want) {
		assert.Contains(t, out, w)
	}
}

// TestOtherBridgesLinesAreNotOdd: what is set aside, for another bridge has the
// say, has a tag that is known.
func TestOtherBridgesLinesAreNotOdd(t *testing.T) {
	d := newDesk(craft.Craft{}, 0, nil, nil)
	d.useBridges([]string{"one", "two"})
	us := int64(0)
	for i := range 200 {
		us += 10_000
		for n := 1; n <= 2; n++ {
			d.feedFrom(n, us, []byte(summed(fmt.Sprintf("load,%d,%d,1", i, us))+"\n"))
		}
	}
	assert.Empty(t, d.oddTagLines())
	d.feedFrom(2, us, []byte(summed(fmt.Sprintf("laod,200,%d,1", us))+"\n"))
	assert.Len(t, d.oddTagLines(), 1)
}

// TestMoreFieldsAreTold: a decimal comma makes two fields of one, and lines that
// are good; their bridge's builder hears of it, once for each tag.
func TestMoreFieldsAreTold(t *testing.T) {
	var lines strings.Builder
	for i := range 200 {
		body := fmt.Sprintf("axes,%d,%d,0,%d,-0,1,2,0,0,0,0,0,0,0,0,1", i, i*10_000, i%10)
		switch i % 4 {
		case 1:
			body = fmt.Sprintf("load,%d,%d,1,25", i, i*10_000)
		case 2:
			body = fmt.Sprintf("note,%d,%d,one, two, three, four", i, i*10_000)
		case 3:
			body = fmt.Sprintf("pack,%d,%d,16.1,", i, i*10_000)
		}
		lines.WriteString(summed(body) + "\n")
	}
	var news []string
	d := newDesk(craft.Craft{}, 0, nil, nil)
	d.ailing = func(_ int64, _, text, _ string) { news = append(news, text) }
	d.feed([]byte(lines.String()))
	assert.Equal(t, []string{
		"axes: 14 fields, 10 are known: decimal commas? what is beyond is ignored",
		"load: 2 fields, 1 is known: decimal commas? what is beyond is ignored",
	}, news)
	want := []string{
		"  ignored: what is beyond the fields of 50 lines, first at 0.0 s: axes: 14 fields, 10 are known: decimal commas?",
		"  ignored: what is beyond the fields of 50 lines, first at 0.0 s: load: 2 fields, 1 is known: decimal commas?",
	}
	assert.Equal(t, want, d.oddTagLines())
	file := filepath.Join(t.TempDir(), "more.bell")
	require.NoError(t, os.WriteFile(file, []byte(lines.String()), 0o600))
	_, out, _ := told("check", file)
	for _, w := range want {
		assert.Contains(t, out, w)
	}
}

// TestMisnamedStreamInTheVerdict: the cause comes first, with what to do, and what
// follows from it stands under it, once. Without the stream there is no such cause.
func TestMisnamedStreamInTheVerdict(t *testing.T) {
	sc, err := simulator.Load("calm")
	require.NoError(t, err)
	b := simulator.New(sc, 1)
	var text []byte
	for done := false; !done; {
		text, _, done = b.Next(text)
	}
	var wrong, without strings.Builder
	for line := range strings.Lines(string(text)) {
		body := line[:max(0, strings.LastIndexByte(line, '*'))]
		rest, axes := strings.CutPrefix(body, "axes,")
		if axes {
			wrong.WriteString(summed("axis,"+rest) + "\n")
			continue
		}
		wrong.WriteString(line)
		without.WriteString(line)
	}
	file := filepath.Join(t.TempDir(), "axis.bell")
	require.NoError(t, os.WriteFile(file, []byte(wrong.String()), 0o600))
	code, out, _ := told("check", file)
	assert.Zero(t, code, "nothing rang: %s", out)
	lines := strings.Split(out, "\n")
	why := "no axes lines, but axis: is axes meant?"
	assert.Equal(t, file+": NOT FULLY WATCHED: 9 of 27 kinds, rising-oscillation among them ("+why+"); nothing of medium or high priority", lines[0])
	assert.Regexp(t, `^  axis: is axes meant\? [0-9]+ lines of that tag came from 0\.0 s on, ignored, and none of axes; first: have the bridge name them axes$`, lines[2])
	assert.Regexp(t, `^  not watched: rising-oscillation, .*rotor-line since .*tip-over.* \(no axes lines, but axis: is axes meant\?\)$`, lines[3])
	assert.NotContains(t, out, "takes a stream", "it asks for no rate of what is misnamed")
	assert.NotContains(t, out, "which is not known")
	for _, name := range []string{"rotor-line", "tip-over", "throttle-mismatch", "reversed-response"} {
		assert.Equal(t, 1, strings.Count(out, name), "%s is told once: %s", name, out)
	}

	require.NoError(t, os.WriteFile(file, []byte(without.String()), 0o600))
	_, out, _ = told("check", file)
	assert.NotContains(t, out, "meant?")
	assert.Equal(t, 1, strings.Count(out, "rotor-line"), "not twice with two figures: %s", out)

	// A watch says so at arming, in one line.
	var o, e bytes.Buffer
	assert.Zero(t, run(context.Background(), []string{"watch", "--plain", "--sound", "off", "-"}, strings.NewReader(wrong.String()), &o, &e))
	assert.Regexp(t, `(?m)^ +3\.[0-9]+  watch  armed with 7 of 27 kinds of alarm not watched: rising-oscillation, .*`+regexp.QuoteMeta("("+why+")"), o.String())
}

// TestOddTagsCostNothing: a line of a tag that is not known, once that is told,
// allocates no more than another.
func TestOddTagsCostNothing(t *testing.T) {
	d := newDesk(craft.Craft{}, 0, nil, nil)
	d.feed([]byte(summed("axis,1,1000,1") + "\n"))
	s := decode.Sample{Word: []byte("axis")}
	n := testing.AllocsPerRun(1000, func() {
		s.Seq, s.Time = s.Seq+1, s.Time+5
		d.take(goodLine, &s, 0, 30, nil)
	})
	assert.Zero(t, n)
}
