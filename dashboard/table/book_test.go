package table

import (
	"encoding/json"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// Every good line is one row of one table, and its values are those that
// decode gave. The lines are decoded from their text, as they come.
func TestEveryLineIsOneRow(t *testing.T) {
	dir := t.TempDir()
	rapid.Check(t, func(t *rapid.T) {
		p := Place{Dir: dir, Session: "x"}
		p.Format = rapid.SampledFrom(Formats()).Draw(t, "format")
		receipt, err := p.Receipt()
		require.NoError(t, err)
		require.NoError(t, p.free(&receipt))
		book, err := open(p, testInfo(), receipt, unsyncedShelf(p))
		require.NoError(t, err)
		want := map[decode.Tag][][]value{}
		var dec decode.Decoder
		var s decode.Sample
		at := int64(0)
		for range rapid.IntRange(0, 40).Draw(t, "lines") {
			drawn := drawSample(t)
			line := decode.Append(nil, &drawn)
			if dec.Decode(line[:len(line)-1], &s) != nil {
				continue // too long
			}
			at += rapid.Int64Range(-50_000, 3_000_000_000).Draw(t, "step")
			at = max(at, 0)
			require.NoError(t, book.Sample(at, &s))
			want[s.Tag] = append(want[s.Tag], expected(at, &s))
		}
		counts, err := book.Close(testInfo())
		require.NoError(t, err)
		rows := map[string]int{"alarms": 0, "marks": 0, "recording": 1}
		for tag, lines := range want {
			rows[tag.String()] = len(lines)
			assert.Equal(t, lines, read(t, p, OfTag(tag)))
		}
		for _, c := range counts {
			assert.Equal(t, rows[c.Table], c.Rows, c.Table)
		}
		assert.Len(t, counts, len(rows))
	})
}

// unsyncedShelf does not wait for the disk, which takes most of a small book's
// time.
func unsyncedShelf(p Place) *shelf {
	s := newShelf(p)
	create := s.create
	s.create = func(dir, pattern string) (file, error) {
		f, err := create(dir, pattern)
		return unsynced{f}, err
	}
	return s
}

type unsynced struct{ file }

func (unsynced) Sync() error { return nil }

// A line of an unknown tag is in no table.
func TestUnknownTag(t *testing.T) {
	p := Place{Dir: t.TempDir(), Format: CSV}
	book, err := Open(p, testInfo(), Receipt{}, false)
	require.NoError(t, err)
	require.NoError(t, book.Sample(1, &decode.Sample{Tag: decode.Unknown}))
	counts, err := book.Close(testInfo())
	require.NoError(t, err)
	assert.Equal(t, []Count{{"alarms", 0}, {"marks", 0}, {"recording", 1}}, counts)
}

// An event's row says what its JSON says.
func TestEventRow(t *testing.T) {
	ev := alarms.Event{T: 17_412_000, Kind: detect.OutputImbalance, Change: alarms.Cleared, Priority: detect.High,
		Where: detect.M1 | detect.M3, Value: 0.123456, Limit: 0.1, First: true, Since: 16_000_000,
		Story: detect.Story{Text: "never shown, for it is over", Cause: "a, \"b\"", Unit: "1", More: []detect.Fact{{Name: "pairs", Value: 2}}}}
	for _, f := range Formats() {
		p := Place{Dir: t.TempDir(), Format: f}
		book, err := Open(p, testInfo(), Receipt{}, false)
		require.NoError(t, err)
		require.NoError(t, book.Event(&ev))
		require.NoError(t, book.Mark(5, "person", "so\xffso, \"here\""))
		_, err = book.Close(testInfo())
		require.NoError(t, err)
		assert.Equal(t, [][]value{{17.412, "output-imbalance", "cleared", "high", "m1+m3", 0.1235, 0.1, "1",
			ev.Sentence(), "a, \"b\"", nil, true, 1.412,
			`{"unit":"1","cause":"a, \"b\"","pairs":2,"first":true,"lasted_s":1.412}`}}, read(t, p, Alarms), f)
		assert.Equal(t, [][]value{{0.000005, "person", "so\uFFFDso, \"here\""}}, read(t, p, Marks), f)
		assert.Equal(t, [][]value{{"2026-11-25T07:41:11Z", "Marsh Heron", "bench, \"one\"", "20261125T074111Z.bell", "ab12",
			int64(1 << 40), int64(5), int64(1), int64(2), int64(3), 12.345678, "tetherbell 9", "x.bell is torn"}}, read(t, p, About), f)
	}
}

// What is beside CSV says of each file where it lies, and of each column what
// it holds. The names are those of the W3C's vocabulary.
func TestVocabulary(t *testing.T) {
	p := Place{Dir: t.TempDir(), Format: CSV, Session: "a b%"}
	book, err := Open(p, testInfo(), Receipt{}, false)
	require.NoError(t, err)
	require.NoError(t, book.Sample(1, &decode.Sample{Tag: decode.State}))
	_, err = book.Close(testInfo())
	require.NoError(t, err)
	text, err := os.ReadFile(p.path("_sessions/a%20b%25.csv-metadata.json"))
	require.NoError(t, err)
	var v struct {
		Context string `json:"@context"`
		Tables  []struct {
			URL         string
			TableSchema struct{ Columns []map[string]any }
		}
	}
	require.NoError(t, json.Unmarshal(text, &v))
	assert.Equal(t, "http://www.w3.org/ns/csvw", v.Context)
	require.Len(t, v.Tables, 4)
	state := v.Tables[0]
	assert.Equal(t, "../state/session=a%2520b%2525/part-0.csv", state.URL)
	require.Len(t, state.TableSchema.Columns, 9)
	assert.Equal(t, map[string]any{"name": "t", "titles": "t", "datatype": "double", "required": true, "schema:unitText": "s",
		"dc:description": timeColumn.About}, state.TableSchema.Columns[0])
	assert.Equal(t, map[string]any{"base": "boolean", "format": "1|0"}, state.TableSchema.Columns[1]["datatype"])
}

func TestAppendSeconds(t *testing.T) {
	for us, want := range map[int64]string{0: "0.000000", 1: "0.000001", 20_310: "0.020310", 1_000_000: "1.000000",
		3_600_000_000: "3600.000000", 86_399_999_999: "86399.999999", -1_500_000: "-1.500000"} {
		assert.Equal(t, want, string(appendSeconds(nil, us)))
	}
}

// The names of the columns are protocol.
func TestColumns(t *testing.T) {
	for tag := decode.Unknown + 1; tag < decode.TagCount; tag++ {
		var names []string
		for _, c := range OfTag(tag).Columns {
			names = append(names, c.Name)
		}
		assert.Equal(t, append([]string{"t"}, decode.Columns(tag)...), names)
	}
	for _, table := range all() {
		seen := map[string]bool{}
		for _, c := range table.Columns {
			assert.False(t, seen[c.Name], "%s: %s twice", table.Name, c.Name)
			seen[c.Name] = true
			assert.NotEqual(t, "session", c.Name, "the partition has that name")
			assert.NotContains(t, c.Name, ",")
			assert.Equal(t, strings.ToLower(c.Name), c.Name)
		}
	}
	assert.Len(t, (&Info{}).row(), len(About.Columns))
}
