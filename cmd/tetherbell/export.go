package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	"github.com/spf13/cobra"

	"tetherbell/dashboard/table"
	"tetherbell/decode/craft"
)

func newExport(con *console) *cobra.Command {
	e := &exporter{con: con}
	var format, craftFile string
	cmd := &cobra.Command{
		Use:   "export FILE|DIR",
		Short: "Write recordings as tables for other programs",
		Long: `Writes a recording as tables: one for each tag of the protocol, with t and the
columns that decode/PROTOCOL.md of the sources names; alarms, what rang when the
recording was judged again; marks, what was noted by hand; and recording, a row
that tells what the tables were made of.

t is engine seconds since the session's first good line, exact to the
microsecond. Motor columns are always eight. What was not measured is empty
(CSV) or null (Parquet); flags are 1 or 0 (CSV) or booleans (Parquet). Units
stand in csv-metadata.json, or in the key-value metadata of each Parquet file.
Bad lines and lines of unknown tags are counted and not exported.

FILE becomes OUT/axes.csv and so on; OUT is the recording's name without its
ending unless -o says otherwise. Of DIR all recordings in it (*.bell,
*.bell.zst) become one partitioned data set, OUT/axes/session=NAME/part-0.csv
and so on; OUT is the folder tables in DIR. A further run replaces the tables of
the recordings that it reads, whole or not at all, and no others; a file that
is not of the same recording is left alone, unless --force is given.

Exit status: 0, or 2 where something could not be exported.`,
		Example: `  tetherbell export runs/20261125T074111Z.bell
  tetherbell export --format parquet -o data runs`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) != 1 {
				return hinted(usagef("export takes one recording or folder, not %d", len(args)), "tetherbell export FILE|DIR")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) (err error) {
			if e.format, err = table.FormatNamed(format); err != nil {
				return hinted(err, "--format csv or --format parquet")
			}
			if craftFile != "" {
				c, err := loadCraft(cmd.Context(), craftFile)
				if err != nil {
					return err
				}
				e.craft = &c
			}
			return e.run(cmd.Context(), args[0])
		},
	}
	fl := cmd.Flags()
	fl.StringVarP(&e.out, "output", "o", "", "write into this folder `DIR`, which is made where it is not there")
	fl.StringVar(&format, "format", string(table.CSV), "`FORMAT` of the tables: csv or parquet")
	fl.BoolVar(&e.force, "force", false, "replace files that are of another recording, or of no export")
	fl.StringVar(&craftFile, "craft", "", "judge by this craft `FILE` (TOML) instead of the recording's own")
	return cmd
}

// An exporter writes recordings as tables.
type exporter struct {
	con    *console
	out    string
	format table.Format
	force  bool
	craft  *craft.Craft // nil: the recording's own
}

// recordingEndings are how recordings end; the longer one first.
var recordingEndings = []string{".bell.zst", ".bell"}

// sessionName is a recording's name without folder and ending.
func sessionName(path string) string {
	base := filepath.Base(path)
	for _, end := range recordingEndings {
		if name, ok := strings.CutSuffix(base, end); ok && name != "" {
			return name
		}
	}
	return strings.TrimSuffix(base, filepath.Ext(base))
}

func (e *exporter) run(ctx context.Context, path string) error {
	info, err := os.Stat(path)
	if err == nil && info.IsDir() {
		return e.folder(ctx, path)
	}
	out := e.out
	if out == "" {
		if out = filepath.Join(filepath.Dir(path), sessionName(path)); out == filepath.Clean(path) {
			out += ".tables"
		}
	}
	return e.export(ctx, path, table.Place{Dir: out, Format: e.format})
}

// folder exports every recording of a folder. One that cannot be is said and
// does not hold up the rest.
func (e *exporter) folder(ctx context.Context, dir string) error {
	files, err := e.recordings(dir)
	if err != nil {
		return err
	}
	out := e.out
	if out == "" {
		out = filepath.Join(dir, "tables")
	}
	for _, file := range files {
		err := e.export(ctx, file, table.Place{Dir: out, Format: e.format, Session: sessionName(file)})
		switch {
		case err == nil:
		case errors.Is(err, syscall.EPIPE), ctx.Err() != nil:
			return err
		default:
			complain(e.con.err, err)
			e.con.code = exitTrouble
		}
	}
	return nil
}

// recordings lists the recordings of a folder. Of two that differ in their
// ending alone the plain one counts: the other is the same, compressed.
func (e *exporter) recordings(dir string) ([]string, error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, fmt.Errorf("read folder %s: %w", dir, err)
	}
	var files []string
	taken := map[string]string{}
	for _, entry := range entries { // in the order of their names: .bell comes before .bell.zst
		name := entry.Name()
		if entry.IsDir() || !isRecording(name) {
			continue
		}
		session := sessionName(name)
		if other, ok := taken[session]; ok {
			e.con.note("%s is left out: %s has the same name", filepath.Join(dir, name), other)
			continue
		}
		taken[session] = name
		files = append(files, filepath.Join(dir, name))
	}
	if len(files) == 0 {
		return nil, hinted(fmt.Errorf("read folder %s: no recording in it", dir), "recordings end in .bell or .bell.zst")
	}
	return files, nil
}

func isRecording(name string) bool {
	for _, end := range recordingEndings {
		if strings.HasSuffix(name, end) {
			return true
		}
	}
	return false
}

// export writes the tables of one recording.
func (e *exporter) export(ctx context.Context, file string, p table.Place) error {
	receipt, err := p.Receipt()
	if err != nil && !(e.force && errors.As(err, new(*table.TakenError))) {
		return exportError(file, err)
	}
	s, err := surveyOf(ctx, file, receipt.Bytes)
	if err != nil {
		return err
	}
	if receipt.SHA256 != "" && !s.follows(&receipt) && !e.force {
		return exportError(file, &table.TakenError{Path: p.Dir, Of: receipt.File})
	}
	book, err := table.Open(p, s.info, receipt, e.force)
	if err != nil {
		return exportError(file, err)
	}
	info, err := e.fill(ctx, file, &s, book)
	if err != nil {
		book.Drop()
		return exportError(file, err)
	}
	counts, err := book.Close(info)
	if err != nil {
		return exportError(file, err)
	}
	e.tell(file, p, &receipt, counts, &info)
	return nil
}

// tell says what was written.
func (e *exporter) tell(file string, p table.Place, before *table.Receipt, counts []table.Count, info *table.Info) {
	rows := 0
	for _, c := range counts {
		rows += c.Rows
	}
	what, where := "written to", p.Dir
	if before.SHA256 != "" {
		what = "replaced in"
	}
	if p.Session != "" {
		where += ", session=" + table.Escape(p.Session)
	}
	e.con.say(fmt.Sprintf("%s: %d rows in %d tables %s %s", file, rows, len(counts), what, where))
	if p.Session == "" {
		for _, c := range counts {
			e.con.say(fmt.Sprintf("  %-10s %d", c.Table, c.Rows))
		}
	}
	if info.Bad > 0 || info.Unknown > 0 {
		e.con.note("%s: not exported: bad lines %d, lines of unknown tags %d", file, info.Bad, info.Unknown)
	}
}

// exportError says what could not be exported, and what helps.
func exportError(file string, err error) error {
	var taken *table.TakenError
	switch {
	case errors.As(err, &taken):
		return hinted(fmt.Errorf("export %s: %w", file, err), "write elsewhere with -o DIR, or replace it with --force")
	case hintOf(err) != "" || errors.Is(err, errInterrupted):
		return err
	case errors.Is(err, syscall.ENOSPC):
		return hinted(fmt.Errorf("export %s: %w", file, err), "make room, or write to another disk with -o DIR; nothing half written is left")
	case errors.Is(err, syscall.ENOTDIR), errors.Is(err, os.ErrExist):
		return hinted(fmt.Errorf("export %s: %w", file, err), "name a folder with -o DIR")
	case errors.Is(err, os.ErrPermission):
		return hinted(fmt.Errorf("export %s: %w", file, err), "name a folder that you may write to with -o DIR")
	}
	return fmt.Errorf("export %s: %w", file, err)
}
