package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"tetherbell/alarms/detect"
	"tetherbell/link"
)

func newSessions(con *console) *cobra.Command {
	s := &sessions{con: con}
	cmd := &cobra.Command{
		Use:   "sessions DIR",
		Short: "List the recordings of a folder, or compress them",
		Long: fmt.Sprintf(`Lists the recordings of a folder (.bell, .bell.zst), the newest last, one a line:

  start (UTC), length, craft, verdict, worst alarm and where, file, remarks

The verdict is the highest priority that rang: HIGH, MEDIUM or low, else quiet;
empty where there is not one good line. "ends ARMED" stands before quiet or low
where nobody saw what came of an armed craft. It is that of the day, from the last line
of the recording. One without (torn, or not recorded by tetherbell) is judged now
when it is under %d MB, or with --judge.

Remarks: torn (it has no end), being written, ends ARMED, not fully watched,
continues NAME (the file before was lost while it was recorded), damaged.

With --json each is a JSON object a line: file, start_utc, duration_s, craft,
state (closed, writing, torn, open: without any host line, unreadable), verdict
("" when not judged), worst ({alarm, where, priority, t} or null), ends_armed,
not_fully_watched, bytes, compressed, continues, remark.

With --compress each recording NAME.bell that has its end becomes NAME.bell.zst,
in the seekable format of Zstandard, about a third as long. The recording is
removed once the compressed file was read back and is the same byte for byte.
Every command reads it as it did the recording; zstd -d makes that of it again.`, smallText>>20),
		Example: `  tetherbell sessions runs
  tetherbell sessions runs --json
  tetherbell sessions runs --compress`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) != 1 {
				return hinted(usagef("sessions takes one folder, not %d", len(args)), "tetherbell sessions DIR")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if s.squeeze {
				if err := errors.Join(notBoth(cmd, "compress", "json"), notBoth(cmd, "compress", "judge")); err != nil {
					return err
				}
			}
			return s.run(cmd.Context(), args[0])
		},
	}
	cmd.Flags().BoolVar(&s.json, "json", false, "each recording as a JSON object a line")
	cmd.Flags().BoolVar(&s.judge, "judge", false, "judge every recording that has no verdict, however long it takes")
	cmd.Flags().BoolVar(&s.squeeze, "compress", false, "compress the recordings that have their end, instead of listing them")
	return cmd
}

// A sessions lists or compresses the recordings of a folder.
type sessions struct {
	con                  *console
	json, judge, squeeze bool
}

func (s *sessions) run(ctx context.Context, dir string) error {
	files, err := recordingsIn(dir)
	if err != nil {
		return err
	}
	if len(files) == 0 {
		s.con.note("no recording in %s", dir)
		s.con.hint("a recording is made with: tetherbell watch PORT --record " + dir)
		return nil
	}
	if s.squeeze {
		return s.squeezeAll(ctx, files)
	}
	rows := make([]row, 0, len(files))
	for _, f := range files {
		r := s.look(ctx, f)
		if ctx.Err() != nil {
			return fmt.Errorf("list %s: %w", dir, errInterrupted)
		}
		rows = append(rows, r)
	}
	slices.SortStableFunc(rows, func(a, b row) int {
		if c := a.start.Compare(b.start); c != 0 {
			return c
		}
		return strings.Compare(a.File, b.File)
	})
	if s.json {
		return s.tellJSON(rows)
	}
	return s.tell(rows)
}

// recordingsIn names the files of a folder that are recordings by their name.
func recordingsIn(dir string) ([]string, error) {
	info, err := os.Stat(dir)
	if err == nil && !info.IsDir() {
		return nil, hinted(fmt.Errorf("list %s: it is no folder", dir), "one recording is judged by: tetherbell check "+dir)
	}
	var list []fs.DirEntry
	if err == nil {
		list, err = os.ReadDir(dir)
	}
	if err != nil {
		var pe *fs.PathError
		if errors.As(err, &pe) {
			err = pe.Err
		}
		why := fmt.Errorf("list %s: %w", dir, err)
		if errors.Is(err, fs.ErrNotExist) {
			return nil, hinted(why, "name the folder that was given to: tetherbell watch PORT --record DIR")
		}
		return nil, hinted(why, "look who may read it with: ls -ld "+dir)
	}
	var files []string
	for _, e := range list {
		name := strings.ToLower(e.Name())
		if strings.HasSuffix(name, link.Ext) || strings.HasSuffix(name, link.SqueezedExt) {
			files = append(files, filepath.Join(dir, e.Name()))
		}
	}
	return files, nil
}

// squeezeAll compresses what has its end. What cannot be compressed is said
// and does not hide the others.
func (s *sessions) squeezeAll(ctx context.Context, files []string) error {
	for _, f := range files {
		if strings.HasSuffix(strings.ToLower(f), link.SqueezedExt) {
			continue
		}
		done, err := link.Squeeze(ctx, f)
		switch {
		case ctx.Err() != nil:
			return fmt.Errorf("compress %s: %w", f, errInterrupted)
		case errors.Is(err, link.ErrNotClosed):
			s.con.note("%s is left as it is: %v", f, link.ErrNotClosed)
		case err != nil:
			complain(s.con.err, err)
			s.con.code = exitTrouble
		default:
			s.con.say(fmt.Sprintf("%s: %s of %s, %.1f times smaller", done.Path, megabytes(done.Bytes), megabytes(done.Text),
				float64(done.Text)/float64(max(done.Bytes, 1))))
		}
	}
	return nil
}

func megabytes(n int64) string { return fmt.Sprintf("%.1f MB", float64(n)/1e6) }

func (s *sessions) tellJSON(rows []row) error {
	out := bufio.NewWriter(s.con.out)
	enc := json.NewEncoder(plainJSON{out})
	enc.SetEscapeHTML(false)
	for i := range rows {
		if err := enc.Encode(&rows[i]); err != nil {
			return fmt.Errorf("list recordings: %w", err)
		}
	}
	return out.Flush()
}

func (s *sessions) tell(rows []row) error {
	w := tabwriter.NewWriter(s.con.out, 0, 8, 2, ' ', 0)
	for i := range rows {
		cells := rows[i].cells()
		for j := range cells {
			cells[j] = printable(cells[j])
		}
		fmt.Fprintln(w, strings.Join(cells, "\t"))
	}
	return w.Flush()
}

// cells are what a person reads of a recording.
func (r *row) cells() []string {
	start, length, craft, worst := "-", "-", r.Craft, "-"
	if !r.start.IsZero() {
		start = r.start.UTC().Format("2006-01-02 15:04:05")
	}
	if r.Duration > 0 {
		d := (time.Duration(math1000(r.Duration)) * time.Millisecond).Round(time.Second)
		length = fmt.Sprintf("%d:%02d:%02d", int(d.Hours()), int(d.Minutes())%60, int(d.Seconds())%60)
	}
	if craft == "" {
		craft = "-"
	}
	if r.Worst != nil {
		worst = r.Worst.Alarm + " at " + r.Worst.Where
	}
	verdict := r.Verdict
	switch verdict {
	case "high", "medium":
		verdict = strings.ToUpper(verdict)
	case "":
		verdict = "-"
	}
	if r.quietlyArmed() {
		verdict = "ends ARMED, " + verdict
	}
	cells := []string{start, length, craft, verdict, worst, filepath.Base(r.File)}
	if notes := r.remarks(); notes != "" {
		cells = append(cells, notes)
	}
	return cells
}

// quietlyArmed reports whether little or nothing rang up to an end that nobody
// has seen beyond: the verdict alone would say too much.
func (r *row) quietlyArmed() bool {
	return r.Armed && (r.Verdict == quiet || r.Verdict == detect.Low.String())
}

func math1000(s float64) int64 { return int64(s*1000 + 0.5) }

// remarks is what is odd about a recording.
func (r *row) remarks() string {
	var notes []string
	switch r.State {
	case stateTorn:
		notes = append(notes, "torn")
	case stateWriting:
		notes = append(notes, "being written")
	}
	if r.Armed && !r.quietlyArmed() {
		notes = append(notes, "ends ARMED")
	}
	if r.Missed {
		notes = append(notes, "not fully watched")
	}
	if r.Continues != "" {
		notes = append(notes, "continues "+r.Continues)
	}
	if r.Remark != "" {
		notes = append(notes, r.Remark)
	}
	return strings.Join(notes, ", ")
}
