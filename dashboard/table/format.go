package table

import (
	"fmt"
	"io"
)

// Format is how tables are written.
type Format string

// The formats.
const (
	CSV     Format = "csv"
	Parquet Format = "parquet"
)

// Formats lists them, the default first.
func Formats() []Format { return []Format{CSV, Parquet} }

// FormatNamed finds a format by its name.
func FormatNamed(name string) (Format, error) {
	for _, f := range Formats() {
		if string(f) == name {
			return f, nil
		}
	}
	return "", fmt.Errorf("no format is called %q", name)
}

// A sink writes the rows of one table. It keeps nothing of a row.
type sink interface {
	row(cells []Cell) error
	// close writes what is left. It does not close the file.
	close(i *Info) error
}

// newSink begins a table. ordered says that its rows come in the order of t.
func (f Format) newSink(w io.Writer, t *Table, ordered bool) (sink, error) {
	if f == Parquet {
		return newParquetSink(w, t, ordered), nil
	}
	return newCSVSink(w, t)
}
