package main

import (
	"cmp"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"tetherbell/alarms/runcard"
	"tetherbell/decode"
	"tetherbell/link"
	"tetherbell/simulator"
)

// What shells complete arguments and flags with, in one table, so that a test
// can see that none is left to "any file".
var (
	recordings = files("bell", "bell.zst")
	tomlFiles  = files("toml")
	soundModes = words("auto", "bell", "off")

	argWords = map[string]cobra.CompletionFunc{
		"accept":   upTo(1, recordings),
		"card":     upTo(1, completeCard),
		"check":    recordings,
		"craft":    upTo(1, tomlFiles),
		"demo":     upTo(1, completeScenario),
		"export":   upTo(1, recordings), // a shell goes through folders by itself
		"ports":    cobra.NoFileCompletions,
		"replay":   recordings,
		"report":   upTo(2, recordings),
		"sessions": upTo(1, folders),
		"settings": upTo(2, files("toml", "csv", "bell", "bell.zst")),
		"simulate": upTo(1, completeScenario),
		"sound":    cobra.NoFileCompletions,
		"watch":    upTo(decode.MaxBridges, completeSource),
	}

	// A flag's name, or the command's and the flag's where commands differ.
	flagWords = map[string]cobra.CompletionFunc{
		"alarms":        words("on", "off"),
		"at":            cobra.NoFileCompletions,
		"attempts":      files("jsonl"),
		"baud":          words("115200", "230400", "460800", "921600"),
		"beacon":        words("dtr", "rts"),
		"beacon-form":   words("level", "pulse"),
		"beacon-port":   completePort,
		"blades":        words("2", "3", "4"),
		"card":          completeCard,
		"craft":         tomlFiles,
		"export format": words("csv", "parquet"),
		"export output": folders,
		"fault":         completeFault,
		"life":          cobra.NoFileCompletions,
		"port":          completePort,
		"ppm2":          cobra.NoFileCompletions,
		"pty":           anyFile,
		"pty2":          anyFile,
		"record":        folders,
		"report format": words("html", "markdown", "json"),
		"report output": files("html", "md", "json"),
		"rotors":        cobra.NoFileCompletions,
		"seed":          cobra.NoFileCompletions,
		"set":           cobra.NoFileCompletions,
		"sound":         soundModes,
		"speed":         words("0.5", "1", "2", "4"),
		"tags2":         cobra.NoFileCompletions,
		"times":         cobra.NoFileCompletions,
		"wav":           files("wav"),
		"who":           cobra.NoFileCompletions,
	}
)

// How a shell gets its script: in the library's own words nobody finds it.
const completionHelp = `Prints the script by which a shell completes commands, flags, serial ports,
scenarios, cards, recordings and folders. Each shell's --help says where its
script goes.`

var shellHelp = map[string]string{
	"bash": `Needs the package bash-completion; without it file names alone are completed.
For this shell alone, for yourself, and for everybody:

  source <(tetherbell completion bash)
  tetherbell completion bash > ~/.local/share/bash-completion/completions/tetherbell
  tetherbell completion bash | sudo tee /etc/bash_completion.d/tetherbell >/dev/null`,
	"zsh": `Into a folder of fpath, for every shell that is started from then on; compinit
must be on (autoload -U compinit; compinit, in ~/.zshrc):

  tetherbell completion zsh > "${fpath[1]}/_tetherbell"`,
	"fish": `For this shell alone, and for good:

  tetherbell completion fish | source
  tetherbell completion fish > ~/.config/fish/completions/tetherbell.fish`,
	"powershell": `For this shell alone; in your profile, for good:

  tetherbell completion powershell | Out-String | Invoke-Expression`,
}

// completions tells each command what its arguments and flags are completed with.
func completions(root *cobra.Command) {
	for _, cmd := range root.Commands() {
		if f := argWords[cmd.Name()]; f != nil {
			cmd.ValidArgsFunction = f
		}
		for name, f := range flagWords {
			if of, flag, two := strings.Cut(name, " "); two {
				if of != cmd.Name() {
					continue
				}
				name = flag
			}
			if cmd.Flags().Lookup(name) != nil {
				_ = cmd.RegisterFlagCompletionFunc(name, f) // fails where it is registered already
			}
		}
	}
}

// files completes with the files of these endings, and the folders on the way.
func files(endings ...string) cobra.CompletionFunc {
	return cobra.FixedCompletions(endings, cobra.ShellCompDirectiveFilterFileExt)
}

func words(w ...string) cobra.CompletionFunc {
	return cobra.FixedCompletions(w, cobra.ShellCompDirectiveNoFileComp|cobra.ShellCompDirectiveKeepOrder)
}

func folders(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	return nil, cobra.ShellCompDirectiveFilterDirs
}

func anyFile(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	return nil, cobra.ShellCompDirectiveDefault
}

// upTo offers nothing more to a command that has its n arguments.
func upTo(n int, f cobra.CompletionFunc) cobra.CompletionFunc {
	return func(cmd *cobra.Command, args []string, begun string) ([]string, cobra.ShellCompDirective) {
		if len(args) >= n {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		return f(cmd, args, begun)
	}
}

// orFiles offers names, or files of these endings where what was begun is the
// beginning of no name: shells cannot do both at once.
func orFiles(names []string, begun string, endings ...string) ([]string, cobra.ShellCompDirective) {
	for _, n := range names {
		if strings.HasPrefix(n, begun) {
			return names, cobra.ShellCompDirectiveNoFileComp
		}
	}
	return endings, cobra.ShellCompDirectiveFilterFileExt
}

// completeScenario offers the built-in scenarios, else files that can be played.
func completeScenario(_ *cobra.Command, _ []string, begun string) ([]string, cobra.ShellCompDirective) {
	var names []string
	for _, s := range simulator.List() {
		names = append(names, cobra.CompletionWithDesc(s.Name, s.Lesson))
	}
	return orFiles(names, begun, "toml", "bell", "bell.zst")
}

// completeCard offers the built-in cards, else files.
func completeCard(_ *cobra.Command, _ []string, begun string) ([]string, cobra.ShellCompDirective) {
	var names []string
	for _, c := range runcard.List() {
		names = append(names, cobra.CompletionWithDesc(c.Name, c.Title))
	}
	return orFiles(names, begun, "toml")
}

// completeSource offers the serial ports, else recordings. A port may have
// links of any name (those of a device rule, or of simulate --pty=LINK), so
// behind a root any file is offered.
func completeSource(_ *cobra.Command, _ []string, begun string) ([]string, cobra.ShellCompDirective) {
	list, _ := link.Ports() // what can be seen is offered beside an error
	names, how := orFiles(portNames(list), begun, "bell")
	if how == cobra.ShellCompDirectiveFilterFileExt && filepath.IsAbs(begun) {
		return nil, cobra.ShellCompDirectiveDefault
	}
	return names, how
}

func completePort(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	list, _ := link.Ports()
	return portNames(list), cobra.ShellCompDirectiveDefault
}

// portNames are ports as shells show them: with what the adapter calls itself.
// That text is the adapter's own and may hold anything.
func portNames(list []link.PortInfo) []string {
	var names []string
	for _, p := range list {
		about := cmp.Or(p.USB, p.ID)
		if p.Denied {
			about = "permission denied"
		}
		names = append(names, cobra.CompletionWithDesc(p.Name, printable(about)))
	}
	return names
}
