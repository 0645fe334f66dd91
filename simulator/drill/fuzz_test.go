package drill

import (
	"bytes"
	"testing"
)

// FuzzRead: no file of attempts makes the reader fail, and a row that it takes
// is written again as one line that it takes.
func FuzzRead(f *testing.F) {
	f.Add([]byte("{\"when\":\"2026-11-20T10:00:00Z\"}\n{torn\n\n[]\n"))
	f.Add([]byte("{\"when\":\"\\n\\u2028\"}"))
	f.Fuzz(func(t *testing.T, text []byte) {
		rows, _, err := Read(bytes.NewReader(text))
		if err != nil {
			t.Fatal(err)
		}
		for i := range rows {
			line, err := rows[i].Append(nil)
			if err != nil || bytes.Count(line, []byte("\n")) != 1 {
				t.Fatalf("%+v: %q, %v", rows[i], line, err)
			}
			again, bad, err := Read(bytes.NewReader(line))
			if err != nil || bad > 0 || len(again) != 1 {
				t.Fatalf("%q is not read again: %v", line, err)
			}
		}
	})
}
