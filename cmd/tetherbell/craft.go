package main

import (
	"fmt"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"tetherbell/decode/craft"
)

func newCraft(con *console) *cobra.Command {
	var example bool
	cmd := &cobra.Command{
		Use:   "craft FILE",
		Short: "Check a craft file and show what is in force",
		Long: `Checks a craft file and shows each of its keys as it counts: what the file says,
the default where it says nothing, or that the bridge has to say it.

--example prints a craft file with every key in it, to be copied and changed.`,
		Example: `  tetherbell craft --example > heron.toml
  tetherbell craft heron.toml`,
		Args: func(_ *cobra.Command, args []string) error {
			switch {
			case example && len(args) > 0:
				return hinted(usagef("--example takes no file"), "tetherbell craft --example > FILE")
			case !example && len(args) == 0:
				return hinted(usagef("check which craft file?"), "name one, or print an example with: tetherbell craft --example")
			case len(args) > 1:
				return hinted(usagef("craft takes one file, not %d", len(args)), "tetherbell craft FILE")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if example {
				_, err := con.out.Write(craft.Example())
				return err
			}
			c, err := loadCraft(cmd.Context(), args[0])
			if err != nil {
				return err
			}
			return tellCraft(con, c)
		},
	}
	cmd.Flags().BoolVar(&example, "example", false, "print a craft file with every key in it")
	return cmd
}

// tellCraft lists every key with what is in force.
func tellCraft(con *console, c craft.Craft) error {
	w := tabwriter.NewWriter(con.out, 0, 8, 2, ' ', 0)
	last := ""
	for _, f := range c.InForce() {
		if table, _, in := strings.Cut(f.Key, "."); in && table != last {
			last = table
			if err := w.Flush(); err != nil { // each table has columns of its own width
				return fmt.Errorf("list craft file: %w", err)
			}
		}
		value, from := f.Value, ""
		switch {
		case f.Set && f.Default != "":
			from = "as the file says; default " + f.Default
		case f.Set:
			from = "as the file says"
		case f.Default != "":
			from = "default"
		case f.Key == "sensors":
			value, from = "-", "not said: no stream is missed for it"
		case bridgeSays[f.Key]:
			value, from = "-", "not known: the bridge may say it"
		default:
			value, from = "-", "not known"
		}
		fmt.Fprintln(w, strings.Join([]string{f.Key, printable(value), printable(from)}, "\t"))
	}
	if err := w.Flush(); err != nil {
		return fmt.Errorf("list craft file: %w", err)
	}
	return nil
}

// bridgeSays are the keys that a bridge's craft and set lines fill.
var bridgeSays = map[string]bool{
	"name": true, "layout": true, "motors": true, "magnet_poles": true, "blades": true, "propeller_mm": true,
	"mass_g": true, "cells": true, "idle_ready": true, "idle_least": true,
}
