package main

import (
	"errors"
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
			}
		}
	}
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
