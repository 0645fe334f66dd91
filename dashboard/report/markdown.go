package report

import (
	"bytes"
	"fmt"
	"strings"
	"unicode"
)

// writeMarkdown writes the page as GitHub-flavoured Markdown. A chart is given
// by the table of its figures.
func writeMarkdown(w *bytes.Buffer, p *page) {
	fmt.Fprintf(w, "<!-- %s -->\n# %s\n\n", generator, plainText(p.Title))
	for _, f := range p.Facts {
		fmt.Fprintf(w, "- %s: %s\n", f.Name, plainText(f.Text))
	}
	fmt.Fprintf(w, "\n## Verdict\n\n**%s. %s**\n\n", plainText(strings.ToUpper(p.Verdict.Word)), plainText(p.Verdict.Headline))
	for _, f := range p.Verdict.Lines {
		fmt.Fprintf(w, "- **%s:** %s\n", f.Name, plainText(f.Text))
	}
	if len(p.Cautions) > 0 {
		w.WriteString("\n## Before you go on\n\n")
		writeList(w, p.Cautions)
	}
	for _, s := range p.Sections {
		fmt.Fprintf(w, "\n## %s\n", plainText(s.Title))
		for i := range s.Blocks {
			writeBlock(w, &s.Blocks[i])
		}
	}
	fmt.Fprintf(w, "\nWritten by %s from %s.\n", plainText(p.Tool), p.From)
}

func writeBlock(w *bytes.Buffer, b *block) {
	switch {
	case b.Heading != "":
		fmt.Fprintf(w, "\n### %s\n", plainText(b.Heading))
	case b.Text != "":
		fmt.Fprintf(w, "\n%s\n", plainText(b.Text))
	case len(b.List) > 0:
		w.WriteByte('\n')
		writeList(w, b.List)
	case b.Table != nil:
		writeTable(w, b.Table)
	case b.Chart != nil && b.Chart.Figures != nil:
		writeTable(w, b.Chart.Figures)
	case b.Chart != nil:
		fmt.Fprintf(w, "\n%s: %s\n", plainText(b.Chart.Title), plainText(b.Chart.Desc))
	}
}

func writeList(w *bytes.Buffer, all []string) {
	for _, one := range all {
		fmt.Fprintf(w, "- %s\n", plainText(sentence(one)))
	}
}

func writeTable(w *bytes.Buffer, t *table) {
	fmt.Fprintf(w, "\n%s:\n\n|", plainText(strings.TrimSuffix(t.Caption, ".")))
	for _, c := range t.Columns {
		w.WriteString(" " + plainText(c.Name) + " |")
	}
	w.WriteString("\n|")
	for _, c := range t.Columns {
		w.WriteString(map[bool]string{true: " ---: |", false: " --- |"}[c.Number])
	}
	w.WriteByte('\n')
	for _, r := range t.Rows {
		w.WriteByte('|')
		for _, c := range r.Cells {
			w.WriteString(" " + plainText(c) + " |")
		}
		w.WriteByte('\n')
	}
}

// plainText escapes what Markdown would take for a mark of its own. Letters
// and digits about an underscore make it one of a name.
func plainText(s string) string {
	s = strings.TrimSpace(clean(s))
	var b strings.Builder
	letters := []rune(s)
	for i, r := range letters {
		mark := strings.ContainsRune("\\`*[]<>|~&@$", r)
		switch r {
		case '_':
			mark = i == 0 || i == len(letters)-1 || !wordly(letters[i-1]) || !wordly(letters[i+1])
		case ':': // before // some readers make a link of it
			mark = i+1 < len(letters) && letters[i+1] == '/'
		case '#', '+', '-', '=':
			mark = i == 0 && (len(letters) == 1 || !wordly(letters[1]))
		case '.', ')':
			mark = i > 0 && i < 10 && digits(letters[:i]) && (i == len(letters)-1 || letters[i+1] == ' ')
			mark = mark || r == '.' && i >= 3 && strings.EqualFold(string(letters[i-3:i]), "www")
		}
		if mark {
			b.WriteByte('\\')
		}
		b.WriteRune(r)
	}
	return b.String()
}

func wordly(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }

// digits reports whether all letters are digits: with a point they would begin
// a numbered list.
func digits(letters []rune) bool {
	for _, r := range letters {
		if r < '0' || r > '9' {
			return false
		}
	}
	return true
}
