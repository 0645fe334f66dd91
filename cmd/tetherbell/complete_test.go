package main

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Nothing is left to "any file" for want of a thought.
func TestEverythingCompletes(t *testing.T) {
	for _, c := range newRoot(&console{}).Commands() {
		if !c.IsAvailableCommand() || c.Name() == "completion" || c.Name() == "help" {
			continue
		}
		assert.NotNil(t, c.ValidArgsFunction, "arguments of %s", c.Name())
		c.Flags().VisitAll(func(f *pflag.Flag) {
			if _, ok := c.GetFlagCompletionFunc(f.Name); !ok && f.Value.Type() != "bool" {
				t.Errorf("--%s of %s has no completion", f.Name, c.Name())
			}
		})
	}
}

// As the shells' scripts ask.
func TestCompletes(t *testing.T) {
	const noFile, ext, dirs = ":4", ":8", ":16"
	for name, tc := range map[string]struct {
		words    string
		has      []string
		hasNot   []string
		howItEnd string
	}{
		"commands":              {words: "re", has: []string{"replay", "report"}, hasNot: []string{"man"}, howItEnd: noFile},
		"recordings":            {words: "check ", has: []string{"bell", "bell.zst"}, howItEnd: ext},
		"the second report":     {words: "report a.bell ", has: []string{"bell"}, howItEnd: ext},
		"no third report":       {words: "report a.bell b.bell ", hasNot: []string{"bell"}, howItEnd: noFile},
		"settings lists":        {words: "settings a.toml ", has: []string{"toml", "csv", "bell"}, howItEnd: ext},
		"craft files":           {words: "craft ", has: []string{"toml"}, howItEnd: ext},
		"folders of recordings": {words: "sessions ", howItEnd: dirs},
		"folders to record to":  {words: "watch --record ", howItEnd: dirs},
		"cards":                 {words: "card ", has: []string{"first-run", "after-change"}, howItEnd: noFile},
		"cards of a watch":      {words: "watch --card f", has: []string{"first-run"}, howItEnd: noFile},
		"a card's file":         {words: "card my", has: []string{"toml"}, hasNot: []string{"first-run"}, howItEnd: ext},
		"scenarios":             {words: "demo g", has: []string{"gains-high"}, howItEnd: noFile},
		"a scenario's file":     {words: "simulate ./", has: []string{"toml", "bell"}, howItEnd: ext},
		"what rings":            {words: "watch --sound ", has: []string{"auto", "bell", "off"}, howItEnd: ":36"},
		"formats of tables":     {words: "export --format ", has: []string{"csv", "parquet"}, hasNot: []string{"html"}, howItEnd: ":36"},
		"formats of pages":      {words: "report --format ", has: []string{"html", "markdown"}, hasNot: []string{"csv"}, howItEnd: ":36"},
		"recordings being made": {words: "watch nosuchport", has: []string{"bell"}, howItEnd: ext},
		"links to ports":        {words: "watch " + filepath.Join(t.TempDir(), "b"), hasNot: []string{"bell"}, howItEnd: ":0"},
		"shells":                {words: "completion ", has: []string{"bash", "zsh", "fish", "powershell"}, howItEnd: noFile},
	} {
		t.Run(name, func(t *testing.T) {
			var out, errs bytes.Buffer
			args := append([]string{cobra.ShellCompRequestCmd}, strings.Split(tc.words, " ")...)
			require.Zero(t, run(context.Background(), args, strings.NewReader(""), &out, &errs), errs.String())
			lines := strings.Split(strings.TrimSpace(out.String()), "\n")
			var got []string
			for _, l := range lines {
				word, _, _ := strings.Cut(l, "\t")
				got = append(got, word)
			}
			assert.Subset(t, got, tc.has)
			for _, w := range tc.hasNot {
				assert.NotContains(t, got, w)
			}
			assert.Equal(t, tc.howItEnd, lines[len(lines)-1])
		})
	}
}

// A real bash, with the script in it, completes as a person would see it.
func TestBashCompletes(t *testing.T) {
	const helpers = "/usr/share/bash-completion/bash_completion"
	if _, err := exec.LookPath("bash"); err != nil {
		t.Skip("no bash here")
	}
	if _, err := os.Stat(helpers); err != nil {
		t.Skip("no bash-completion here")
	}
	dir := t.TempDir()
	for _, name := range []string{"a.bell", "b.bell.zst", "c.toml", "d.txt", "runs/e.bell"} {
		path := filepath.Join(dir, name)
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, nil, 0o644))
	}
	bin := filepath.Join(t.TempDir(), "tetherbell")
	self, err := os.Executable()
	require.NoError(t, err)
	require.NoError(t, os.Symlink(self, bin)) // the test binary is tetherbell too, by its name
	for line, want := range map[string][]string{
		"tetherbell chec":           {"check"},
		"tetherbell check ":         {"a.bell", "b.bell.zst", "runs"},
		"tetherbell check runs/":    {"runs/e.bell"},
		"tetherbell craft ":         {"c.toml", "runs"},
		"tetherbell sessions ":      {"runs"},
		"tetherbell watch --card f": {"first-run"},
		"tetherbell watch --craft=": {"c.toml", "runs"},
		"tetherbell simulate c.":    {"c.toml"},
	} {
		t.Run(line, func(t *testing.T) {
			script := `. ` + helpers + `
source <(tetherbell completion bash --no-descriptions)
COMP_LINE=$1 COMP_POINT=${#1}
compopt() { :; } # it is for a running completion alone
eval "COMP_WORDS=(${1//=/ = })"
[[ $1 == *' ' || $1 == *= ]] && COMP_WORDS+=('')
COMP_CWORD=$((${#COMP_WORDS[@]} - 1))
__start_tetherbell
printf '%s\n' "${COMPREPLY[@]}"`
			cmd := exec.Command("bash", "--norc", "-c", script, "bash", line)
			cmd.Dir = dir
			cmd.Env = append(os.Environ(), "PATH="+filepath.Dir(bin)+":"+os.Getenv("PATH"))
			out, err := cmd.CombinedOutput()
			require.NoError(t, err, string(out))
			var got []string
			for _, w := range strings.Fields(string(out)) {
				got = append(got, strings.TrimSuffix(w, "/"))
			}
			assert.ElementsMatch(t, want, got)
		})
	}
}

// A bash without the package bash-completion prints no errors into the line that
// somebody types.
func TestBashWithoutItsPackage(t *testing.T) {
	if _, err := exec.LookPath("bash"); err != nil {
		t.Skip("no bash here")
	}
	var script, errs bytes.Buffer
	require.Zero(t, run(context.Background(), []string{"completion", "bash"}, strings.NewReader(""), &script, &errs), errs.String())
	cmd := exec.Command("bash", "--norc", "--noprofile", "-c", script.String()+`
COMP_WORDS=(tetherbell chec) COMP_CWORD=1 COMP_LINE='tetherbell chec' COMP_POINT=15
declare -F _get_comp_words_by_ref && exit 3
__start_tetherbell
echo "status $? replies ${#COMPREPLY[@]}"`)
	said, err := cmd.CombinedOutput()
	require.NoError(t, err, string(said))
	assert.Equal(t, "status 0 replies 0\n", string(said))
}

// The scripts of the others are at least what their shells can read.
func TestShellsReadTheirScripts(t *testing.T) {
	for shell, flag := range map[string]string{"bash": "-n", "zsh": "-n", "fish": "--no-execute"} {
		t.Run(shell, func(t *testing.T) {
			if _, err := exec.LookPath(shell); err != nil {
				t.Skipf("no %s here", shell)
			}
			var out, errs bytes.Buffer
			require.Zero(t, run(context.Background(), []string{"completion", shell}, strings.NewReader(""), &out, &errs), errs.String())
			require.Greater(t, out.Len(), 1000)
			cmd := exec.Command(shell, flag, "/dev/stdin")
			cmd.Stdin = &out
			said, err := cmd.CombinedOutput()
			require.NoError(t, err, string(said))
			assert.Empty(t, string(said))
		})
	}
}
