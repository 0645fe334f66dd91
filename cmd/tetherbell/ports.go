package main

import (
	"fmt"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"tetherbell/link"
)

func newPorts(con *console) *cobra.Command {
	return &cobra.Command{
		Use:   "ports",
		Short: "List the serial ports with their USB names",
		Args:  noArgs,
		RunE: func(*cobra.Command, []string) error {
			list, err := link.Ports()
			if err != nil && len(list) == 0 {
				return err
			}
			return tellPorts(con, list)
		},
	}
}

// tellPorts lists ports, one a line, and says what to do about those that may
// not be opened.
func tellPorts(con *console, list []link.PortInfo) error {
	if len(list) == 0 {
		con.note("no serial port here")
		con.hint("plug the bridge in, or try without one: tetherbell demo")
		return nil
	}
	denied := false
	w := tabwriter.NewWriter(con.out, 0, 8, 2, ' ', 0)
	for _, p := range list {
		cells := []string{p.Name, p.ID, p.USB}
		if p.Denied {
			denied = true
			cells = append(cells, "permission denied")
		}
		for i := range cells {
			cells[i] = printable(cells[i])
		}
		fmt.Fprintln(w, strings.Join(cells, "\t"))
	}
	if err := w.Flush(); err != nil {
		return fmt.Errorf("list ports: %w", err)
	}
	if denied {
		con.hint(portHint(link.NoPermission))
	}
	return nil
}
