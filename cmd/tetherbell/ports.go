package main

import (
	"fmt"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"tetherbell/link"
)

func newPorts(con *console) *cobra.Command {
	return &cobra.Command{
		Use:   "ports",
		Short: "List the serial ports with their USB names",
		Args:  cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			list, err := link.Ports()
			if err != nil {
				return err
			}
			if len(list) == 0 {
				con.note("no serial port here")
				con.hint("plug the bridge in, or try without one: tetherbell demo")
				return nil
			}
			w := tabwriter.NewWriter(con.out, 0, 8, 2, ' ', 0)
			for _, p := range list {
				fmt.Fprintf(w, "%s\t%s\t%s\n", p.Name, p.ID, p.USB)
			}
			return w.Flush()
		},
	}
}
