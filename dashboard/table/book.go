package table

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"tetherbell/alarms"
	"tetherbell/decode"
)

// A Book is all tables of one session while they are written. One goroutine
// owns it. Either Close or Drop ends it; after an error only Drop is left.
type Book struct {
	place   Place
	info    Info
	receipt Receipt // of the last time
	shelf   *shelf
	tags    [decode.TagCount]*sheet
	sheets  []*sheet // in the order in which they began
	alarms  *sheet
	marks   *sheet
	json    []byte // scratch
}

// A sheet is one table while it is written.
type sheet struct {
	sink
	table Table
	from  []int // of a tag: slot of each column after t, or one of fromWord, fromText
	cells []Cell
	rows  int
}

const (
	fromWord = -1
	fromText = -2
)

// A Count says how many rows a table has.
type Count struct {
	Table string
	Rows  int
}

// Open begins the tables of a session. A file in their place that is not of
// receipt is a *TakenError unless force is set. Tables of tags begin with their first
// row: a tag that never came has none. alarms, marks and recording are always
// there, for that nothing rang is worth knowing.
func Open(p Place, info Info, receipt Receipt, force bool) (*Book, error) {
	if !force {
		if err := p.free(&receipt); err != nil {
			return nil, err
		}
	}
	return open(p, info, receipt, newShelf(p))
}

func open(p Place, info Info, receipt Receipt, s *shelf) (b *Book, err error) {
	b = &Book{place: p, info: info, receipt: receipt, shelf: s}
	if b.alarms, err = b.begin(Alarms, true); err == nil {
		b.marks, err = b.begin(Marks, true)
	}
	if err != nil {
		b.Drop()
		return nil, err
	}
	return b, nil
}

func (b *Book) begin(t Table, ordered bool) (*sheet, error) {
	w, err := b.shelf.add(b.place.table(t.Name))
	if err != nil {
		return nil, err
	}
	s := &sheet{table: t, cells: make([]Cell, len(t.Columns))}
	if s.sink, err = b.place.Format.newSink(w, &s.table, ordered); err != nil {
		return nil, err
	}
	b.sheets = append(b.sheets, s)
	return s, nil
}

func (b *Book) beginTag(tag decode.Tag) (*sheet, error) {
	s, err := b.begin(OfTag(tag), b.info.Ordered[tag])
	if err != nil {
		return nil, err
	}
	for _, f := range decode.Fields(tag) {
		from := f.Slot
		switch f.Kind {
		case decode.Word:
			from = fromWord
		case decode.Text, decode.Rest:
			from = fromText
		}
		s.from = append(s.from, from)
	}
	b.tags[tag] = s
	return s, nil
}

// Sample takes one good line, at engine time in microseconds. One of an
// unknown tag is in no table.
func (b *Book) Sample(at int64, s *decode.Sample) error {
	if s.Tag == decode.Unknown || s.Tag >= decode.TagCount {
		return nil
	}
	sh := b.tags[s.Tag]
	if sh == nil {
		var err error
		if sh, err = b.beginTag(s.Tag); err != nil {
			return err
		}
	}
	sh.cells[0] = Cell{Num: float64(at), Has: true}
	for i, from := range sh.from {
		c := &sh.cells[i+1]
		switch from {
		case fromWord:
			*c = Cell{Text: s.Word, Has: len(s.Word) > 0}
		case fromText:
			*c = Cell{Text: s.Text, Has: len(s.Text) > 0}
		default:
			v, ok := s.Get(from)
			*c = Cell{Num: v, Has: ok}
		}
	}
	sh.rows++
	return sh.row(sh.cells)
}

// Event takes one change of an alarm. The row holds what the event says as
// JSON, rounded as there.
func (b *Book) Event(ev *alarms.Event) error {
	var said struct {
		Alarm, Change, Priority, Where, Text string
		Value, Limit                         float64
		Detail                               json.RawMessage
	}
	b.json = ev.AppendJSON(b.json[:0], "")
	if err := json.Unmarshal(b.json, &said); err != nil {
		return fmt.Errorf("read event: %w", err)
	}
	var detail struct {
		Unit, Cause, Action string
		First               bool
		Lasted              *float64 `json:"lasted_s"`
	}
	if err := json.Unmarshal(said.Detail, &detail); err != nil {
		return fmt.Errorf("read event: %w", err)
	}
	lasted, first := Cell{}, 0.0
	if detail.Lasted != nil {
		lasted = numCell(*detail.Lasted)
	}
	if detail.First {
		first = 1
	}
	b.alarms.rows++
	return b.alarms.row([]Cell{
		numCell(float64(ev.T)), textCell(said.Alarm), textCell(said.Change), textCell(said.Priority), textCell(said.Where),
		numCell(said.Value), numCell(said.Limit), textCell(detail.Unit), textCell(said.Text), textCell(detail.Cause),
		textCell(detail.Action), numCell(first), lasted, textCell(string(said.Detail)),
	})
}

// Mark takes what was noted at engine time at, by the person or by a card.
func (b *Book) Mark(at int64, by, text string) error {
	b.marks.rows++
	return b.marks.row([]Cell{numCell(float64(at)), textCell(by), textCell(text)})
}

// Close writes the rest, with what is known of the recording now that it was
// read to its end, and moves all into place. Files of the last time that this
// recording has no more are removed. It returns the tables in the order of
// the protocol.
func (b *Book) Close(info Info) (counts []Count, err error) {
	defer func() {
		if err != nil {
			b.Drop()
		}
	}()
	b.info = info
	about, err := b.begin(About, false)
	if err != nil {
		return nil, err
	}
	about.rows++
	if err := about.row(info.row()); err != nil {
		return nil, err
	}
	receipt := Receipt{MadeBy: info.MadeBy, File: info.File, SHA256: info.SHA256, Bytes: info.Bytes}
	for _, s := range b.ordered() {
		if err := s.close(&b.info); err != nil {
			return nil, err
		}
		counts = append(counts, Count{Table: s.table.Name, Rows: s.rows})
		receipt.Files = append(receipt.Files, b.place.table(s.table.Name))
	}
	if b.place.Format == CSV {
		if err := b.write(b.place.vocabulary(), b.vocabulary()); err != nil {
			return nil, err
		}
		receipt.Files = append(receipt.Files, b.place.vocabulary())
	}
	if err := b.write(b.place.receipt(), receipt); err != nil {
		return nil, err
	}
	if err := b.shelf.commit(); err != nil {
		return nil, err
	}
	return counts, b.clear(receipt.Files)
}

// ordered are the sheets in the order of the protocol.
func (b *Book) ordered() []*sheet {
	place := map[string]int{}
	for i, t := range all() {
		place[t.Name] = i
	}
	out := slices.Clone(b.sheets)
	slices.SortFunc(out, func(x, y *sheet) int { return place[x.table.Name] - place[y.table.Name] })
	return out
}

// write puts a value as JSON on the shelf.
func (b *Book) write(name string, v any) error {
	text, err := json.MarshalIndent(v, "", " ")
	if err != nil {
		return fmt.Errorf("write %s: %w", name, err)
	}
	w, err := b.shelf.add(name)
	if err != nil {
		return err
	}
	_, err = w.Write(decode.EscapeJSON(append(text, '\n')))
	return err
}

// clear removes what the last time left and this time did not write. A receipt
// that somebody changed cannot reach beyond the place's own tables.
func (b *Book) clear(written []string) error {
	own := []string{b.place.vocabulary()}
	for _, t := range all() {
		own = append(own, b.place.table(t.Name))
	}
	var errs []error
	for _, f := range b.receipt.Files {
		if slices.Contains(written, f) || !slices.Contains(own, f) {
			continue
		}
		if err := os.Remove(b.place.path(f)); err != nil && !errors.Is(err, os.ErrNotExist) {
			errs = append(errs, fmt.Errorf("remove a table of the last time: %w", err))
		}
		if strings.Contains(f, "/") { // a partition that is empty now
			_ = os.Remove(filepath.Dir(b.place.path(f)))
		}
	}
	return errors.Join(errs...)
}

// Drop throws away what was written.
func (b *Book) Drop() { b.shelf.drop() }
