package runcard_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/runcard"
)

const head = "name = \"mine\"\ntitle = \"My own\"\n"

func step(id, kind, more string) string {
	return fmt.Sprintf("[[step]]\nid = %q\nkind = %q\nsay = \"Do it.\"\nif_failed = \"Mend it.\"\n%s", id, kind, more)
}

// TestParseRefuses: what is wrong is told with its line and column, and what to
// write instead.
func TestParseRefuses(t *testing.T) {
	for name, c := range map[string]struct{ text, want string }{
		"unknown key":        {head + step("a", "person", "wy = \"x\"\n"), `read card line 8:1: step.wy: no such key; did you mean why`},
		"unknown key on top": {"nam = \"mine\"\n" + head + step("a", "person", ""), `read card line 1:1: nam: no such key; did you mean name`},
		"key of a step":      {"say = \"x\"\n" + head + step("a", "person", ""), `line 1:1: say: no such key; put it below a [[step]]`},
		"key of the top":     {head + step("a", "person", "title = \"x\"\n"), `line 8:1: step.title: no such key; put it above the first [[step]]`},
		"nothing like it":    {head + "zzzzzz = 1\n" + step("a", "person", ""), `the keys are: name, title, step`},
		"kind":               {head + step("a", "throtle-to", ""), `read card line 5:1: step.1.kind: no kind of step is called "throtle-to"; did you mean throttle-to`},
		"kind far off":       {head + step("a", "fly", ""), `the kinds are: person, at-rest`},
		"no kind":            {head + "[[step]]\nid = \"a\"\nsay = \"x\"\nif_failed = \"x\"\n", `line 3:3: step.1.kind: no kind of step is called ""`},
		"twice":              {head + step("a", "person", "") + step("a", "person", ""), `line 9:1: step.2.id: "a" is step 1 already; give each step its own id`},
		"no id":              {head + "[[step]]\nkind = \"person\"\nsay = \"x\"\nif_failed = \"x\"\n", `step.1.id: missing`},
		"id of two words":    {head + step("a b", "person", ""), `step.1.id: "a b" has something else than small letters`},
		"long id":            {head + step(strings.Repeat("a", 25), "person", ""), `step.1.id: longer than 24 letters`},
		"no say":             {head + "[[step]]\nid = \"a\"\nkind = \"person\"\nif_failed = \"x\"\n", `step.1.say: missing; write one short sentence`},
		"no if_failed":       {head + "[[step]]\nid = \"a\"\nkind = \"person\"\nsay = \"x\"\n", `step.1.if_failed: missing`},
		"long say":           {head + step("a", "person", "why = \""+strings.Repeat("x", 161)+"\"\n"), `step.1.why: 161 letters, at most 160; say it shorter`},
		"two lines":          {head + step("a", "person", "why = \"x\\ny\"\n"), `step.1.why: has a letter that does not print`},
		"no throttle":        {head + step("a", "throttle-to", ""), `step.1.throttle: it is not said how far`},
		"percent":            {head + step("a", "throttle-to", "throttle = 20\n"), `line 8:1: step.1.throttle: 20 is not within 0.03..1`},
		"zero seconds":       {head + step("a", "armed-idle", "seconds = 0\n"), `step.1.seconds: 0 is not within 0.5..120`},
		"not a number":       {head + step("a", "armed-idle", "seconds = nan\n"), `step.1.seconds: NaN is not within`},
		"wrong kind":         {head + step("a", "armed-idle", "seconds = \"3\"\n"), `value of the wrong kind; write a number from 0.5 to 120`},
		"of no use":          {head + step("a", "person", "seconds = 3\n"), `step.1.seconds: a step of kind person has no use for it; remove it`},
		"hands of no use":    {head + step("a", "at-rest", "hands = true\n"), `line 8:1: step.1.hands: a step of kind at-rest has no use for it; remove it`},
		"released of no use": {head + step("a", "person", "released = true\n"), `line 8:1: step.1.released: a step of kind person has no use for it; remove it`},
		"hands misspelt":     {head + step("a", "person", "hand = true\n"), `step.hand: no such key; did you mean hands`},
		"hands in words":     {head + step("a", "person", "hands = \"yes\"\n"), `value of the wrong kind; write true, or leave it out`},
		"written twice":      {head + "name = \"b\"\n" + step("a", "person", ""), `written twice`},
		"no steps":           {head, `step: there is none`},
		"no name":            {"title = \"x\"\n" + step("a", "person", ""), `name: missing`},
		"no title":           {"name = \"x\"\n" + step("a", "person", ""), `title: missing`},
		"no toml":            {"{", `read card line 1`},
		"far too long":       {strings.Repeat("#", 10<<10), `over 9 KiB`},
		"a tick while armed": {head + step("a", "armed-idle", "") + step("b", "person", ""), `line 10:1: step.2.kind: the craft is armed after a (armed-idle), and no key may be needed then; put a step of kind at-rest before it`},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := runcard.Parse([]byte(c.text))
			require.Error(t, err)
			assert.Contains(t, err.Error(), c.want)
		})
	}
	many := head
	for i := range 41 {
		many += step(fmt.Sprint("s", i), "person", "")
	}
	_, err := runcard.Parse([]byte(many))
	assert.ErrorContains(t, err, "step.41: more than 40 steps")
}

func TestParseTakes(t *testing.T) {
	text := head + step("a", "person", "") + step("b", "throttle-to", "throttle = 0.3\nseconds = 4\nwhy = \"so\"\n") +
		step("c", "at-rest", "") + step("d", "person", "") + step("e", "stop-test", "within_ms = 700\n")
	c, err := runcard.Parse([]byte("\xEF\xBB\xBF" + text))
	require.NoError(t, err)
	require.Len(t, c.Steps, 5)
	assert.Equal(t, runcard.Step{ID: "b", Kind: runcard.ThrottleTo, Say: "Do it.", IfFailed: "Mend it.", Why: "so", Throttle: 0.3, Seconds: 4}, c.Steps[1])
	assert.Equal(t, 700.0, c.Steps[4].WithinMS)
	assert.Equal(t, text, c.Text, "a recording keeps it")
	assert.Equal(t, "throttle-to 0.3 for 4 s", c.Steps[1].Needs())
}

// TestBuiltInCards: each can be read, names itself, and the example has every
// kind of step in it.
func TestBuiltInCards(t *testing.T) {
	for _, c := range runcard.List() {
		again, err := runcard.Load(c.Name)
		require.NoError(t, err)
		assert.Equal(t, c, again)
	}
	c, err := runcard.Parse(runcard.Example())
	require.NoError(t, err)
	seen := map[runcard.Kind]bool{}
	for _, s := range c.Steps {
		seen[s.Kind] = true
	}
	assert.Len(t, seen, int(runcard.Temperatures)+1)
	_, err = runcard.Load("nonsense")
	assert.ErrorContains(t, err, "there are first-run, after-change")
}

// FuzzParse: whatever is read has steps that can be gone through, and reads the
// same from the text that a recording keeps.
func FuzzParse(f *testing.F) {
	f.Add(runcard.Example())
	f.Add([]byte(head + step("a", "person", "")))
	f.Add([]byte(head + "step = [{id = \"a\", kind = \"sticks\", say = \"x\", if_failed = \"y\", move = 0.1}]\n"))
	f.Add([]byte(head + step("a", "throttle-to", "throttle = 1e308\n")))
	f.Add([]byte("\xEF\xBB\xBFname = 'x'\n[step.x]\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := runcard.Parse(data)
		if err != nil {
			if !strings.HasPrefix(err.Error(), "read card") {
				t.Fatalf("%q", err)
			}
			return
		}
		again, err := runcard.Parse([]byte(c.Text))
		require.NoError(t, err)
		require.Equal(t, c, again)
		r := runcard.NewRun(c)
		for r.View().Current < len(c.Steps) { // left out one by one, it comes to its end
			require.True(t, r.Do(runcard.Skip, c.Steps[r.View().Current].ID))
		}
		require.True(t, r.View().Ended)
	})
}
