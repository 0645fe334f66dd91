package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"math"
	"path/filepath"

	"github.com/spf13/cobra"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
	"tetherbell/link"
)

// leastSteady is how many steady seconds a session must have to be kept: as
// many as a change needs to be judged.
const leastSteady = 3

func newAccept(con *console) *cobra.Command {
	var craftFile string
	var despite bool
	cmd := &cobra.Command{
		Use:   "accept FILE",
		Short: "Keep a session judged good as the craft's baseline",
		Long: fmt.Sprintf(`Keeps each motor's share of the mean output in the steady parts of a recording,
as what is normal for this craft. From %d accepted sessions on, output-imbalance
also rings medium where a motor's share has changed by more than 3 of their
standard deviations and by more than 0.05, and no longer rings low for what they
showed.

Beside a craft file the baseline is kept as heron.baseline.toml for heron.toml,
and read with it. Without one it is kept by the craft's name, as its bridge
tells it, in your own configuration folder, and used for sessions of that name
that have no craft file.

A session with alarms of medium or high priority is refused, unless you say
that they do not matter.`, craft.BaselineSessions),
		Example: `  tetherbell accept runs/20261125T074111Z.bell
  tetherbell accept --craft heron.toml runs/20261125T074111Z.bell`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) != 1 {
				return hinted(usagef("accept takes one recording, not %d", len(args)), "tetherbell accept FILE")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			a := &accepting{con: con, file: args[0], craftFile: craftFile, despite: despite}
			return a.run(cmd.Context())
		},
	}
	cmd.Flags().StringVar(&craftFile, "craft", "", "keep it beside this craft `FILE` (TOML), and judge by that")
	cmd.Flags().BoolVar(&despite, "despite-alarms", false, "although alarms of medium or high priority rang")
	return cmd
}

// An accepting is one session on its way into a baseline.
type accepting struct {
	con       *console
	file      string
	craftFile string
	despite   bool
	eng       *alarms.Engine
	checksum  string
}

func (a *accepting) run(ctx context.Context) error {
	if err := a.judge(ctx); err != nil {
		return err
	}
	s, err := a.session()
	if err != nil {
		return err
	}
	name := a.eng.CraftName()
	path, err := a.path(name)
	if err != nil {
		return err
	}
	lock, err := lockBaseline(ctx, path, lockPatience)
	if err != nil {
		return err
	}
	base, dropped, err := a.keep(ctx, &s, path, name)
	lock.release()
	if err != nil {
		return err
	}
	a.tell(&s, path, &base, dropped)
	return nil
}

// keep puts the session into the baseline as it is now; the caller holds its
// lock. It returns the baseline and how many older sessions left it.
func (a *accepting) keep(ctx context.Context, s *craft.Session, path, name string) (base craft.Baseline, dropped int, err error) {
	base, err = readBaseline(ctx, path)
	if err != nil {
		return base, 0, err
	}
	if base.Name != "" && name != "" && base.Name != name {
		return base, 0, hinted(fmt.Errorf("accept %s: it is of %s, but the baseline %s is of %s", a.file, name, path, base.Name),
			"give the craft file that belongs to this craft: --craft FILE")
	}
	if base.Has(s.Checksum) {
		return base, 0, hinted(fmt.Errorf("accept %s: this recording is in the baseline %s already", a.file, path), "a session counts once; accept another")
	}
	if n := len(base.Sessions); n > 0 && len(base.Sessions[0].Shares) != len(s.Shares) {
		return base, 0, hinted(fmt.Errorf("accept %s: it is of %d motors, but the baseline %s of %d", a.file, len(s.Shares), path, len(base.Sessions[0].Shares)),
			"remove the baseline to begin anew")
	}
	base.Name = name
	base.Sessions = append(base.Sessions, *s)
	dropped = max(len(base.Sessions)-craft.MaxSessions, 0)
	base.Sessions = base.Sessions[dropped:]
	return base, dropped, writeBaseline(path, base)
}

// judge plays the recording through the engine.
func (a *accepting) judge(ctx context.Context) error {
	var own *craft.Craft
	if a.craftFile != "" {
		c, err := loadCraft(ctx, a.craftFile)
		if err != nil {
			return err
		}
		own = &c
	}
	f, err := openInput(ctx, a.file)
	if err != nil {
		return err
	}
	defer f.Close()
	sum := sha256.New()
	s := link.NewSession(io.TeeReader(f, sum))
	k := checker{con: a.con, craft: own}
	d, err := k.play(ctx, s, a.file, nil)
	if err != nil {
		return err
	}
	if err := damaged(a.file, f); err != nil {
		return err
	}
	if d.good == 0 {
		return noGoodLine(a.file, f.Pipe(), s.Bytes() == 0, d.bad, d.causes[decode.OtherVersion])
	}
	if n := s.Torn(); n > 0 {
		return hinted(fmt.Errorf("accept %s: it is torn: its last line (%d bytes) has no end, so it is not known how the session ended", a.file, n),
			"accept a session that was recorded to its end")
	}
	if w := d.rings.worst; w != nil && !a.despite {
		return hinted(fmt.Errorf("accept %s: %s rang at %s, %s", a.file, w.kind, w.where, w.priority),
			"look into it with: tetherbell check "+a.file+"; to keep it all the same: --despite-alarms")
	}
	a.eng, a.checksum = d.eng, hex.EncodeToString(sum.Sum(nil))
	return nil
}

// session is what there is to keep of it.
func (a *accepting) session() (craft.Session, error) {
	st := a.eng.Steady()
	if st.Seconds < leastSteady {
		return craft.Session{}, hinted(fmt.Errorf("accept %s: %d s of steady throttle over least flight output with all motor outputs, %d are needed", a.file, st.Seconds, leastSteady),
			"hold the throttle still for some seconds, with the sticks at rest")
	}
	digits := func(v float64) float64 { return math.Round(v*1e4) / 1e4 }
	s := craft.Session{File: filepath.Base(a.file), Checksum: a.checksum, Seconds: float64(st.Seconds), Output: digits(st.Output)}
	for i := range st.Shares {
		s.Shares = append(s.Shares, digits(st.Shares[i]))
		s.Spreads = append(s.Spreads, digits(st.Spreads[i]))
	}
	return s, nil
}

// path is where the baseline is kept.
func (a *accepting) path(name string) (string, error) {
	if a.craftFile != "" {
		return craft.BaselinePath(a.craftFile), nil
	}
	if name == "" {
		return "", hinted(fmt.Errorf("accept %s: its bridge does not name the craft, so the baseline has no place", a.file), "give the craft file: --craft FILE")
	}
	path, err := namedBaseline(name)
	if err != nil {
		return "", hinted(fmt.Errorf("accept %s: %w", a.file, err), "give the craft file: --craft FILE")
	}
	return path, nil
}

// tell says what was kept.
func (a *accepting) tell(s *craft.Session, path string, base *craft.Baseline, dropped int) {
	of := ""
	if base.Name != "" {
		of = " of " + base.Name
	}
	a.con.say(fmt.Sprintf("%s: accepted as a session%s: %.0f s of steady throttle, mean output %.3f", a.file, of, s.Seconds, s.Output))
	for i := range s.Shares {
		line := fmt.Sprintf("  %s  %.3f of the mean, seconds differ by %.3f", detect.Motor(i), s.Shares[i], s.Spreads[i])
		if n := len(base.Sessions); n > 1 {
			mean, dev := detect.BaselineOf(base.Sessions, i)
			line += fmt.Sprintf("; %d sessions: %.3f, standard deviation %.3f", n, mean, dev)
		}
		a.con.say(line)
	}
	a.con.say("  kept in " + path)
	if dropped > 0 {
		a.con.say(fmt.Sprintf("  the newest %d sessions count: %d older left it", craft.MaxSessions, dropped))
	}
	if n := craft.BaselineSessions - len(base.Sessions); n > 0 {
		a.con.say(fmt.Sprintf("  changes are judged from %d sessions on: %d more", craft.BaselineSessions, n))
	}
}
