package report

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"regexp"
)

var (
	//go:embed page.html
	pageText string
	//go:embed style.css
	styleText string
)

// pageTemplate escapes every text by where it stands. What it takes as it is
// comes from this package alone: the style sheet, and pictures, which escape
// the words in them.
var pageTemplate = template.Must(template.New("page").Funcs(template.FuncMap{
	"clean":     func(s string) string { return tied(clean(s)) },
	"sentence":  sentence,
	"generator": func() string { return generator },
	"style":     func() template.CSS { return template.CSS(styleSheet()) },
	"drawn":     func(p picture) template.HTML { return template.HTML(p.Body) },
}).Parse(pageText))

// apart finds a number and its unit, which shall not be parted by a line's end.
var apart = regexp.MustCompile(`([0-9]) (%|(?:s|Hz|N|V|A|m|mm|g|Pa|°C|mΩ|mAh|Wh|deg)(?:/s)?)([^A-Za-z0-9]|$)`)

func tied(s string) string { return apart.ReplaceAllString(s, "$1\u00a0$2$3") }

// writeHTML writes a page that needs nothing beside it: no script, font or
// picture from elsewhere. Its elements are closed as XML wants them, too.
func writeHTML(w io.Writer, p *page) error {
	if err := pageTemplate.Execute(w, p); err != nil {
		return fmt.Errorf("fill in the page: %w", err)
	}
	return nil
}
