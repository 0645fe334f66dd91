package table

import (
	"bytes"
	"encoding/csv"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/parquet-go/parquet-go"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tetherbell/decode"
)

// A value is one cell as a reader gives it back: nil, float64, bool or string.
// Whole numbers come back as int64.
type value any

// readCSV reads a table with the standard library's reader, which is no code of
// ours, and turns the cells into what the columns say they are.
func readCSV(t require.TestingT, path string, table Table) (out [][]value) {
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	for i, c := range table.Columns {
		assert.Equal(t, c.Name, rows[0][i])
	}
	for _, row := range rows[1:] {
		vals := make([]value, len(row))
		for i, text := range row {
			if text != "" {
				vals[i] = parsed(t, text, table.Columns[i].Type)
			}
		}
		out = append(out, vals)
	}
	return out
}

func parsed(t require.TestingT, text string, typ Type) value {
	var v value
	var err error
	switch typ {
	case Seconds, Number:
		assert.NotContains(t, text, "e", "no exponent")
		v, err = strconv.ParseFloat(text, 64)
	case Whole:
		v, err = strconv.ParseInt(text, 10, 64)
	case Flag:
		require.Contains(t, []string{"0", "1"}, text)
		v = text == "1"
	default:
		v = text
	}
	require.NoError(t, err)
	return v
}

// readParquet reads a table with the library's own reader.
func readParquet(t require.TestingT, path string, table Table) (out [][]value) {
	f, err := os.ReadFile(path)
	require.NoError(t, err)
	file, err := parquet.OpenFile(bytes.NewReader(f), int64(len(f)))
	require.NoError(t, err)
	for i, c := range table.Columns {
		assert.Equal(t, c.Name, file.Schema().Columns()[i][0])
	}
	r := parquet.NewReader(file)
	defer r.Close()
	buf := make([]parquet.Row, 7)
	for {
		n, err := r.ReadRows(buf)
		for _, row := range buf[:n] {
			vals := make([]value, len(table.Columns))
			for _, v := range row {
				vals[v.Column()] = plain(v)
			}
			out = append(out, vals)
		}
		if err == io.EOF {
			return out
		}
		require.NoError(t, err)
	}
}

func plain(v parquet.Value) value {
	switch {
	case v.IsNull():
		return nil
	case v.Kind() == parquet.Double:
		return v.Double()
	case v.Kind() == parquet.Int64:
		return v.Int64()
	case v.Kind() == parquet.Boolean:
		return v.Boolean()
	}
	return string(v.ByteArray())
}

func read(t require.TestingT, p Place, table Table) [][]value {
	path := p.path(p.table(table.Name))
	if p.Format == CSV {
		return readCSV(t, path, table)
	}
	return readParquet(t, path, table)
}

// expected is the row that a sample must become.
func expected(at int64, s *decode.Sample) []value {
	row := []value{float64(at) / 1e6}
	for _, f := range decode.Fields(s.Tag) {
		var v value
		switch {
		case f.Kind == decode.Word && len(s.Word) > 0:
			v = string(s.Word)
		case (f.Kind == decode.Text || f.Kind == decode.Rest) && len(s.Text) > 0:
			v = string(s.Text)
		case f.Slot >= 0:
			n, ok := s.Get(f.Slot)
			switch {
			case !ok:
			case f.Kind == decode.Whole:
				v = int64(n)
			case f.Kind == decode.Flag:
				v = n == 1
			default:
				v = n
			}
		}
		row = append(row, v)
	}
	return row
}

// drawSample draws a sample that a line can hold.
func drawSample(t *rapid.T) decode.Sample {
	s := decode.Sample{Tag: decode.Tag(rapid.IntRange(1, int(decode.TagCount)-1).Draw(t, "tag"))}
	for _, f := range decode.Fields(s.Tag) {
		if rapid.IntRange(0, 3).Draw(t, "measured") == 0 {
			continue
		}
		switch {
		case f.Kind == decode.Word && f.Words != nil:
			s.Word = []byte(rapid.SampledFrom(f.Words).Draw(t, f.Name))
		case f.Kind == decode.Word:
			s.Word = []byte(rapid.StringMatching(`[a-z0-9_-]{1,30}`).Draw(t, f.Name))
		case f.Kind == decode.Text:
			s.Text = []byte(rapid.StringMatching(`[ -)+-+\--~]{1,30}`).Draw(t, f.Name))
		case f.Kind == decode.Rest:
			s.Text = []byte(rapid.StringMatching(`[ -)+-~]{1,60}`).Draw(t, f.Name))
		case f.Unbounded():
			s.Put(f.Slot, rapid.Float64Range(-1e18, 1e18).Draw(t, f.Name)+0)
		default:
			s.Put(f.Slot, drawNumber(t, f))
		}
	}
	return s
}

func drawNumber(t *rapid.T, f decode.Field) float64 {
	v := rapid.Float64Range(f.Min, f.Max).Draw(t, f.Name)
	if f.Kind == decode.Number {
		return v + 0 // minus zero is zero
	}
	v = math.Floor(v)
	if f.Even && int64(v)%2 != 0 {
		v++
	}
	return max(v, f.Min) + 0
}

func testInfo() Info {
	return Info{File: "20261125T074111Z.bell", Source: "bench, \"one\"", StartUTC: "2026-11-25T07:41:11Z", MadeBy: "tetherbell 9", Remarks: "x.bell is torn",
		SHA256: "ab12", Bytes: 1 << 40, Craft: "Marsh Heron", Lines: 5, Unknown: 1, Bad: 2, Lost: 3, Duration: 12_345_678}
}

// files lists all files under a folder, with slashes.
func files(t testing.TB, dir string) (out []string) {
	t.Helper()
	require.NoError(t, filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			rel, _ := filepath.Rel(dir, path)
			out = append(out, filepath.ToSlash(rel))
		}
		return err
	}))
	return out
}
