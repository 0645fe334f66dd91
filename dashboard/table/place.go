package table

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"unicode/utf8"
)

// A Place is where the tables of one session belong.
type Place struct {
	Dir    string
	Format Format
	// Session is the session's name in a data set of many; "" for one session
	// that has the folder to itself.
	Session string
}

// sessionsDir holds what is known of the sessions of a data set.
const sessionsDir = "_sessions"

// table is the path of a table's file, from Dir on and with slashes.
func (p Place) table(name string) string {
	if p.Session == "" {
		return name + "." + string(p.Format)
	}
	return name + "/session=" + Escape(p.Session) + "/part-0." + string(p.Format)
}

// receipt is the path of the file that says whose the tables are. Each format
// has its own, so that both may lie in one folder.
func (p Place) receipt() string {
	if p.Session == "" {
		return "_export-" + string(p.Format) + ".json"
	}
	return sessionsDir + "/" + Escape(p.Session) + "." + string(p.Format) + ".json"
}

// vocabulary is the path of the metadata beside CSV. The name is the one where
// a reader of such metadata looks first.
func (p Place) vocabulary() string {
	if p.Session == "" {
		return "csv-metadata.json"
	}
	return sessionsDir + "/" + Escape(p.Session) + ".csv-metadata.json"
}

// path is where a file of the place lies.
func (p Place) path(file string) string { return filepath.Join(p.Dir, filepath.FromSlash(file)) }

// A Receipt says what was written of a recording the last time.
type Receipt struct {
	MadeBy string   `json:"made_by"`
	File   string   `json:"file"`
	SHA256 string   `json:"sha256"`
	Bytes  int64    `json:"bytes"`
	Files  []string `json:"files"` // from the folder on, with slashes
}

// A TakenError says that another's file lies where a table should go.
type TakenError struct {
	Path string // the file
	Of   string // the recording that it is of; "" not known
}

// Error tells it in one line.
func (e *TakenError) Error() string {
	if e.Of != "" {
		return fmt.Sprintf("%s is of another recording, %s, or of more of it", e.Path, e.Of)
	}
	return fmt.Sprintf("%s is there already, and is of no export", e.Path)
}

// Receipt reads what was written at the place before; an empty one where
// nothing was.
func (p Place) Receipt() (Receipt, error) {
	var r Receipt
	path := p.path(p.receipt())
	text, err := os.ReadFile(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return r, nil
	case err != nil:
		return r, err
	}
	if err := json.Unmarshal(text, &r); err != nil || r.SHA256 == "" {
		return Receipt{}, &TakenError{Path: path}
	}
	return r, nil
}

// free reports a file that lies in the way and is not the receipt's.
func (p Place) free(r *Receipt) error {
	ours := map[string]bool{}
	for _, f := range r.Files {
		ours[f] = true
	}
	files := []string{}
	for _, t := range all() {
		files = append(files, p.table(t.Name))
	}
	if p.Format == CSV {
		files = append(files, p.vocabulary())
	}
	for _, f := range files {
		if ours[f] {
			continue
		}
		switch _, err := os.Lstat(p.path(f)); {
		case err == nil:
			return &TakenError{Path: p.path(f)}
		case !errors.Is(err, fs.ErrNotExist):
			return err
		}
	}
	return nil
}

// Escape writes a name as the value of a partition: what has a meaning in a
// path, on any system or to readers of partitions, becomes %XX, as they undo
// it. Letters of any script stay, for such readers undo %XX byte by byte.
func Escape(name string) string {
	if name == "" {
		return "__HIVE_DEFAULT_PARTITION__" // what readers of partitions take for none
	}
	var b strings.Builder
	for i, r := range name {
		switch {
		case r == utf8.RuneError && !strings.HasPrefix(name[i:], "\uFFFD"):
			fmt.Fprintf(&b, "%%%02X", name[i])
		case r > 0x7F, r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '-', r == '_',
			r == '.' && i < len(name)-1: // one system drops a point at the end
			b.WriteRune(r)
		default:
			fmt.Fprintf(&b, "%%%02X", r)
		}
	}
	return b.String()
}
