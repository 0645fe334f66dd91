package table

import (
	"bytes"
	"io"
	"strconv"
)

// csvChunk is how many bytes are written at once.
const csvChunk = 64 << 10

// A csvSink writes a table as RFC 4180 has it, with LF at the line's end.
type csvSink struct {
	w    io.Writer
	cols []Column
	buf  []byte
}

func newCSVSink(w io.Writer, t *Table) (*csvSink, error) {
	c := &csvSink{w: w, cols: t.Columns, buf: make([]byte, 0, csvChunk+4<<10)}
	for i, col := range t.Columns {
		if i > 0 {
			c.buf = append(c.buf, ',')
		}
		c.buf = append(c.buf, col.Name...)
	}
	return c, c.end()
}

func (c *csvSink) row(cells []Cell) error {
	b := c.buf
	for i := range cells {
		if i > 0 {
			b = append(b, ',')
		}
		v := &cells[i]
		if !v.Has {
			continue
		}
		switch c.cols[i].Type {
		case Seconds:
			b = appendSeconds(b, int64(v.Num))
		case Text:
			b = appendQuoted(b, v.Text)
		case Number:
			b = strconv.AppendFloat(b, v.Num, 'f', -1, 64)
		default:
			b = strconv.AppendInt(b, int64(v.Num), 10)
		}
	}
	c.buf = b
	return c.end()
}

// end ends a line.
func (c *csvSink) end() error {
	c.buf = append(c.buf, '\n')
	if len(c.buf) < csvChunk {
		return nil
	}
	return c.flush()
}

func (c *csvSink) flush() error {
	_, err := c.w.Write(c.buf)
	c.buf = c.buf[:0]
	return err
}

func (c *csvSink) close(*Info) error { return c.flush() }

// appendSeconds writes microseconds as seconds with six decimals, so that each
// microsecond is exact.
func appendSeconds(b []byte, us int64) []byte {
	if us < 0 {
		b = append(b, '-')
		us = -us
	}
	b = strconv.AppendInt(b, us/1e6, 10)
	b = append(b, '.')
	for unit := int64(100_000); unit > 0; unit /= 10 {
		b = append(b, byte('0'+us/unit%10))
	}
	return b
}

// appendQuoted writes a text, in quotes where a reader would else take it for
// more or less than it is. An empty one is quoted too: it is not an empty field.
func appendQuoted(b, text []byte) []byte {
	if n := len(text); n > 0 && !bytes.ContainsAny(text, ",\"\r\n") && text[0] != ' ' && text[n-1] != ' ' {
		return append(b, text...)
	}
	b = append(b, '"')
	for _, c := range text {
		if c == '"' {
			b = append(b, '"')
		}
		b = append(b, c)
	}
	return append(b, '"')
}
