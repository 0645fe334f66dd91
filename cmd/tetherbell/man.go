package main

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"regexp"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// newMan prints the manual page. It is hidden: who installs a program puts the
// page in its place, and nobody needs it at the bench.
func newMan(con *console) *cobra.Command {
	return &cobra.Command{
		Use:    "man",
		Short:  "Print the manual page (roff)",
		Hidden: true,
		Args:   noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			date, err := pageDate()
			if err != nil {
				return err
			}
			return writeMan(con.out, cmd.Root(), date)
		},
	}
}

// pageDate is the day that stands under the page: the one that the environment
// prescribes (SOURCE_DATE_EPOCH, the open convention for builds that can be
// repeated), else that of the commit. Never today's, which would tell nothing
// of the text; empty where none is known.
func pageDate() (string, error) {
	if s := os.Getenv("SOURCE_DATE_EPOCH"); s != "" {
		n, err := strconv.ParseInt(s, 10, 64)
		if err != nil {
			return "", hinted(usagef("SOURCE_DATE_EPOCH is not whole seconds: %q", s), "unset it")
		}
		return time.Unix(n, 0).UTC().Format(time.DateOnly), nil
	}
	day, _, _ := strings.Cut(builtFrom(buildInfo()), "T")
	return day, nil
}

// A page writes the manual page in the man macros that groff and mandoc share.
// It is made of the same plain texts as --help, and therefore not by way of
// markdown, in which a line that begins with a dash or a number, an underscore
// or a < means something else than it says here.
type page struct {
	*bufio.Writer
	headed bool // a heading was the last: it begins a paragraph by itself
}

// writeMan writes the manual page of all commands.
func writeMan(w io.Writer, root *cobra.Command, date string) error {
	p := &page{Writer: bufio.NewWriter(w)}
	fmt.Fprintf(p, ".TH TETHERBELL 1 \"%s\" %s %s\n", date, quoted("tetherbell "+version), quoted("User Commands"))
	p.WriteString(".nh\n.ad l\n") // a word or a value of the command line is not to be torn or spread
	p.section("NAME")
	p.text("tetherbell - " + root.Short)
	p.section("SYNOPSIS")
	for i, c := range manCommands(root) {
		if i > 0 {
			p.WriteString(".br\n")
		}
		p.WriteString(".B ")
		p.line(c.UseLine())
	}
	p.section("DESCRIPTION")
	p.text(root.Long)
	p.section("CAUTIONS")
	for _, c := range cautions {
		p.WriteString(".IP \\(bu 2\n")
		p.line(c + ".")
	}
	p.section("COMMANDS")
	for _, c := range manCommands(root) {
		p.command(c)
	}
	p.section("OPTIONS")
	p.text("Every command takes --help. In the place of a command there is:")
	root.InitDefaultVersionFlag()
	p.flag(root.Flags().Lookup("version"))
	for _, s := range manSections {
		p.section(s.title)
		p.text(s.text)
	}
	p.section("EXAMPLES")
	p.text(root.Example)
	return p.Flush()
}

// manCommands are the commands that people see.
func manCommands(root *cobra.Command) (list []*cobra.Command) {
	for _, c := range root.Commands() {
		if c.IsAvailableCommand() {
			list = append(list, c)
		}
	}
	return list
}

func (p *page) section(title string) { p.heading("SH", title) }

func (p *page) heading(macro, title string) {
	fmt.Fprintf(p, ".%s %s\n", macro, quoted(title))
	p.headed = true
}

func (p *page) paragraph() {
	if !p.headed {
		p.WriteString(".PP\n")
	}
}

// row begins a row of a list.
func (p *page) row(term string) {
	p.WriteString(".TP 7\n.B ") // with its width: else that of the last .IP counts
	p.line(term)
}

func (p *page) line(text string) {
	fmt.Fprintln(p, escaped(text))
	p.headed = false
}

func (p *page) command(c *cobra.Command) {
	p.heading("SS", c.UseLine())
	p.text(c.Short + ".")
	p.text(c.Long)
	c.Flags().VisitAll(func(f *pflag.Flag) {
		if !f.Hidden && f.Name != "help" {
			p.flag(f)
		}
	})
	if c.Example != "" {
		p.text("Examples:\n" + c.Example)
	}
	for _, sub := range manCommands(c) {
		p.command(sub)
	}
}

// flag writes one flag as the library words it for --help: name, what it takes,
// what it does, default.
func (p *page) flag(f *pflag.Flag) {
	alone := pflag.NewFlagSet("", pflag.ContinueOnError)
	alone.AddFlag(f)
	head, body, _ := strings.Cut(strings.TrimSpace(alone.FlagUsages()), "   ")
	p.row(head)
	p.line(strings.TrimSpace(body))
}

// A row of a list in a help text: a term, two blanks or more, and what it is.
var listRow = regexp.MustCompile(`^ +(\S+(?: \S+)*) {2,}(\S.*)$`)

// deep is how far the second line of a row is indented at least.
const deep = 12

// What the last line of a text was, which decides how the next one goes on.
const (
	nothingYet = iota
	filledLine
	listedLine
	asItStands
)

// text writes plain text: what is indented stands as it is, or as a list where
// it is one; the rest is filled to the width of the reader's screen.
func (p *page) text(text string) {
	last := nothingYet
	for line := range strings.Lines(text) {
		line = strings.TrimRight(line, "\n ")
		inner := strings.TrimLeft(line, " ")
		indent := len(line) - len(inner)
		switch cells := listRow.FindStringSubmatch(line); {
		case inner == "":
			last = nothingYet
			continue
		case last == listedLine && indent >= deep:
		case cells != nil:
			p.row(cells[1])
			inner, last = cells[2], listedLine
		case indent > 0 && last == asItStands:
			p.WriteString(".br\n")
		case indent > 0:
			p.WriteString(".IP \"\" 4\n")
			last = asItStands
		case last != filledLine:
			p.paragraph()
			last = filledLine
		}
		p.line(inner)
	}
}

// inRoff has the characters that mean something to roff, or that it would turn
// into a nicer one that cannot be typed again.
var inRoff = strings.NewReplacer(`\`, `\e`, `-`, `\-`, `'`, `\(aq`, "`", `\(ga`, `^`, `\(ha`, `~`, `\(ti`)

// escaped makes text mean itself in roff, also at the beginning of a line.
func escaped(s string) string {
	var b strings.Builder
	if strings.HasPrefix(s, ".") {
		b.WriteString(`\&`)
	}
	for _, r := range inRoff.Replace(s) {
		if r < 0x80 {
			b.WriteRune(r)
		} else {
			fmt.Fprintf(&b, `\[u%04X]`, r)
		}
	}
	return b.String()
}

// quoted makes text one argument of a macro.
func quoted(s string) string {
	return `"` + strings.ReplaceAll(escaped(s), `"`, `\(dq`) + `"`
}
