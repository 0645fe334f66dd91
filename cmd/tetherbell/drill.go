package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"tetherbell/decode/craft"
	"tetherbell/simulator/drill"
)

// drillHelp tells of the training.
const drillHelp = `With --drill it trains who stands at the bench: watch each recording as you
would the craft, and press Space, the stop, when you would stop. The tool tells
how that was: in time, late, without cause, or missed; and what was to be seen.
FILE may be several recordings, or a folder of them. In some nothing is wrong:
there the right answer is to let it run. With --alarms off nothing rings, and
the trainee has to see it. Attempts are kept, and --table prints them. --json
prints each as a line of JSON, and no events.

Without a screen, lines on standard input answer for the recordings in turn:
  stop                now
  stop SECONDS        at that time of the recording
  pass                not in this one`

// drillFlags are those of a drill alone.
type drillFlags struct {
	on       bool
	alarms   string
	who      string
	attempts string
	seed     uint64
	seeded   bool // by the person
	table    bool
}

func (d *drillFlags) addTo(cmd *cobra.Command) {
	fl := cmd.Flags()
	fl.BoolVar(&d.on, "drill", false, "training: you call the stop, and the reaction is scored")
	fl.StringVar(&d.alarms, "alarms", "on", "with --drill: `WORD` on or off: whether alarms are seen and heard")
	fl.StringVar(&d.who, "who", "", "with --drill: `NAME` of the trainee; with --table: only theirs")
	fl.StringVar(&d.attempts, "attempts", "", "with --drill: keep attempts in this `FILE`, not among your own settings")
	fl.Uint64Var(&d.seed, "seed", 0, "with --drill: of the order (default: another one each time)")
	fl.BoolVar(&d.table, "table", false, "with --drill: print the table of all attempts, and play nothing")
}

// check refuses what cannot be meant.
func (d *drillFlags) check(cmd *cobra.Command) error {
	set := cmd.Flags().Changed
	if !d.on {
		for _, name := range []string{"alarms", "who", "attempts", "seed", "table"} {
			if set(name) {
				return hinted(usagef("--%s is for a drill", name), "tetherbell replay --drill FOLDER")
			}
		}
		return nil
	}
	for _, name := range []string{"at", "paused"} {
		if set(name) {
			return hinted(usagef("--%s would skip what a drill is about", name), "tetherbell replay --drill FOLDER")
		}
	}
	d.seeded = set("seed")
	if d.alarms != "on" && d.alarms != "off" {
		return hinted(usagef("--alarms takes on or off, not %q", d.alarms), "--alarms off: the trainee has to see it")
	}
	return nil
}

// args says how many recordings a replay takes.
func (d *drillFlags) args(args []string) error {
	switch {
	case d.on && d.table && len(args) > 0:
		return hinted(usagef("--table plays nothing: it takes no recordings"), "tetherbell replay --drill --table")
	case d.on && !d.table && len(args) == 0:
		return hinted(usagef("drill with which recordings?"), "name some, or a folder of them: tetherbell replay --drill FOLDER")
	case !d.on && len(args) != 1:
		return hinted(usagef("replay takes one recording, not %d", len(args)), "tetherbell replay FILE")
	}
	return nil
}

// run drills, or prints what was kept.
func (d *drillFlags) run(ctx context.Context, con *console, f *flags, speed float64, args []string) error {
	path := d.attempts
	if path == "" {
		var err error
		if path, err = attemptsPath(); err != nil {
			return err
		}
	}
	if d.table {
		return d.printTable(con, path)
	}
	names, err := drillFiles(args)
	if err != nil {
		return err
	}
	seed := d.seed
	if !d.seeded {
		seed = uint64(time.Now().UnixNano()) % 1_000_000
	}
	slices.Sort(names)
	rand.New(rand.NewPCG(seed, 0)).Shuffle(len(names), func(i, j int) { names[i], names[j] = names[j], names[i] })
	t := &driller{
		con: con, f: f, names: names, path: path, named: d.attempts != "", heard: d.alarms == "on", began: time.Now().UTC(),
		like: drill.Row{Who: d.who, Alarms: d.alarms == "on", Speed: speed, Of: len(names), Seed: seed},
	}
	t.r = &replayer{con: con, speed: speed, drill: t}
	t.r.aud.form = f.form(con)
	return t.run(ctx)
}

func (d *drillFlags) printTable(con *console, path string) error {
	rows, bad, err := readAttempts(path)
	if err != nil {
		return err
	}
	if d.who != "" {
		rows = slices.DeleteFunc(rows, func(r drill.Row) bool { return r.Who != d.who })
	}
	for _, line := range drill.Table(rows, columns(con.out)) {
		con.say(line)
	}
	if bad > 0 {
		con.note("%d lines of %s are no attempts: passed over", bad, path)
	}
	return nil
}

// drillFiles are the recordings that were named, and those in folders.
func drillFiles(args []string) ([]string, error) {
	var out []string
	for _, arg := range args {
		info, err := os.Stat(arg)
		if err != nil || !info.IsDir() {
			out = append(out, arg) // what is wrong with it is said when it is opened
			continue
		}
		entries, err := os.ReadDir(arg)
		if err != nil {
			return nil, fmt.Errorf("read folder %s: %w", arg, err)
		}
		found := 0
		for _, e := range entries {
			if !e.IsDir() && (strings.HasSuffix(e.Name(), ".bell") || strings.HasSuffix(e.Name(), ".bell.zst")) {
				out = append(out, filepath.Join(arg, e.Name()))
				found++
			}
		}
		if found == 0 {
			return nil, hinted(usagef("there is no recording in the folder %s", arg), "recordings end in .bell or .bell.zst")
		}
	}
	return out, nil
}

// A driller leads through a drill: one recording after the other, each with a
// desk of its own, all of them before the same screen and sound.
type driller struct {
	con   *console
	f     *flags
	r     *replayer
	names []string
	about []outline
	craft []craft.Craft
	path  string // of the attempts
	named bool   // by the person
	heard bool   // alarms can be seen and heard
	began time.Time
	like  drill.Row // what all rows have in common
	rows  []drill.Row

	orders <-chan drillOrder // of standard input; nil: none
	order  *drillOrder       // for the recording that runs
	at     int               // the recording, from 0
	page   *drillPage        // what stands on the screen instead of the bench
	last   time.Time         // of the last tick
}

// look looks at all recordings, so that none is found wanting in the midst.
func (d *driller) look(ctx context.Context) error {
	for _, name := range d.names {
		f, err := openFile(ctx, name)
		if err != nil {
			return err
		}
		o, err := outlineOf(ctx, f, name)
		f.Close()
		if err != nil {
			return err
		}
		c := o.head.craft(d.con, name)
		if d.f.craft != "" {
			if c, err = loadCraft(ctx, d.f.craft); err != nil {
				return err
			}
		}
		d.about, d.craft = append(d.about, o), append(d.craft, c)
	}
	return nil
}

// row makes the row of an attempt.
func (d *driller) row(a *answer, stop float64) drill.Row {
	row := d.like
	row.Drill = d.began.Format(time.RFC3339)
	row.When = time.Now().UTC().Format(time.RFC3339)
	row.Attempt, row.File, row.Sum = d.at+1, filepath.Base(d.names[d.at]), sumOf(d.names[d.at])
	row.Fault, row.Stop = a.Fault, round(stop)
	row.Began, row.Alarm, row.Limit, row.End = round(a.Began), round(a.Alarm), round(a.Limit), round(a.End)
	row.Spent = a.Spent
	if a.alarm != nil {
		row.What = a.alarm.Kind.String() + " " + a.alarm.Where.String()
	}
	row.Verdict = row.Judged().String()
	return row
}

// round holds a time to the millisecond that events are told to.
func round(s float64) float64 {
	if s < 0 {
		return drill.Never
	}
	return float64(int64(s*1000+0.5)) / 1000
}

// sumOf names a recording by its bytes, for files are renamed; empty where it
// cannot be read any more.
func sumOf(path string) string {
	f, err := os.Open(path)
	if err != nil {
		return ""
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return ""
	}
	return hex.EncodeToString(h.Sum(nil))
}

// keep keeps a row. Where that cannot be, the row is told instead, so that it is
// not lost.
func (d *driller) keep(row drill.Row) error {
	d.rows = append(d.rows, row)
	err := keepAttempt(d.path, &row)
	if err != nil {
		if line, bad := row.Append(nil); bad == nil {
			err = hinted(fmt.Errorf("%w; the attempt was: %s", err, strings.TrimSpace(string(line))), hintOf(err))
		}
	}
	return err
}

// load opens a recording for the replayer.
func (d *driller) load(ctx context.Context) (*input, error) {
	r, name := d.r, d.names[d.at]
	file, err := openFile(ctx, name)
	if err != nil {
		return nil, err
	}
	r.name, r.file, r.about, r.craft = name, file, d.about[d.at], d.craft[d.at]
	r.card, r.pos, r.hint, r.quietTo = nil, 0, "", time.Time{} // a sound pause was for the last one
	r.rewind()
	return file, nil
}
