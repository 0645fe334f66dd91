package table

import (
	"io"
	"reflect"
	"strconv"
	"strings"

	"github.com/parquet-go/parquet-go"
)

const (
	// groupRows is how many rows a row group has: about a minute of a fast
	// stream. Readers skip whole groups by their bounds of t, and what is held
	// in memory while writing is one group a table.
	groupRows = 64 << 10
	// batchRows is how many rows are handed to the library at once.
	batchRows = 1 << 10
)

// A parquetSink writes a table as Parquet: zstd, data pages of version 1 and
// plain or dictionary encoding, which every reader knows.
type parquetSink struct {
	w       *parquet.GenericWriter[any]
	table   *Table
	columns []*parquet.ColumnWriter
	batch   [][]parquet.Value // a column each
	text    []byte            // what the batch's texts lie in
	rows    int               // of the row group
}

// kinds says how each type of column is declared to the library. An engine
// time has no two rows alike, so a dictionary would only cost.
var kinds = map[Type]struct {
	of   reflect.Type
	tags string
}{
	Seconds: {reflect.TypeFor[float64](), ""},
	Number:  {reflect.TypeFor[float64](), ",dict"},
	Whole:   {reflect.TypeFor[int64](), ",dict"},
	Flag:    {reflect.TypeFor[bool](), ""},
	Text:    {reflect.TypeFor[string](), ",dict"},
}

// schemaOf declares a table. A struct made on the spot keeps the order of the
// columns; the library's own group of nodes would sort them by name.
func schemaOf(t *Table) *parquet.Schema {
	fields := make([]reflect.StructField, len(t.Columns))
	for i, c := range t.Columns {
		k := kinds[c.Type]
		tag := c.Name + k.tags
		if !c.Known {
			tag += ",optional"
		}
		fields[i] = reflect.StructField{
			Name: "C" + strconv.Itoa(i), Type: k.of,
			Tag: reflect.StructTag("parquet:" + strconv.Quote(tag)),
		}
	}
	return parquet.NewSchema(t.Name, parquet.SchemaOf(reflect.New(reflect.StructOf(fields)).Interface()))
}

func newParquetSink(w io.Writer, t *Table, ordered bool) *parquetSink {
	options := []parquet.WriterOption{
		schemaOf(t),
		parquet.Compression(&parquet.Zstd),
		parquet.DataPageVersion(1),
		parquet.DataPageStatistics(true),
		parquet.DictionaryMaxBytes(dictionaryMost),
	}
	if ordered {
		options = append(options, parquet.SortingWriterConfig(parquet.SortingColumns(parquet.Ascending("t"))))
	}
	p := &parquetSink{w: parquet.NewGenericWriter[any](w, options...), table: t, batch: make([][]parquet.Value, len(t.Columns))}
	p.columns = p.w.ColumnWriters()
	for i := range p.batch {
		p.batch[i] = make([]parquet.Value, 0, batchRows)
	}
	return p
}

// dictionaryMost bounds the dictionary of a column in a row group: beyond it
// values are written plainly, for a dictionary as long as its column only costs.
const dictionaryMost = 128 << 10

func (p *parquetSink) row(cells []Cell) error {
	for i := range cells {
		v, c := &cells[i], &p.table.Columns[i]
		var out parquet.Value
		level := 1
		if c.Known {
			level = 0
		}
		if v.Has || c.Known {
			out = p.value(v, c.Type).Level(0, level, i)
		} else {
			out = parquet.NullValue().Level(0, 0, i)
		}
		p.batch[i] = append(p.batch[i], out)
	}
	if len(p.batch[0]) < batchRows {
		return nil
	}
	return p.flush()
}

func (p *parquetSink) value(v *Cell, t Type) parquet.Value {
	switch t {
	case Seconds:
		return parquet.DoubleValue(v.Num / 1e6)
	case Number:
		return parquet.DoubleValue(v.Num)
	case Whole:
		return parquet.Int64Value(int64(v.Num))
	case Flag:
		return parquet.BooleanValue(v.Num != 0)
	}
	// Where text grows, what was taken from it before stays where it was.
	from := len(p.text)
	p.text = append(p.text, v.Text...)
	return parquet.ByteArrayValue(p.text[from:len(p.text):len(p.text)])
}

// flush hands the batch on, and ends the row group when it is full.
func (p *parquetSink) flush() error {
	n := len(p.batch[0])
	if n == 0 {
		return nil
	}
	for i, c := range p.columns {
		if _, err := c.WriteRowValues(p.batch[i]); err != nil {
			return err
		}
		p.batch[i] = p.batch[i][:0]
	}
	p.text = p.text[:0]
	if p.rows += n; p.rows < groupRows {
		return nil
	}
	p.rows = 0
	return p.w.Flush()
}

func (p *parquetSink) close(i *Info) error {
	if err := p.flush(); err != nil {
		return err
	}
	for _, kv := range facts(p.table, i) {
		p.w.SetKeyValueMetadata(kv[0], kv[1])
	}
	return p.w.Close()
}

// facts are the key-value metadata of a table's file: units, and what the
// recording was.
func facts(t *Table, i *Info) [][2]string {
	out := [][2]string{{"table", t.Name}, {"about", t.About}}
	for _, c := range t.Columns {
		if c.Unit != "" {
			out = append(out, [2]string{"unit." + c.Name, c.Unit})
		}
		out = append(out, [2]string{"about." + c.Name, c.About})
	}
	u := func(n uint64) string { return strconv.FormatUint(n, 10) }
	for _, kv := range [][2]string{
		{"recording.file", i.File}, {"recording.sha256", i.SHA256}, {"recording.bytes", strconv.FormatInt(i.Bytes, 10)},
		{"recording.start_utc", i.StartUTC}, {"recording.source", i.Source}, {"craft", i.Craft}, {"made_by", i.MadeBy},
		{"recording.lines", u(i.Lines)}, {"recording.unknown", u(i.Unknown)}, {"recording.bad", u(i.Bad)}, {"recording.lost", u(i.Lost)},
	} {
		if kv[1] != "" {
			out = append(out, [2]string{kv[0], strings.ToValidUTF8(kv[1], "\uFFFD")})
		}
	}
	return out
}
