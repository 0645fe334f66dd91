package main

import (
	"fmt"
	"io"
)

// cautions are told at the start of every watch.
var cautions = []string{
	"tetherbell advises; it is no certified safety device and it stops no motor",
	"first tests with propellers off; eye protection on; nobody in the propeller plane",
	"tether or stand rated for several times full thrust; stop switch in hand and tested first",
	"lithium packs watched, charged and stored in fire-safe places",
	"local aviation and workplace rules, and licensed people where they are required, come first",
}

func tellCautions(w io.Writer) {
	for _, c := range cautions {
		fmt.Fprintf(w, "caution: %s\n", c)
	}
}
