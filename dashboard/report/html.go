package report

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
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
	"clean":     clean,
	"sentence":  sentence,
	"generator": func() string { return generator },
	"style":     func() template.CSS { return template.CSS(styleSheet()) },
	"drawn":     func(p picture) template.HTML { return template.HTML(p.Body) },
}).Parse(pageText))

// writeHTML writes a page that needs nothing beside it: no script, font or
// picture from elsewhere. Its elements are closed as XML wants them, too.
func writeHTML(w io.Writer, p *page) error {
	if err := pageTemplate.Execute(w, p); err != nil {
		return fmt.Errorf("fill in the page: %w", err)
	}
	return nil
}
