package table

import (
	"bytes"
	"io"
	"math"
	"os"
	"testing"

	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/format"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/decode"
)

// axesRow is row i of a fast stream: noise in the steps of a sensor.
func axesRow(i int, s *decode.Sample) int64 {
	*s = decode.Sample{Tag: decode.Axes}
	for slot := range 10 {
		step, unit := math.Sin(float64(i*(slot+3))), 10.0
		if slot >= decode.ControlRoll {
			step, unit = math.Abs(step)/3, 1e4
		}
		s.Put(slot, math.Round(step*unit)/unit)
	}
	return int64(i) * 1000
}

func writeAxes(t testing.TB, p Place, rows int, ordered bool) {
	t.Helper()
	info := testInfo()
	info.Ordered[decode.Axes] = ordered
	book, err := Open(p, info, Receipt{}, true)
	require.NoError(t, err)
	var s decode.Sample
	for i := range rows {
		at := axesRow(i, &s)
		require.NoError(t, book.Sample(at, &s))
	}
	_, err = book.Close(info)
	require.NoError(t, err)
}

// What readers of large data sets rely on: row groups with bounds, the order of
// t, types, compression, and what the columns are measured in.
func TestParquetFile(t *testing.T) {
	const rows = 2*groupRows + 5
	p := Place{Dir: t.TempDir(), Format: Parquet}
	writeAxes(t, p, rows, true)
	text, err := os.ReadFile(p.path("axes.parquet"))
	require.NoError(t, err)
	f, err := parquet.OpenFile(bytes.NewReader(text), int64(len(text)))
	require.NoError(t, err)
	assert.EqualValues(t, rows, f.NumRows())
	for key, want := range map[string]string{"unit.t": "s", "unit.rate_roll": "deg/s", "unit.throttle": "1", "table": "axes",
		"recording.sha256": "ab12", "recording.start_utc": "2026-11-25T07:41:11Z", "recording.bad": "2", "craft": "Marsh Heron"} {
		got, _ := f.Lookup(key)
		assert.Equal(t, want, got, key)
	}
	groups := f.Metadata().RowGroups
	require.Len(t, groups, 3)
	for i, g := range groups {
		require.Len(t, g.SortingColumns, 1)
		assert.EqualValues(t, 0, g.SortingColumns[0].ColumnIdx)
		assert.False(t, g.SortingColumns[0].Descending)
		require.Len(t, g.Columns, 11)
		for _, c := range g.Columns {
			assert.Equal(t, format.Double, c.MetaData.Type)
			assert.Equal(t, format.Zstd, c.MetaData.Codec)
		}
		stats := g.Columns[0].MetaData.Statistics
		first, last := i*groupRows, min((i+1)*groupRows, rows)-1
		assert.Equal(t, float64(first)/1e3, parquet.DoubleType.Kind().Value(stats.MinValue).Double())
		assert.Equal(t, float64(last)/1e3, parquet.DoubleType.Kind().Value(stats.MaxValue).Double())
	}
	var s decode.Sample
	for i, row := range read(t, p, OfTag(decode.Axes)) {
		at := axesRow(i, &s)
		require.Equal(t, expected(at, &s), row)
	}
}

// An order that is not there is not promised.
func TestNotOrdered(t *testing.T) {
	p := Place{Dir: t.TempDir(), Format: Parquet}
	writeAxes(t, p, 3, false)
	text, err := os.ReadFile(p.path("axes.parquet"))
	require.NoError(t, err)
	f, err := parquet.OpenFile(bytes.NewReader(text), int64(len(text)))
	require.NoError(t, err)
	assert.Empty(t, f.Metadata().RowGroups[0].SortingColumns)
}

func benchmarkRows(b *testing.B, f Format) {
	table := OfTag(decode.Axes)
	s, err := f.newSink(io.Discard, &table, true)
	require.NoError(b, err)
	book := &Book{}
	sh := &sheet{sink: s, table: table, cells: make([]Cell, len(table.Columns)), from: []int{0, 1, 2, 3, 4, 5, 6, 7, 8, 9}}
	book.tags[decode.Axes] = sh
	samples := make([]decode.Sample, 1000)
	for i := range samples {
		axesRow(i, &samples[i])
	}
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		if err := book.Sample(int64(i)*1000, &samples[i%len(samples)]); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "rows/s")
}

func BenchmarkCSV(b *testing.B)     { benchmarkRows(b, CSV) }
func BenchmarkParquet(b *testing.B) { benchmarkRows(b, Parquet) }

// A row allocates nothing; what Parquet's batches cost is less than a tenth of
// an allocation a row.
func TestRowAllocates(t *testing.T) {
	for _, f := range Formats() {
		table := OfTag(decode.Note)
		s, err := f.newSink(io.Discard, &table, true)
		require.NoError(t, err)
		book := &Book{}
		book.tags[decode.Note] = &sheet{sink: s, table: table, cells: make([]Cell, 2), from: []int{fromText}}
		sample := decode.Sample{Tag: decode.Note, Text: []byte("tether hooked, area clear")}
		n := testing.AllocsPerRun(20, func() {
			for range 4 * batchRows {
				_ = book.Sample(1, &sample)
			}
		})
		assert.Less(t, n, 4*batchRows/10.0, f)
		if f == CSV {
			assert.Zero(t, n)
		}
	}
}
