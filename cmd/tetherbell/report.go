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

	"tetherbell/dashboard/report"
	"tetherbell/decode/craft"
)

func newReport(con *console) *cobra.Command {
	r := reporting{con: con}
	var craftFile, format string
	cmd := &cobra.Command{
		Use:   "report FILE",
		Short: "Make a page of a recording, to read and to hand on",
		Long: `Makes a page of a recording: the verdict with the first thing to fix and why, the
run as a picture, every alarm, and what was measured of axes, motors, balance,
temperatures, pack, air and link. The page is one file that needs no network and
no script, on screen and on paper.

The alarms are those that were told on the day, where the recording keeps all of
them; with --again, or another craft file, they are worked out anew.

Without -o the page has the recording's name: runs/x.bell becomes runs/x.html. A
file that is not one of our own reports is not overwritten without --force.

Exit status: 0 the page is written, 2 wrong use, unreadable, or it cannot be written.`,
		Example: `  tetherbell report runs/20261125T074111Z.bell
  tetherbell report --format markdown -o - runs/20261125T074111Z.bell`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) != 1 {
				return hinted(usagef("report takes one recording, not %d", len(args)), "tetherbell report FILE")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			r.file = args[0]
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

// A reporting is a recording on its way to a page.
type reporting struct {
	con    *console
	file   string
	page   string // where it goes; "" beside the recording
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
	a, err := accountOf(ctx, r.con, r.file, r.craft, r.again)
	if err != nil {
		return err
	}
	var out bytes.Buffer
	page := report.Report{Account: a, Cautions: cautions, Tool: "tetherbell " + version}
	if err := page.Write(&out, r.format); err != nil {
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

// nameIt names the page after the recording.
func (r *reporting) nameIt() error {
	if s, err := os.Stat(r.file); err == nil && !s.Mode().IsRegular() && !s.IsDir() {
		return hinted(usagef("%s is no file to name a page after", r.file), "say where it goes: -o PAGE")
	}
	bare := r.file
	if strings.EqualFold(filepath.Ext(bare), ".zst") {
		bare = bare[:len(bare)-len(".zst")]
	}
	r.page = strings.TrimSuffix(bare, filepath.Ext(bare)) + r.format.Extension()
	return nil
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
	case sameFile(r.file, r.page):
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
