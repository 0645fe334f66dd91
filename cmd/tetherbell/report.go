package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"tetherbell/alarms/account"
	"tetherbell/alarms/compare"
	"tetherbell/dashboard/report"
	"tetherbell/decode/craft"
)

func newReport(con *console) *cobra.Command {
	r := reporting{con: con}
	var craftFile, format string
	cmd := &cobra.Command{
		Use:   "report FILE [FILE2]",
		Short: "Make a page of a recording, or of what changed between two",
		Long: `Makes a page of a recording: the verdict with the first thing to fix and why, the
run as a picture, every alarm, and what was measured of axes, motors, balance,
temperatures, pack, air and link. The page is one file that needs no network and
no script, on screen and on paper.

With a second recording the page tells before and after: whether the second is
better than the first, worse, or neither can be told, and every figure that this
rests on. Hold the same throttles in both, each for five seconds and more, with
the sticks at rest: only that is compared.

The alarms are those that were told on the day, where the recording keeps all of
them; with --again, or another craft file, they are worked out anew.

Without -o the page has the recording's name: runs/x.bell becomes runs/x.html,
and runs/x.bell with runs/y.bell becomes runs/x-vs-y.html beside the second. A
file that is not one of our own reports is not overwritten without --force.

Exit status: 0 the page is written, 2 wrong use, unreadable, or it cannot be written.`,
		Example: `  tetherbell report runs/20261125T074111Z.bell
  tetherbell report runs/before.bell runs/after.bell
  tetherbell report --format markdown -o - runs/20261125T074111Z.bell`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) < 1 || len(args) > 2 {
				return hinted(usagef("report takes one recording, or two to compare, not %d", len(args)), "tetherbell report FILE, or tetherbell report BEFORE AFTER")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			r.files = args
			if err := r.setFormat(format, cmd.Flags().Changed("format")); err != nil {
				return err
			}
			if craftFile != "" {
				c, err := loadCraft(cmd.Context(), craftFile)
				if err != nil {
					return err
				}
				r.craft = &c
			}
			return r.run(cmd.Context())
		},
	}
	cmd.Flags().StringVarP(&r.page, "output", "o", "", "write to this `PAGE`; - is standard output")
	cmd.Flags().StringVar(&format, "format", string(report.HTML), "`html`, markdown or json; without it the ending of PAGE decides")
	cmd.Flags().StringVar(&craftFile, "craft", "", "judge by this craft `FILE` (TOML) instead of the recording's own")
	cmd.Flags().BoolVar(&r.again, "again", false, "judge again instead of taking the alarms as they were told on the day")
	cmd.Flags().BoolVar(&r.force, "force", false, "overwrite PAGE whatever it is")
	return cmd
}

// A reporting is a recording on its way to a page, or two.
type reporting struct {
	con    *console
	files  []string // the second after the change, if there is one
	page   string   // where it goes; "" beside the recording
	format report.Format
	craft  *craft.Craft // nil: the recording's own
	again  bool
	force  bool
}

// toStdout stands for standard output in the place of a page.
const toStdout = "-"

// setFormat takes the format that a person named, or the one that goes with
// the ending of the page.
func (r *reporting) setFormat(name string, named bool) error {
	r.format = report.Format(name)
	if !slices.Contains(report.Formats, r.format) {
		return hinted(usagef("--format takes html, markdown or json, not %q", name), "give one of them")
	}
	if named {
		return nil
	}
	for _, f := range report.Formats {
		if strings.EqualFold(filepath.Ext(r.page), f.Extension()) {
			r.format = f
		}
	}
	return nil
}

// run looks first whether the page may be written: a long recording takes its
// time to be judged.
func (r *reporting) run(ctx context.Context) error {
	if r.page == "" {
		if err := r.nameIt(); err != nil {
			return err
		}
	}
	if err := r.mayWrite(); err != nil {
		return err
	}
	var out bytes.Buffer
	if err := r.tell(ctx, &out); err != nil {
		return err
	}
	if r.page == toStdout {
		_, err := r.con.out.Write(out.Bytes())
		return err
	}
	if err := writePage(r.page, out.Bytes()); err != nil {
		return hinted(fmt.Errorf("write report: %w", err), "may you write into the folder "+filepath.Dir(r.page)+"?")
	}
	r.con.say("wrote " + r.page)
	return nil
}

// tell writes the page of one recording, or of two.
func (r *reporting) tell(ctx context.Context, out *bytes.Buffer) error {
	tool := "tetherbell " + version
	if len(r.files) == 1 {
		a, err := accountOf(ctx, r.con, r.files[0], r.craft, r.again, nil)
		if err != nil {
			return err
		}
		page := report.Report{Account: a, Cautions: cautions, Tool: tool}
		return page.Write(out, r.format)
	}
	var told [2]*account.Account
	var runs [2]*compare.Run
	for i, file := range r.files {
		var cmp comparing
		a, err := accountOf(ctx, r.con, file, r.craft, r.again, &cmp)
		if err != nil {
			return err
		}
		told[i], runs[i] = a, cmp.run
	}
	if runs[0].Name == runs[1].Name {
		runs[0].Name += " (before)"
		runs[1].Name += " (after)"
	}
	page := report.Comparison{Result: compare.Between(runs[0], runs[1]), Before: told[0], After: told[1], Cautions: cautions, Tool: tool}
	return page.Write(out, r.format)
}

// nameIt names the page after the recording; two give it both their names.
func (r *reporting) nameIt() error {
	for _, file := range r.files {
		if s, err := os.Stat(file); err == nil && !s.Mode().IsRegular() && !s.IsDir() {
			return hinted(usagef("%s is no file to name a page after", file), "say where it goes: -o PAGE")
		}
	}
	last := r.files[len(r.files)-1]
	name := bareName(last)
	if len(r.files) == 2 {
		name = filepath.Join(filepath.Dir(last), filepath.Base(bareName(r.files[0]))+"-vs-"+filepath.Base(name))
	}
	r.page = name + r.format.Extension()
	return nil
}

// bareName is a recording's path without its endings.
func bareName(file string) string {
	if strings.EqualFold(filepath.Ext(file), ".zst") {
		file = file[:len(file)-len(".zst")]
	}
	return strings.TrimSuffix(file, filepath.Ext(file))
}

// mayWrite refuses a place where the page would take something away.
func (r *reporting) mayWrite() error {
	if r.page == toStdout {
		return nil
	}
	s, err := os.Stat(r.page)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		if _, err := os.Stat(filepath.Dir(r.page)); err != nil {
			return hinted(fmt.Errorf("write report %s: there is no such folder", r.page), "make the folder first, or write elsewhere with -o PAGE")
		}
		return nil
	case err != nil:
		return hinted(fmt.Errorf("write report: %w", err), "write elsewhere with -o PAGE")
	case s.IsDir():
		return hinted(fmt.Errorf("write report %s: it is a folder", r.page), "name a file in it: -o "+filepath.Join(r.page, "page"+r.format.Extension()))
	case slices.ContainsFunc(r.files, func(file string) bool { return sameFile(file, r.page) }):
		return hinted(fmt.Errorf("write report %s: it is the recording itself", r.page), "write elsewhere with -o PAGE")
	case r.force || !s.Mode().IsRegular():
		return nil
	}
	head, err := headOfFile(r.page)
	if err != nil {
		return hinted(fmt.Errorf("write report: %w", err), "write elsewhere with -o PAGE")
	}
	if len(head) > 0 && !report.Ours(head) {
		return hinted(fmt.Errorf("write report %s: a file is there that is no report of ours", r.page), "write elsewhere with -o PAGE, or overwrite it with --force")
	}
	return nil
}

func headOfFile(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, report.Head))
}

// writePage puts a page in its place in one step. A pipe or a device is written
// to: it must not be replaced by a file.
func writePage(path string, text []byte) error {
	s, err := os.Stat(path)
	if err != nil || s.Mode().IsRegular() {
		return writeWhole(path, text)
	}
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	_, err = f.Write(text)
	return errors.Join(err, f.Close())
}
