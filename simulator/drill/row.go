package drill

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
)

// A Row is one attempt, as it is kept: a line of JSON.
type Row struct {
	When    string  `json:"when"`      // UTC, RFC 3339
	Who     string  `json:"who"`       // "" where nobody said
	File    string  `json:"file"`      // the recording's name, without its folder
	Sum     string  `json:"sha256"`    // of the recording
	Alarms  bool    `json:"alarms"`    // they could be seen and heard
	Speed   float64 `json:"speed"`     // times the recording's own pace
	Verdict string  `json:"verdict"`   // as of the day
	Fault   bool    `json:"fault"`     // something was wrong
	What    string  `json:"what"`      // the alarm and its place; "" where none rang
	Stop    float64 `json:"stop_s"`    // Never: not stopped
	Began   float64 `json:"began_s"`   //
	Alarm   float64 `json:"alarm_s"`   //
	Limit   float64 `json:"limit_s"`   //
	End     float64 `json:"end_s"`     //
	Spent   bool    `json:"spent"`     // no stop was possible any more
	Attempt int     `json:"attempt"`   // its place in the drill, from 1
	Of      int     `json:"of"`        // recordings of that drill
	Seed    uint64  `json:"seed"`      // of the drill's order
	Drill   string  `json:"began_utc"` // when that drill began: what belongs together
}

// Truth is what was so in the recording.
func (r *Row) Truth() Truth {
	return Truth{Fault: r.Fault, Began: r.Began, Alarm: r.Alarm, Limit: r.Limit, End: r.End, Spent: r.Spent}
}

// Judged is the verdict by the row's own times.
func (r *Row) Judged() Verdict { return Judge(r.Truth(), r.Stop) }

// Append adds the row as one line.
func (r *Row) Append(dst []byte) ([]byte, error) {
	text, err := json.Marshal(r)
	if err != nil {
		return dst, fmt.Errorf("write attempt: %w", err)
	}
	return append(append(dst, text...), '\n'), nil
}

// maxRow bounds a line that is read; a row is a few hundred bytes.
const maxRow = 64 << 10

// Read reads rows, a line each. A line that is no row is counted and passed
// over: one that was torn by a fault must not hide the others.
func Read(from io.Reader) (rows []Row, bad int, err error) {
	r := bufio.NewReaderSize(from, maxRow)
	for {
		line, err := r.ReadSlice('\n')
		long := errors.Is(err, bufio.ErrBufferFull)
		for errors.Is(err, bufio.ErrBufferFull) { // the rest of it
			_, err = r.ReadSlice('\n')
		}
		if line = bytes.TrimSpace(line); long {
			bad++
		} else if len(line) > 0 {
			var row Row
			if json.Unmarshal(line, &row) != nil || row.When == "" {
				bad++
			} else {
				rows = append(rows, row)
			}
		}
		switch {
		case errors.Is(err, io.EOF):
			return rows, bad, nil
		case err != nil:
			return rows, bad, fmt.Errorf("read attempts: %w", err)
		}
	}
}
