package main

import (
	"bufio"
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func manPage(t *testing.T) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, writeMan(&b, newRoot(&console{out: &b, err: &b}), "2026-11-27"))
	return b.String()
}

var (
	roffMacro  = regexp.MustCompile(`(?m)^\.(ad l|TH|SH|SS|TP|IP|PP|B|br|nh)( 7| \\\(bu 2| "" 4|$)? ?`)
	roffEscape = strings.NewReplacer(`\e`, `\`, `\-`, `-`, `\(aq`, `'`, `\(ga`, "`", `\(ha`, `^`, `\(ti`, `~`, `\(dq`, `"`, `\&`, ``)
)

// plain is what a reader sees of roff, with all blanks alike.
func plain(roff string) string {
	return squeezed(roffEscape.Replace(roffMacro.ReplaceAllString(roff, "")))
}

func squeezed(s string) string { return strings.Join(strings.Fields(s), " ") }

// Whatever --help says, of whichever command, stands on the manual page.
func TestManHasAllHelp(t *testing.T) {
	page := plain(manPage(t))
	has := func(what, text string) {
		t.Helper()
		assert.Contains(t, page, squeezed(text), what)
	}
	seen := 0
	var visit func(*cobra.Command)
	visit = func(c *cobra.Command) {
		for _, sub := range c.Commands() {
			if sub.IsAvailableCommand() {
				visit(sub)
			}
		}
		seen++
		has("short help of "+c.Name(), c.Short)
		has("long help of "+c.Name(), c.Long)
		has("examples of "+c.Name(), c.Example)
		c.Flags().VisitAll(func(f *pflag.Flag) {
			if f.Name == "help" || f.Hidden {
				return
			}
			one := pflag.NewFlagSet("", pflag.ContinueOnError)
			one.AddFlag(f)
			has("flag "+f.Name+" of "+c.Name(), one.FlagUsages())
		})
	}
	visit(newRoot(&console{}))
	assert.Greater(t, seen, 15, "commands")
	for _, c := range cautions {
		has("caution", c)
	}
}

func TestManText(t *testing.T) {
	const heads = ".PP\n"
	for name, tc := range map[string]struct{ text, want string }{
		"filled":       {"one\ntwo\n\nthree", heads + "one\ntwo\n" + heads + "three\n"},
		"as it stands": {"see:\n\n  a b\n  c", heads + "see:\n.IP \"\" 4\na b\n.br\nc\n"},
		"a list": {"keys:\n  r            arm\n               or not\n  Up Down 0    more",
			heads + "keys:\n.TP 7\n.B r\narm\nor not\n.TP 7\n.B Up Down 0\nmore\n"},
		"a dash begins a line": {"a port,\n- for standard input", heads + "a port,\n\\- for standard input\n"},
		"a point begins":       {".bell", heads + "\\&.bell\n"},
		"what roff would read": {`'a\b' ^~` + "`", heads + `\(aqa\eb\(aq \(ha\(ti\(ga` + "\n"},
		"not of seven bits":    {"15 °C", heads + `15 \[u00B0]C` + "\n"},
	} {
		t.Run(name, func(t *testing.T) {
			var b bytes.Buffer
			p := &page{Writer: bufio.NewWriter(&b)}
			p.text(tc.text)
			require.NoError(t, p.Flush())
			assert.Equal(t, tc.want, b.String())
		})
	}
}

// What reads manual pages has nothing to say about ours.
func TestManLints(t *testing.T) {
	file := filepath.Join(t.TempDir(), "tetherbell.1")
	require.NoError(t, os.WriteFile(file, []byte(manPage(t)), 0o644))
	for _, reader := range [][]string{
		{"mandoc", "-Tlint", "-Wwarning", file},
		{"groff", "-man", "-ww", "-Tutf8", "-rLL=78n", "-z", file},
		{"man", "--warnings", "-E", "UTF-8", "-l", "-Tutf8", "-Z", file},
	} {
		t.Run(reader[0], func(t *testing.T) {
			if _, err := exec.LookPath(reader[0]); err != nil {
				t.Skipf("no %s here", reader[0])
			}
			cmd := exec.Command(reader[0], reader[1:]...)
			var errs bytes.Buffer
			cmd.Stderr = &errs
			out, err := cmd.Output()
			require.NoError(t, err, "%s%s", out, errs.String())
			assert.Empty(t, errs.String())
			if reader[0] == "mandoc" {
				assert.Empty(t, string(out))
			}
		})
	}
}

func TestManDate(t *testing.T) {
	t.Setenv("SOURCE_DATE_EPOCH", "1795788941") // date -u -d @1795788941: 2026-11-27
	day, err := pageDate()
	require.NoError(t, err)
	assert.Equal(t, "2026-11-27", day)
	t.Setenv("SOURCE_DATE_EPOCH", "soon")
	_, err = pageDate()
	assert.Error(t, err)
}
