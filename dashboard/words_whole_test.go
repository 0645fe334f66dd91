package dashboard

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode/craft"
)

// wideValues are put for what a format fills in.
var wideValues = regexp.MustCompile(`%[-+]?[0-9.]*[a-z]`)

// storyWords are all texts that the detectors' sources hold for one field of a story,
// as they are written there or filled with wide values.
func storyWords(t *testing.T, field string) (out []string) {
	names, err := filepath.Glob("../alarms/detect/*.go")
	require.NoError(t, err)
	take := func(n ast.Expr) {
		ast.Inspect(n, func(n ast.Node) bool {
			if lit, ok := n.(*ast.BasicLit); ok && lit.Kind == token.STRING {
				s, err := strconv.Unquote(lit.Value)
				require.NoError(t, err)
				s = strings.ReplaceAll(wideValues.ReplaceAllStringFunc(s, func(verb string) string {
					if strings.HasSuffix(verb, "s") {
						return "m1 and m2"
					}
					return "12.34"
				}), "%%", "%")
				if len(strings.Fields(s)) > 1 {
					out = append(out, strings.Trim(s, " ;"))
				}
			}
			return true
		})
	}
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		require.NoError(t, err)
		ast.Inspect(file, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.KeyValueExpr:
				if k, ok := n.Key.(*ast.Ident); ok && k.Name == field {
					take(n.Value)
				}
			case *ast.AssignStmt:
				for i, to := range n.Lhs {
					if sel, ok := to.(*ast.SelectorExpr); ok && sel.Sel.Name == field && i < len(n.Rhs) {
						take(n.Rhs[i])
					}
				}
			}
			return true
		})
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// footOf is what the small words of a banner say, as one line.
func footOf(t *testing.T, f *Frame, w, h int) string {
	h = bannerRows(w, h)
	s := newStrict(t, w, h)
	defer s.Fini()
	l := newLook(256, false)
	b := bulletinOf(f, l, 0)
	drawBanner(pane{s: s, look: l, w: w, h: h}, &b, true)
	foot := ""
	for y := h - sentenceRows(h); y < h; y++ {
		foot += " "
		for x := edgeWide; x < w-edgeWide; x++ {
			cell, _, _ := s.Get(x, y)
			foot += cell
		}
	}
	return strings.Join(strings.Fields(foot), " ")
}

// Of no alarm, whatever it says and why, is what to do cut at the smallest usual
// size, nor is its end lost; an alarm that kept hands away keeps them away when it
// has ended. What is wrong is never left out, and where it is cut, that is shown.
func TestWhatToDoIsNeverCut(t *testing.T) {
	actions, texts := storyWords(t, "Action"), storyWords(t, "Text")
	require.Greater(t, len(actions), 50)
	require.Greater(t, len(texts), 50)
	for _, a := range slices.Clone(actions) {
		actions = append(actions, "cut throttle; "+a, "disarm; "+alarms.OnceStill+a)
	}
	texts = append(texts, strings.Repeat("a long sentence ", 20), "two/ca: "+texts[0]+"; the line shows: two/ca: unplugged; two/cb: unplugged")
	for i, text := range texts {
		for k, action := range actions {
			if i < len(texts)-2 && (i+k)%4 > 0 {
				continue // each of them with some
			}
			for _, size := range [][2]int{{80, 24}, {140, 45}} {
				if size[0] > 80 && i%16 > 0 {
					continue
				}
				f := benchFrame()
				f.Snap.Alarms = []alarms.AlarmView{{Kind: detect.LateStop, Where: detect.M2, Priority: detect.High, Active: true,
					Story: detect.Story{Text: text, Cause: "craft file or bridge is of another craft, or out of date", Action: action}}}
				foot := footOf(t, f, size[0], size[1])
				if !assert.Contains(t, foot, "first: "+action, size) || !assert.True(t, strings.HasPrefix(foot, strings.Join(strings.Fields(text)[:2], " ")), foot) {
					return
				}
			}
		}
		f := benchFrame()
		f.Snap.Armed = detect.No
		for _, kind := range []detect.Kind{detect.LateStop, detect.SpinDisarmed} {
			f.Snap.Alarms = []alarms.AlarmView{{Kind: kind, Where: detect.M2, Priority: detect.High, Story: detect.Story{Text: text}}}
			assert.Regexp(t, "^it was: .* no hand near it until the pack is out$", footOf(t, f, 80, 24))
		}
	}
}

// What leads nobody to the throttle of a craft that is disarmed still says what else
// is to be done, and what it is about.
func TestNoThrottleUnderDisarmed(t *testing.T) {
	f := benchFrame()
	f.Snap.Armed = detect.No
	f.Snap.Alarms = []alarms.AlarmView{{Kind: detect.BadLink, Where: detect.Link, Priority: detect.Low, Active: true, Story: detect.Story{
		Text:  "two/ca: 38.4 % of the lines of the last 5 s are bad or lost; the line shows: two/ca: unplugged; two/cb: unplugged",
		Cause: "lines lost", Action: "ease off; check cable, ground and baud"}}}
	assert.Equal(t, "two/ca: 38.4 % of the lines of the last 5 s are bad or lost · first: check cable, ground and baud",
		fmt.Sprint(footOf(t, f, 80, 24)))
	f.Snap.Alarms[0].Story.Action = "cut throttle"
	assert.Contains(t, footOf(t, f, 80, 24), "first: find out why before you arm")
	f.Snap.Armed = detect.Yes
	assert.Contains(t, footOf(t, f, 80, 24), "first: cut throttle")
}

// handsOff are how the parts of an action may begin that lead no hand to the craft;
// two are ends of a part.
var handsOff = []string{
	"before you", "channel over", "correct", "cut", "disarm", "do not", "ease", "end the run", "keep", "leave the motors off",
	"let the stick", "lower the gains", "lower the throttle", "press stop", "send axes", "set 12.34", "set idle_least",
	"stop", "the loop", "throttle",
}

// TestNoActionOfAnyKindLeadsAHand: whatever an alarm asks for, while the craft is
// armed, or nobody knows, what leads a hand to it waits for the rotors.
func TestNoActionOfAnyKindLeadsAHand(t *testing.T) {
	e := alarms.New(craft.Craft{}, alarms.Options{})
	guarded := 0
	for _, action := range storyWords(t, "Action") {
		for part := range strings.SplitSeq(e.KeepOff(action), "; ") {
			if strings.HasPrefix(part, alarms.OnceStill) {
				guarded++
				continue
			}
			if !slices.ContainsFunc(handsOff, func(word string) bool { return strings.HasPrefix(part, word) }) {
				t.Errorf("%q", part)
			}
		}
	}
	assert.Greater(t, guarded, 20)
}
