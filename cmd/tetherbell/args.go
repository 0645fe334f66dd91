package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// noArgs refuses arguments.
func noArgs(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	return usagef("%s takes no argument, not %q", cmd.Name(), args[0])
}

// flagError says in our own words what is wrong with a flag.
func flagError(_ *cobra.Command, err error) error {
	var unknown *pflag.NotExistError
	var lacks *pflag.ValueRequiredError
	var wrong *pflag.InvalidValueError
	switch {
	case errors.As(err, &unknown) && unknown.GetSpecifiedShortnames() != "":
		return usagef("unknown flag: -%s", unknown.GetSpecifiedName())
	case errors.As(err, &unknown):
		return usagef("unknown flag: --%s", unknown.GetSpecifiedName())
	case errors.As(err, &lacks):
		return usagef("--%s needs a value: %s", lacks.GetFlag().Name, takes(lacks.GetFlag()))
	case errors.As(err, &wrong):
		return usagef("--%s takes %s, not %q", wrong.GetFlag().Name, takes(wrong.GetFlag()), wrong.GetValue())
	}
	return usagef("%v", err)
}

// takes says what a flag takes.
func takes(f *pflag.Flag) string {
	switch f.Value.Type() {
	case "int":
		return "a whole number"
	case "uint64":
		return "a whole number from 0 on"
	case "float64":
		return "a number"
	case "bool":
		return "true or false"
	}
	name, _ := pflag.UnquoteUsage(f)
	if name == "string" {
		return "a word"
	}
	return name
}

// notBoth refuses two flags that exclude each other.
func notBoth(cmd *cobra.Command, one, other string) error {
	if !cmd.Flags().Changed(one) || !cmd.Flags().Changed(other) {
		return nil
	}
	return hinted(usagef("--%s and --%s exclude each other", one, other), "give one of them")
}

// ownWords makes the commands that the library brings along answer like ours.
func ownWords(root *cobra.Command) {
	root.SetFlagErrorFunc(flagError)
	root.InitDefaultHelpCmd()
	root.InitDefaultCompletionCmd()
	for _, cmd := range root.Commands() {
		switch cmd.Name() {
		case "help":
			cmd.Run, cmd.RunE = nil, help
		case "completion":
			cmd.Args = cobra.ArbitraryArgs
			cmd.RunE = func(cmd *cobra.Command, args []string) error {
				if len(args) == 0 {
					return cmd.Help()
				}
				var shells []string
				for _, c := range cmd.Commands() {
					shells = append(shells, c.Name())
				}
				return hinted(usagef("no completion for the shell %q", args[0]), "one of: "+strings.Join(shells, ", "))
			}
			cmd.Short = "Print the script that completes words in a shell"
			cmd.Long = completionHelp
			for _, shell := range cmd.Commands() {
				shell.Args = noArgs
				shell.Short = "The script for " + shell.Name()
				shell.Long = shellHelp[shell.Name()]
				if shell.Name() == "bash" {
					shell.RunE = bashScript
				}
			}
		}
	}
}

// bashScript prints the library's script for bash, made to stand still where the
// package that it needs is not loaded: it would print two errors into the line
// that somebody types. File names are completed then, as without any script.
func bashScript(cmd *cobra.Command, _ []string) error {
	bare, err := cmd.Flags().GetBool("no-descriptions")
	if err != nil {
		return fmt.Errorf("make completion: %w", err)
	}
	var script bytes.Buffer
	if err := cmd.Root().GenBashCompletionV2(&script, !bare); err != nil {
		return fmt.Errorf("make completion: %w", err)
	}
	const begin = "__start_tetherbell()\n{\n"
	const guard = "    COMPREPLY=()\n    declare -F _get_comp_words_by_ref >/dev/null 2>&1 || return 0 # no bash-completion: file names alone\n"
	if _, err := io.WriteString(cmd.OutOrStdout(), strings.Replace(script.String(), begin, begin+guard, 1)); err != nil {
		return fmt.Errorf("print completion: %w", err)
	}
	return nil
}

// help tells about a command, and says so when there is none of that name.
func help(cmd *cobra.Command, args []string) error {
	about, rest, err := cmd.Root().Find(args)
	if err != nil || about == nil || len(rest) > 0 {
		return noCommand(cmd.Root(), strings.Join(args, " "))
	}
	about.InitDefaultHelpFlag()
	about.InitDefaultVersionFlag()
	return about.Help()
}

func noCommand(root *cobra.Command, name string) error {
	err := usagef("no command %q", name)
	if near := root.SuggestionsFor(name); len(near) > 0 {
		return hinted(err, "did you mean: tetherbell "+near[0])
	}
	return hinted(err, "see the commands with: tetherbell --help")
}
