//go:build linux

package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/decode"
)

// hostileTexts are texts that somebody could put into a name, a note or a file to
// steer the terminal, to forge what the program says or to be run by what the
// text is handed on to. Each holds the word PWN, so that it is seen whether it
// came through.
var hostileTexts = []string{
	"PWN\x1b[2J\x1b[1;1HALL CLEAR", "PWN\x1b]0;PWNTITLE\x07", "PWN\x1b]52;c;UFdO\x07", "PWN\x1bP+q544e\x1b\\", "PWN\x1b[?1049l\x1b[31;7m",
	"PWN\u009b2J\u009d0;T\u009c", "PWN\x9b31m\xff\xc3", "PWN\x07\x08\x08\x08\x08\x7f\x00", "PWN\r                    ALL CLEAR",
	"PWN\ntetherbell: all is well\nhint: go on", "PWN\n      1.000  HIGH   forged", "PWN\u2028tetherbell: forged\u2029\u0085\v\f",
	"PWN\u202eRAELC LLA\u202c", "PWN\u2066\u2067\u2068\u2069\u200e\u200f\u061c", "P\u200bW\u200dN\ufeff\u2060\u00adPWN", "PWN\u3164\u115f\u2800\uffa0\u00a0\u3000",
	"PWN" + strings.Repeat("\u0336\u0489\u20dd", 20), "PWN\u0301\u0302\u0303\u0304\u0305", "PWN\ufe0f\U0001f469\u200d\U0001f52c\U000e0041", "PWN\U0010ffff\ue000\ufffe",
	"PWN\uff21\u6f22\u5b57\U0001f6a8", "PWN" + strings.Repeat("\u6f22", 60), "PWN[red]ALL[-] [::b]b [\"r\"]x[\"\"] [red[]", "PWN" + strings.Repeat("W", 230),
	"--PWN", "-oPWN", "=HYPERLINK(\"http://PWN\")", "+PWN", "@PWN", "PWN,\"x\"\"", "PWN'; rm -rf x; $(touch PWN) `touch PWN` %PATH%",
	"PWN<script>alert(1)</script>", "PWN</style></title></svg><b>x", "PWN\" onload=\"alert(1)", "PWN' onload='alert(1)", "PWN-->]]>&lt;&#60;", "javascript:alert('PWN')",
	"PWN [x](javascript:alert(1)) ![x](http://x)", "PWN | x | **b** _i_ <!-- x -->", "# PWN", "1. PWN", "PWN https://example.org www.example.org a@example.org",
	"PWN<speak><mark name='x'/></speak>", "PWN{{.}}%s%d%n\\x1b\\u202e",
}

// hostileRecording is a recording in which every host line and every text of
// the wire carries the text: the wire's only as far as its grammar lets it.
func hostileRecording(t *testing.T, text string) []byte {
	t.Helper()
	q, err := json.Marshal(text)
	require.NoError(t, err)
	wire := bytes.Map(func(r rune) rune {
		if r < 0x20 || r > 0x7E || r == ',' || r == '*' {
			return -1
		}
		return r
	}, []byte(text))
	wire = wire[:min(len(wire), 60)]
	slip, err := os.ReadFile(slipRecording(t))
	require.NoError(t, err)
	lines := slices.Collect(bytes.Lines(slip))[:2500]
	var b bytes.Buffer
	fmt.Fprintf(&b, `#session {"tool":%s,"version":%s,"start_utc":%s,"source":%s,"baud":115200,"craft":{"name":%s},"card":%s,"continues":%s}`+"\n", q, q, q, q, q, q, q)
	say := func() {
		one := strings.ReplaceAll(text, "\n", " ") // a line feed makes another line, which is the next case
		for _, word := range []string{"#mark ", "#ack ", "#ack rising-oscillation ", "#alarm ", "#drill ", "#lost ", "#pause ", "#at ", "#card ", "#step ", "#", "#wire #", "#end "} {
			b.WriteString(word + one + "\n")
		}
		b.WriteString("#mark " + text + "\n")
	}
	s := decode.Sample{Tag: decode.Hello, Text: wire}
	s.Put(decode.HelloVersion, 1)
	s.Put(decode.HelloBoot, 1)
	for i, line := range lines {
		b.Write(line)
		if i%800 != 40 {
			continue
		}
		say()
		f := bytes.Split(line, []byte(","))
		fmt.Sscan(string(f[1]), &s.Seq)
		fmt.Sscan(string(f[2]), &s.Time)
		b.Write(decode.Append(nil, &s))
		b.Write(decode.Append(nil, &decode.Sample{Tag: decode.Note, Seq: s.Seq, Time: s.Time, Text: wire}))
		c := decode.Sample{Tag: decode.Craft, Seq: s.Seq, Time: s.Time, Text: wire, Word: []byte("quad-x")}
		c.Put(decode.CraftMotors, 4)
		b.Write(decode.Append(nil, &c))
		b.WriteString(text + "\n") // noise on the line
	}
	fmt.Fprintf(&b, `#end {"summary":{"file":%s,"lines":1,"bad":0,"lost":0,"duration_s":3,"alarms":{%s:1},"not_watched":{%s:%s}},`+
		`"craft":%s,"verdict":"high","worst":{"alarm":%s,"where":%s,"priority":"high","t":1},"said_crc32c":%s}`+"\n", q, q, q, q, q, q, q, q)
	return b.Bytes()
}

// fileNamed is a name that a file system takes.
func fileNamed(text string) string {
	name := strings.NewReplacer("/", "_", "\x00", "_").Replace(text)
	for len(name) > 200 {
		_, n := utf8.DecodeLastRuneInString(name)
		name = name[:len(name)-n]
	}
	return name
}

// checkPlain wants a text for people: whole lines of what shows.
func checkPlain(t *testing.T, what string, out []byte) {
	t.Helper()
	var a decode.Accents
	for i, r := range string(out) {
		if r != '\n' && !(r == utf8.RuneError && bytes.HasPrefix(out[i:], []byte("\ufffd"))) && !a.Shown(r) {
			t.Errorf("%s prints %q:\n%.300q", what, r, out[max(0, i-100):])
			return
		}
		if r == '\n' {
			a = decode.Accents{}
		}
	}
	for line := range strings.Lines(string(out)) {
		if strings.HasPrefix(line, "tetherbell: all is well") || strings.HasPrefix(line, "hint: go on") ||
			strings.HasPrefix(line, "tetherbell: forged") || strings.HasSuffix(line, "HIGH   forged\n") && strings.HasPrefix(line, "  ") {
			t.Errorf("%s: a forged line: %q", what, line)
		}
	}
}

// checkJSONLines wants JSON, an object a line, with nothing in it that steers.
func checkJSONLines(t *testing.T, what string, out []byte) {
	t.Helper()
	d := json.NewDecoder(bytes.NewReader(out))
	n := 0
	for d.More() {
		var v map[string]any
		if err := d.Decode(&v); err != nil {
			t.Errorf("%s: %v\n%.300q", what, err, out)
			return
		}
		n++
	}
	assert.Positive(t, n, what)
	for i, r := range string(out) {
		if r != '\n' && !decode.Shown(r) {
			t.Errorf("%s: JSON holds %q: %.200q", what, r, out[max(0, i-80):])
			return
		}
	}
}

// TestHostileTexts gives every text to every command, in names of files,
// settings, craft, steps and in all that a recording can say, and reads every
// byte that comes out.
func TestHostileTexts(t *testing.T) {
	t.Parallel()
	came := 0 // texts that were seen to come through
	for i, text := range hostileTexts {
		dir := t.TempDir()
		path := filepath.Join(dir, fileNamed(text)+".bell")
		require.NoError(t, os.WriteFile(path, hostileRecording(t, text), 0o600))
		for _, name := range []string{"craft.toml", "card.toml", "scenario.toml", "list.toml", "list.csv"} {
			require.NoError(t, os.WriteFile(filepath.Join(dir, name), hostileFile(name, text), 0o600))
		}
		in := func(name string) string { return filepath.Join(dir, name) }
		page, made := in("page.html"), in("made")
		for _, c := range []struct {
			args []string
			read func(*testing.T, string, []byte)
		}{
			{[]string{"check", path}, checkPlain}, {[]string{"check", "--json", path, path}, checkJSONLines},
			{[]string{"check", "--craft", in("craft.toml"), path}, checkPlain}, {[]string{"check", "--craft", path, path}, checkPlain},
			{[]string{"replay", "--plain", "--sound", "off", "--speed", "9000", path}, checkPlain},
			{[]string{"watch", "--json", "--sound", "off", "-"}, checkJSONLines},
			{[]string{"sessions", dir}, checkPlain}, {[]string{"sessions", "--json", dir}, checkJSONLines}, {[]string{"sessions", dir + "/" + text}, checkPlain},
			{[]string{"report", "-o", page, path}, checkPlain}, {[]string{"report", "-o", in("page.md"), "--format", "markdown", path}, checkPlain},
			{[]string{"report", "-o", in("page.json"), "--format", "json", path}, checkPlain}, {[]string{"report", "-o", in("two.html"), path, path}, checkPlain},
			{[]string{"export", "-o", made, path}, checkPlain}, {[]string{"accept", path}, checkPlain},
			{[]string{"settings", in("list.toml"), in("list.csv")}, checkPlain}, {[]string{"settings", path, in("list.csv")}, checkPlain}, {[]string{"settings", "--json", in("list.csv"), in("list.csv")}, nil},
			{[]string{"craft", in("craft.toml")}, checkPlain}, {[]string{"card", in("card.toml")}, checkPlain}, {[]string{"simulate", "--fast", in("scenario.toml")}, checkPlain},
			{[]string{"simulate", "--fast", "--set", text, "calm"}, checkPlain}, {[]string{"simulate", "--pty=/nowhere/" + text}, checkPlain},
			{[]string{"watch", "/dev/" + text}, checkPlain}, {[]string{"watch", "-", "--plain", "--craft", text}, checkPlain}, {[]string{"watch", "-", "--card", text}, checkPlain},
			{[]string{"watch", "--plain", "--sound", "off", "-"}, checkPlain}, {[]string{text}, checkPlain}, {[]string{"help", text}, checkPlain}, {[]string{"check", "--" + text}, checkPlain},
			{[]string{"__complete", "check", text}, nil}, {[]string{"__complete", "simulate", text}, nil}, {[]string{"demo", text, "--plain"}, checkPlain},
		} {
			if i%4 > 0 && !often[c.args[0]] {
				continue // a quarter of the texts is given to every command
			}
			if !slices.ContainsFunc(c.args, func(a string) bool { return strings.ContainsRune(a, 0) }) {
				out, errs := runHostile(t, dir, path, c.args)
				what := fmt.Sprintf("%.120q", c.args)
				if c.read != nil {
					c.read(t, what, out)
				} else {
					checkPlain(t, what, bytes.ReplaceAll(out, []byte("\t"), []byte(" ")))
				}
				checkPlain(t, what, errs)
				if bytes.Contains(out, []byte("PWN")) || bytes.Contains(errs, []byte("PWN")) {
					came++
				}
			}
		}
		checkPage(t, text, page)
		checkPage(t, text, in("two.html"))
		checkFiles(t, text, dir, made)
		left, err := os.ReadDir(dir)
		require.NoError(t, err)
		for _, e := range left {
			assert.NotEqual(t, "PWN", e.Name(), "%q was run", text)
		}
	}
	assert.Greater(t, came, len(hostileTexts)*5, "the texts must come through, or nothing was tried")
}

// often are the commands that read recordings: every text is given to them.
var often = map[string]bool{"check": true, "sessions": true, "report": true, "export": true}

// hostileFile is a small file with the text wherever its form has room for one.
func hostileFile(name, text string) []byte {
	q, _ := json.Marshal(text) // a string of TOML, but for the pairs of \u
	switch name {
	case "craft.toml":
		return fmt.Appendf(nil, "name = %s\nlayout = %s\n", q, q)
	case "card.toml":
		return fmt.Appendf(nil, "name = \"x\"\ntitle = %s\n[[step]]\nid = \"a\"\nkind = \"person\"\nsay = %s\nwhy = %s\n%s = 1\n", q, q, q, q)
	case "scenario.toml":
		return fmt.Appendf(nil, "name = %s\ntitle = %s\n[craft]\nname = %s\n", q, q, q)
	case "list.toml":
		return fmt.Appendf(nil, "%s = 1\n[t]\n%s = %s\n", q, q, q)
	}
	return fmt.Appendf(nil, "name,value\n\"%s\",1\n", strings.ReplaceAll(text, `"`, `""`))
}

func runHostile(t *testing.T, dir, path string, args []string) (out, errs []byte) {
	t.Helper()
	cmd := exec.Command("tetherbell", args...)
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "HOME="+dir, "XDG_CONFIG_HOME="+filepath.Join(dir, "config"), "TERM=xterm-256color")
	if slices.Contains(args, "-") {
		f, err := os.Open(path)
		require.NoError(t, err)
		defer f.Close()
		cmd.Stdin = f
	}
	var o, e bytes.Buffer
	cmd.Stdout, cmd.Stderr = &o, &e
	require.NoError(t, cmd.Start())
	_ = waitFor(cmd)
	assert.True(t, cmd.ProcessState.Exited(), "%.100q hangs", args)
	assert.NotContains(t, e.String(), "goroutine", "%.100q", args)
	return o.Bytes(), e.Bytes()
}

// checkPage wants a page without a script, a link or an element of the text's.
func checkPage(t *testing.T, text, path string) {
	t.Helper()
	page, err := os.ReadFile(path)
	if !assert.NoError(t, err, "%q", text) {
		return
	}
	assert.Contains(t, string(page), `http-equiv="Content-Security-Policy" content="default-src 'none'`, "%q", text)
	low := strings.ToLower(string(page))
	for _, word := range []string{"<script", "<speak", "<b>", "<!-- x", "onload=\"", "onload='", "href=\"java", "href=\"http", "src=", "<iframe", "<object", "<embed", "<link", "<base", "<form"} {
		assert.NotContains(t, low, word, "%q", text)
	}
	assert.Equal(t, 1, strings.Count(low, "</style>"), "%q", text)
	assert.Equal(t, strings.Count(low, "<svg"), strings.Count(low, "</svg>"), "%q", text)
	checkShownFile(t, text, path, page)
}

func checkShownFile(t *testing.T, text, path string, data []byte) {
	t.Helper()
	var a decode.Accents
	for i, r := range string(data) {
		if r == '\n' {
			a = decode.Accents{}
			continue
		}
		if r != '\u00a0' && r != '\ufffd' && !a.Shown(r) {
			t.Errorf("%s of %q holds %q: %.100q", filepath.Base(path), text, r, data[max(0, i-50):])
			return
		}
	}
}

// letterEscape is what Markdown takes for the letter itself (CommonMark 0.31, 2.4).
var letterEscape = regexp.MustCompile("\\\\[!-/:-@\\[-`{-~]")

// checkFiles reads what report and export wrote.
func checkFiles(t *testing.T, text, dir, made string) {
	t.Helper()
	md, err := os.ReadFile(filepath.Join(dir, "page.md"))
	if assert.NoError(t, err, "%q", text) {
		checkShownFile(t, text, "page.md", md)
		md = letterEscape.ReplaceAll(md, []byte("_"))
		for _, word := range []string{"<script", "<speak", "<b>", "](java", "](http", "\n# PWN", "\n1. PWN", " https://", " www.example", "a@example"} {
			assert.NotContains(t, string(md), word, "%q", text)
		}
	}
	js, err := os.ReadFile(filepath.Join(dir, "page.json"))
	if assert.NoError(t, err, "%q", text) {
		assert.True(t, json.Valid(js), "%q", text)
		checkShownFile(t, text, "page.json", js)
	}
	tables, err := filepath.Glob(filepath.Join(made, "*", "*.csv"))
	require.NoError(t, err)
	more, _ := filepath.Glob(filepath.Join(made, "*.csv"))
	for _, table := range append(tables, more...) {
		f, err := os.Open(table)
		require.NoError(t, err)
		_, err = csv.NewReader(f).ReadAll() // the same number of fields in every row
		assert.NoError(t, err, "%q: %s", text, table)
		f.Close()
	}
}

// TestHostileScreen draws every view of a recording with the texts in it, and
// reads what the terminal gets: no sequence of theirs, and no cell that does
// not show.
func TestHostileScreen(t *testing.T) {
	if testing.Short() {
		t.Skip("takes half a minute")
	}
	t.Parallel()
	for i, text := range hostileTexts {
		if i%3 != 0 && !strings.ContainsAny(text, "\x1b\u009b\u202e[") {
			continue
		}
		path := filepath.Join(t.TempDir(), fileNamed(text)+".bell")
		require.NoError(t, os.WriteFile(path, hostileRecording(t, text), 0o600))
		raw, pictures := screenOf(t, "replay", "--sound", "off", "--speed", "20", path)
		checkScreen(t, text, raw, pictures)
		assert.Contains(t, strings.Join(pictures, ""), "PWN", "%q must come through", text)
	}
}

// checkScreen wants no sequence of the text's, and cells that show.
func checkScreen(t *testing.T, text string, raw []byte, pictures []string) {
	t.Helper()
	for _, theirs := range []string{"\x1b]0;PWN", "\x1b]52", "\x1bP+q", "\u009b", "\u009d", "\x9b3", "\u202e", "\u2066", "\u200b", "\u0336", "\u2028", "\x1b[1;1HALL", "\x1b[31;7m", "\x7f"} {
		assert.NotContains(t, string(raw), theirs, "%q", text)
	}
	for _, p := range pictures {
		for _, r := range p {
			if r != '\n' && !decode.Shown(r) {
				t.Errorf("%q: the screen holds %q:\n%s", text, r, p)
				break
			}
		}
	}
}

// screenOf runs a command on a terminal and looks at all views.
func screenOf(t *testing.T, args ...string) (raw []byte, pictures []string) {
	t.Helper()
	tty, slave, err := pty.Open()
	require.NoError(t, err)
	require.NoError(t, pty.Setsize(tty, &pty.Winsize{Rows: 40, Cols: 120}))
	cmd := exec.Command("tetherbell", args...)
	cmd.Env = append(os.Environ(), "TERM=xterm-256color", "LANG=C.UTF-8", "LC_ALL=C.UTF-8")
	cmd.Stdin, cmd.Stdout, cmd.Stderr = slave, slave, slave
	cmd.SysProcAttr = controlling()
	require.NoError(t, cmd.Start())
	t.Cleanup(func() { _ = cmd.Process.Kill() })
	slave.Close()
	glass := newGlassPane(120, 40)
	done := make(chan struct{})
	go func() { // ended by the end of the program, waited for below
		defer close(done)
		buf := make([]byte, 64<<10)
		for {
			n, err := tty.Read(buf)
			raw = append(raw, buf[:n]...)
			glass.take(buf[:n], time.Now())
			if err != nil {
				return
			}
		}
	}()
	keys := []string{"\r", "1", "2", "3", "4", "5", "6", "c", "?", "?"}
	soon(t, func() bool { frames, _ := glass.drawn(); return frames > 1 }, "a picture")
	for _, key := range keys {
		before, _ := glass.drawn()
		_, _ = tty.WriteString(key)
		for end := time.Now().Add(2 * time.Second); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
			if frames, _ := glass.drawn(); frames > before+1 {
				break
			}
		}
		pictures = append(pictures, glass.picture())
	}
	_ = cmd.Process.Signal(os.Interrupt)
	_ = waitFor(cmd)
	<-done
	tty.Close()
	return raw, pictures
}
