package main

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"unicode"

	"github.com/spf13/cobra"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
	"tetherbell/link"
)

func newSettings(con *console) *cobra.Command {
	var craftFile string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "settings OLD NEW",
		Short: "Compare two settings lists before they are written to the craft",
		Long: `Compares the settings that the craft has with those that shall be written to it,
and flags what looks like a slip:

  tenfold          about 10 times or a tenth of it: the decimal point
  percent          about 100 times or a hundredth, or a share over 1
  far              another change of over 8 times
  sign             the sign turned
  to-zero, from-zero
  dangerous-idle   armed idle over 0.20 in NEW, whatever it was in OLD
  idle-step        least flight output far over armed idle in NEW
  unequal          I and P of roll or pitch were equal and are no longer
  ratio            I over P of roll or pitch changed
  alone            one gain went up where all others that changed went down
  name             in one list only, and a letter or two off another name

A list is TOML (name = value, in tables or not; names in tables get points), CSV
(name,value, with or without a heading), or a recording, of which the last
value of each set line counts. Names that differ by points, underscores, blanks
and case alone are the same. The same recording twice: its first values
against its last. What a name means is said by pattern in the [settings] table
of the craft file; see: tetherbell craft --example

Exit status: 0 nothing is flagged, 1 something is, 2 wrong use or unreadable.`,
		Example: `  tetherbell settings yesterday.toml today.toml
  tetherbell settings --craft heron.toml runs/20261125T074111Z.bell new.csv`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) != 2 {
				return hinted(usagef("settings takes two lists, not %d", len(args)), "tetherbell settings OLD NEW")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			c, err := loadCraft(cmd.Context(), craftFile)
			if err != nil {
				return err
			}
			d, err := compareSettings(cmd.Context(), args[0], args[1], c)
			if err != nil {
				return err
			}
			if d.flagged() > 0 {
				con.code = exitAlarm
			}
			if asJSON {
				return d.tellJSON(con)
			}
			return d.tell(con)
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "one object of JSON with all that changed")
	cmd.Flags().StringVar(&craftFile, "craft", "", "craft `FILE` (TOML): which names are gains, idles and shares")
	return cmd
}

// A settingsDiff is what came of two lists: those in both or in NEW in the
// order of NEW, then those in OLD alone.
type settingsDiff struct {
	old, new string // files, as they were named
	all      []detect.SettingChange
	asks     map[int]askedName      // by place in all, those with detect.SlipName
	meant    []detect.SettingChange // all, judged with every name as it may be meant
}

// flagged counts the settings that have a flag.
func (d *settingsDiff) flagged() int {
	n := 0
	for i := range d.all {
		if d.all[i].Slips != 0 {
			n++
		}
	}
	return n
}

// looseName is a name without the signs that lists write in several ways.
func looseName(name string) string {
	return strings.Map(func(r rune) rune {
		switch r {
		case '.', '-', ' ', '/', ':':
			return '_'
		}
		return unicode.ToLower(r)
	}, name)
}

// compareSettings reads both lists and judges them.
func compareSettings(ctx context.Context, oldFile, newFile string, c craft.Craft) (*settingsDiff, error) {
	one := sameFile(oldFile, newFile)
	was, wasErr := readSettings(ctx, oldFile, one)
	is, isErr := readSettings(ctx, newFile, false)
	if one && wasErr != nil {
		isErr = nil // the same of the same file
	}
	if err := errors.Join(wasErr, isErr); err != nil {
		return nil, err
	}
	d := &settingsDiff{old: oldFile, new: newFile}
	names := c.Settings.WithDefaults()
	index, loose := make(map[string]int, len(is)), make(map[string]int, len(is))
	for _, s := range is {
		index[s.Name] = len(d.all)
		loose[looseName(s.Name)] = len(d.all)
		d.all = append(d.all, detect.SettingChange{Name: s.Name, Meaning: names.MeaningOf(s.Name), New: s.Value, HasNew: true, NewAt: s.Line})
	}
	for _, s := range was {
		i, there := index[s.Name]
		if !there { // a table's point is a bridge's underscore
			i, there = loose[looseName(s.Name)]
			there = there && !d.all[i].HasOld
		}
		if !there {
			i = len(d.all)
			d.all = append(d.all, detect.SettingChange{Name: s.Name, Meaning: names.MeaningOf(s.Name)})
		}
		d.all[i].Old, d.all[i].HasOld, d.all[i].OldAt = s.Value, true, s.Line
	}
	detect.PairSettings(d.all)
	gap := c.Limits.WithDefaults(c.DiameterMM).IdleGapOutput
	detect.JudgeSettings(d.all, gap)
	d.askNames(&names, gap)
	return d, nil
}

func sameFile(a, b string) bool {
	x, errX := os.Stat(a)
	y, errY := os.Stat(b)
	return errX == nil && errY == nil && x.Mode().IsRegular() && os.SameFile(x, y)
}

// sniffed is how much of a file without a telling name is looked at.
const sniffed = 4 << 10

// readSettings reads one list, of any form. first: of a recording the first
// value of each setting counts, not the last.
func readSettings(ctx context.Context, path string, first bool) ([]craft.Setting, error) {
	const what = "settings list"
	f, err := openNamed(ctx, what, path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	r := bufio.NewReaderSize(f, sniffed)
	head, err := r.Peek(sniffed)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, readError(ctx, what, path, err)
	}
	form := formOf(path, head)
	if form == ".bell" {
		all, err := recordedSettings(ctx, r, path, first)
		if hurt := damaged(path, f); hurt != nil { // the last values are not known
			return nil, hurt
		}
		return all, err
	}
	text, err := io.ReadAll(io.LimitReader(r, maxWhole+1))
	switch {
	case err != nil:
		return nil, readError(ctx, what, path, err)
	case len(text) > maxWhole:
		return nil, hinted(fmt.Errorf("read %s %s: over %d MiB", what, path, maxWhole>>20), "is it a list of settings?")
	}
	parse := craft.ParseSettingsTOML
	if form == ".csv" {
		parse = craft.ParseSettingsCSV
	}
	all, err := parse(text)
	var field *craft.FieldError
	if errors.As(err, &field) {
		field.File = path
		err = hinted(err, "a list is TOML (name = value), CSV (name,value) or a recording (.bell)")
	}
	return all, err
}

// formOf tells what a file is: by its name, else by its first line that says
// something.
func formOf(path string, head []byte) string {
	switch ext := strings.ToLower(filepath.Ext(path)); ext {
	case ".bell", ".csv", ".toml":
		return ext
	}
	var dec decode.Decoder
	var s decode.Sample
	for line := range bytes.Lines(head) {
		line = bytes.TrimSpace(line)
		switch {
		case len(line) == 0:
		case bytes.HasPrefix(line, []byte("#session ")), dec.Decode(line, &s) == nil:
			return ".bell"
		case line[0] == '#', line[0] == '[':
		case bytes.IndexByte(line, '=') < 0 && bytes.IndexByte(line, ',') >= 0:
			return ".csv"
		default:
			return ".toml"
		}
	}
	return ".toml"
}

// recordedSettings reads the set lines of a recording. A setting whose last
// line has no value is not known, and left out.
func recordedSettings(ctx context.Context, r io.Reader, path string, first bool) ([]craft.Setting, error) {
	session := link.NewSession(r)
	var dec decode.Decoder
	var s decode.Sample
	var it link.Item
	var all []craft.Setting
	index := map[string]int{}
	known := map[string]bool{}
	for n := 0; ; n++ {
		err := session.Next(&it)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil || n%1024 == 0 && ctx.Err() != nil {
			return nil, readError(ctx, "recording", path, errors.Join(err, ctx.Err()))
		}
		if it.Kind != link.Wire || dec.Decode(it.Line, &s) != nil || s.Tag != decode.Set || len(s.Word) == 0 {
			continue
		}
		i, there := index[string(s.Word)]
		if !there {
			i = len(all)
			index[string(s.Word)] = i
			all = append(all, craft.Setting{Name: string(s.Word)})
		}
		if v, ok := s.Get(decode.SetValue); !first || ok && !known[all[i].Name] {
			all[i].Value = v
			known[all[i].Name] = ok
		}
	}
	told := all[:0]
	for _, one := range all {
		if known[one.Name] {
			told = append(told, one)
		}
	}
	if len(told) == 0 {
		return nil, hinted(fmt.Errorf("read settings list %s: no set line in this recording", path), "a bridge that sends set lines is needed: see decode/PROTOCOL.md of the sources")
	}
	return told, nil
}
