package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"tetherbell/alarms/runcard"
)

func newCard(con *console) *cobra.Command {
	var list, example bool
	cmd := &cobra.Command{
		Use:   "card CARD",
		Short: "Check a card of steps for a guided run, and print it",
		Long: `Checks a card of steps for a guided run, a built-in one or a TOML file, and
prints it. watch and demo take it with --card.

--list names the built-in cards. --example prints the text of one, with every
kind of step in it, to be copied and changed.`,
		Example: `  tetherbell card --list
  tetherbell card first-run
  tetherbell card --example > own.toml`,
		Args: func(_ *cobra.Command, args []string) error {
			switch {
			case list && example:
				return hinted(usagef("--list and --example exclude each other"), "give one of them")
			case (list || example) && len(args) > 0:
				return hinted(usagef("--list and --example take no card"), "tetherbell card CARD")
			case !list && !example && len(args) == 0:
				return hinted(usagef("check which card?"), "name a file, or a built-in one: tetherbell card --list")
			case len(args) > 1:
				return hinted(usagef("card takes one card, not %d", len(args)), "tetherbell card CARD")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			switch {
			case example:
				_, err := con.out.Write(runcard.Example())
				return err
			case list:
				for _, c := range runcard.List() {
					con.say(fmt.Sprintf("%-14s%s (%d steps)", c.Name, c.Title, len(c.Steps)))
				}
				return nil
			}
			c, err := loadCard(cmd.Context(), args[0])
			if err != nil {
				return err
			}
			tellCard(con, c)
			return nil
		},
	}
	cmd.Flags().BoolVar(&list, "list", false, "name the built-in cards, one a line")
	cmd.Flags().BoolVar(&example, "example", false, "print a card to be copied and changed")
	return cmd
}

// addCard adds the flag that asks for a guided run.
func (f *flags) addCard(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.card, "card", "", "go through a `CARD` of steps: a built-in one (tetherbell card --list) or a TOML file")
}

// loadCard finds a built-in card or reads a file; nil where none is named.
func loadCard(ctx context.Context, name string) (*runcard.Card, error) {
	if name == "" {
		return nil, nil
	}
	for _, c := range runcard.List() {
		if c.Name == name {
			return c, nil
		}
	}
	if _, err := os.Stat(name); err != nil && !strings.ContainsAny(name, `./\`) {
		return nil, hinted(usagef("no card is called %q", name), "see them with: tetherbell card --list")
	}
	text, err := readWhole(ctx, "card", name)
	if err != nil {
		return nil, err
	}
	c, err := runcard.Parse(text)
	var where *runcard.Error
	if errors.As(err, &where) {
		where.File = name
		return nil, hinted(err, "a card with every kind of step in it is printed by: tetherbell card --example")
	}
	return c, err
}

// card is the card that the day went through; nil: none. One that is not
// understood is said: the marks then stay as they are.
func (h *head) card(con *console, path string) *runcard.Card {
	if h.Card == "" {
		return nil
	}
	c, err := runcard.Parse([]byte(h.Card))
	if err != nil {
		con.note("the card in the header of %s is not understood (%v): shown without it", path, err)
		return nil
	}
	return c
}

// tellCard prints the steps as they will be done.
func tellCard(con *console, c *runcard.Card) {
	con.say(fmt.Sprintf("%s: %s, %d steps", c.Name, c.Title, len(c.Steps)))
	for i := range c.Steps {
		s := &c.Steps[i]
		by := "by what the telemetry shows"
		if s.Kind == runcard.Person {
			by = "by a person's tick"
		}
		con.say(fmt.Sprintf("%2d  %s (%s): passed %s", i+1, s.ID, s.Needs(), by))
		con.say("    " + s.Say)
		if s.Why != "" {
			con.say("    why: " + s.Why)
		}
		con.say("    if not: " + s.IfNot())
	}
}

// cardOutcome words what a card came to, for a verdict.
func (d *desk) cardOutcome() []string {
	v := d.cardView()
	if v == nil {
		return nil
	}
	out := []string{"  card " + v.Name + ": " + v.Outcome}
	if v.Early != "" {
		out = append(out, "    "+v.Early)
	}
	for i := range v.Steps {
		s := &v.Steps[i]
		switch s.State {
		case runcard.Failed:
			out = append(out, "    failed "+s.ID+": "+s.Text+"; "+s.Do)
		case runcard.ByEye:
			out = append(out, "    not ticked "+s.ID+": "+s.Text)
		}
	}
	return out
}
