package table

import (
	"path"
	"strings"
)

// The metadata of CSV follows "Metadata Vocabulary for Tabular Data", W3C
// Recommendation of 17 December 2015: a group of tables, each with its columns.
// Units have no property there; unitText is a property of schema.org, whose
// prefix the vocabulary's initial context knows (from memory).

type vocabulary struct {
	Context string       `json:"@context"`
	Title   string       `json:"dc:title"`
	Source  string       `json:"dc:source,omitempty"`
	Begun   string       `json:"dc:date,omitempty"`
	Creator string       `json:"dc:creator"`
	SHA256  string       `json:"schema:sha256"`
	Tables  []tableTerms `json:"tables"`
}

type tableTerms struct {
	URL     string      `json:"url"`
	About   string      `json:"dc:description"`
	Rows    int         `json:"schema:size"`
	Dialect dialect     `json:"dialect"`
	Schema  schemaTerms `json:"tableSchema"`
}

type dialect struct {
	End string `json:"lineTerminators"`
}

type schemaTerms struct {
	Columns []columnTerms `json:"columns"`
}

type columnTerms struct {
	Name     string `json:"name"`
	Titles   string `json:"titles"`
	Datatype any    `json:"datatype"`
	Required bool   `json:"required,omitempty"`
	Unit     string `json:"schema:unitText,omitempty"`
	About    string `json:"dc:description,omitempty"`
}

// flagTerms is a flag as these tables write it.
var flagTerms = map[string]string{"base": "boolean", "format": "1|0"}

var datatypes = map[Type]any{Seconds: "double", Number: "double", Whole: "integer", Flag: flagTerms, Text: "string"}

// vocabulary describes the tables written.
func (b *Book) vocabulary() vocabulary {
	v := vocabulary{
		Context: "http://www.w3.org/ns/csvw", Title: b.info.File, Source: b.info.Source,
		Begun: b.info.StartUTC, Creator: b.info.MadeBy, SHA256: b.info.SHA256,
	}
	up := strings.Repeat("../", strings.Count(path.Clean(b.place.vocabulary()), "/"))
	for _, s := range b.ordered() {
		t := tableTerms{URL: up + urlPath(b.place.table(s.table.Name)), About: s.table.About, Rows: s.rows, Dialect: dialect{"\n"}}
		for _, c := range s.table.Columns {
			t.Schema.Columns = append(t.Schema.Columns, columnTerms{
				Name: c.Name, Titles: c.Name, Datatype: datatypes[c.Type], Required: c.Known, Unit: c.Unit, About: c.About,
			})
		}
		v.Tables = append(v.Tables, t)
	}
	return v
}

// urlPath writes a path as part of a URL. Only what Escape leaves can stand in
// it: of that the percent sign alone has a meaning there.
func urlPath(p string) string { return strings.ReplaceAll(p, "%", "%25") }
