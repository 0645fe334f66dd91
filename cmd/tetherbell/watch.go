package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"tetherbell/alarms"
	"tetherbell/alarms/runcard"
	"tetherbell/decode/craft"
	"tetherbell/link"
)

// flags are what the monitoring commands have in common.
type flags struct {
	baud        int
	record      string
	craft       string
	plain, json bool
	sound       string
	card        string
	tick, speak bool
	life        float64 // seconds
	beacon      beaconFlags
}

func (f *flags) addTo(cmd *cobra.Command) {
	cmd.Flags().BoolVar(&f.plain, "plain", false, "no screen: a line of text for each event")
	cmd.Flags().BoolVar(&f.json, "json", false, "no screen: each event as a line of JSON, then the summary")
	cmd.Flags().StringVar(&f.sound, "sound", "auto", "what may be heard: auto, bell or off")
	cmd.Flags().BoolVar(&f.tick, "tick", true, "audio: tick while an axis swings, faster the nearer to its limit")
	cmd.Flags().Float64Var(&f.life, "life", 0, "audio: a soft sound every so many `SECONDS` while good lines come; 0 for none")
	cmd.Flags().BoolVar(&f.speak, "speak", false, "name alarms in words after their tones, by this system's speech program")
}

// Bounds of the life sign: oftener it would be a noise, and more seldom nobody
// would miss it.
const leastLife, mostLife = 1, 60

// check refuses what cannot be meant, before anything is opened or told.
func (f *flags) check(cmd *cobra.Command) error {
	if err := notBoth(cmd, "plain", "json"); err != nil {
		return err
	}
	if f.life != 0 && !(f.life >= leastLife && f.life <= mostLife) {
		return hinted(usagef("a life sign every %v s is not within %v to %v s", f.life, leastLife, mostLife), "--life 5")
	}
	_, err := soundMode(f.sound)
	return err
}

func (f *flags) addRecord(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.record, "record", "", "record into this `DIR`, under a name made of the time")
}

func (f *flags) addCraft(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.craft, "craft", "", "craft `FILE` (TOML): what is not known of the machine, and its limits")
}

// form decides how events are told. What is not a terminal gets text.
func (f *flags) form(con *console) form {
	switch {
	case f.json:
		return asJSON
	case f.plain || !canDraw(con):
		return asPlain
	}
	return asScreen
}

func newWatch(con *console) *cobra.Command {
	var f flags
	cmd := &cobra.Command{
		Use:   "watch SOURCE...",
		Short: "Watch the bench live",
		Long: `Watches the bench live. SOURCE is a serial port, - for standard input, or a
recording that is still being written.

Up to four ports are watched together, as of a bridge on the craft and one on
the stand: PORT@BAUD gives one a baud of its own. Their lines are put on one
clock. What two of them send is taken from the one that sent it first.

A port that is lost is tried again until it is back. At the end of the input,
or on interrupt, the last windows are judged and the watch ends; with a screen
it stays and says that the input has ended.

` + beaconHelp + `

` + ordersHelp,
		Example: `  tetherbell watch /dev/ttyUSB0 --record sessions
  tetherbell watch --baud 921600 --craft heron.toml COM3
  tetherbell watch /dev/ttyUSB0 /dev/ttyACM0@921600
  tetherbell simulate gains-high | tetherbell watch - --plain`,
		Args: fewSources,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := errors.Join(f.check(cmd), f.beacon.check(args)); err != nil {
				return err
			}
			return watch(cmd.Context(), con, args, &f)
		},
	}
	cmd.Flags().IntVar(&f.baud, "baud", link.DefaultBaud, "of the serial port, 8N1")
	f.addRecord(cmd)
	f.addCraft(cmd)
	f.addCard(cmd)
	f.addTo(cmd)
	f.beacon.addTo(cmd)
	return cmd
}

func fewSources(_ *cobra.Command, args []string) error {
	if len(args) == 0 {
		return hinted(usagef("watch what?"), "name a port (tetherbell ports lists them), or - for standard input")
	}
	if len(args) > link.MaxBridges {
		return hinted(usagef("watch takes up to %d ports, not %d", link.MaxBridges, len(args)), "tetherbell watch PORT PORT")
	}
	return nil
}

func watch(ctx context.Context, con *console, names []string, f *flags) error {
	c, err := loadCraft(ctx, f.craft)
	if err != nil {
		return err
	}
	if f.craft == "" {
		c.Known = con.baselines(ctx)
	}
	name := strings.Join(names, " + ")
	l := &live{con: con, name: name, file: name}
	if l.card, err = loadCard(ctx, f.card); err != nil {
		return err
	}
	capacity := 0
	if len(names) == 1 {
		capacity, err = l.openSource(ctx, name, f, &c)
	} else if l.inlets, err = openInlets(ctx, con, names, f.baud); err == nil {
		l.src, l.bridges = l.inlets, l.inlets.options()
		l.name = strings.Join(l.bridges.Sources, " + ")
		l.file = l.name
	}
	if err != nil {
		return err
	}
	return l.watch(ctx, c, capacity, f)
}

// stdinName is what people are told standard input is called.
const stdinName = "standard input"

// openSource opens what is to be watched. It returns the baud that bounds it,
// 0 where none does. A recording's own craft fills in for a missing file.
func (l *live) openSource(ctx context.Context, name string, f *flags, c *craft.Craft) (int, error) {
	if name == "-" {
		l.name = stdinName
		l.src = asSource(l.con.in)
		return 0, nil
	}
	info, err := os.Stat(name)
	switch {
	case err == nil && info.Mode().IsRegular():
		return l.openGrowing(name, f, c)
	case err == nil && info.Mode()&fs.ModeNamedPipe != 0:
		return 0, hinted(fmt.Errorf("open port %s: it is a pipe", name), "tetherbell watch - < "+name)
	}
	if err := baudIn(name); err != nil {
		return 0, err
	}
	baud := f.baud
	if bare, rate, ok := portAndBaud(name); ok {
		name, baud = bare, rate
		l.name = name
	}
	port, err := openPort(ctx, l.con, name, baud)
	if err != nil {
		return 0, err
	}
	l.src, l.port, l.baud = port, port, baud
	return port.Capacity(), nil
}

func (l *live) openGrowing(name string, f *flags, c *craft.Craft) (int, error) {
	head, err := readHead(name) // what is compressed too: OpenTail refuses it
	if err != nil {
		return 0, err
	}
	tail, err := link.OpenTail(name)
	if err != nil {
		return 0, err
	}
	l.src = tail
	l.follow = &follow{} // its desk comes later
	l.bridges = head.options()
	if f.craft == "" {
		*c = head.craft(l.con, name)
	}
	if l.card == nil {
		l.card = head.card(l.con, name)
	}
	return head.baud, nil
}

// watch lives through a source that is open.
func (l *live) watch(ctx context.Context, c craft.Craft, capacity int, f *flags) error {
	l.aud.form, l.flags = f.form(l.con), f
	l.dog.ready()
	l.aud.watch = &l.dog.watch
	var err error
	if l.beacon, err = l.openBeacon(&f.beacon); err != nil {
		l.src.Close()
		return err
	}
	rec, err := startRecording(f.record, link.SessionHeader{
		Source: l.name, Baud: capacity, Sources: l.bridges.Sources, Bauds: l.bridges.Bauds,
	}, c, l.card)
	if err != nil {
		l.beacon.drop()
		l.src.Close()
		return err
	}
	l.rec, l.limit = rec, capacity
	l.bridges.Baud = capacity
	l.desk = deskOf(alarms.New(c, l.bridges), rec, l.tell)
	l.desk.useBridges(l.bridges.Sources)
	l.desk.many.news = l.say
	l.desk.acted, l.desk.turned, l.desk.ailing = l.acted, l.aud.turned, l.aud.remark
	l.desk.lapsed = l.lapsed
	l.desk.onCard, l.aud.card = l.carded, l.desk.cardView
	l.desk.useCard(l.card)
	if l.follow != nil {
		l.follow = newFollow(l.desk)
	}
	if l.aud.form != asScreen {
		stayAwake()
		tellCautions(l.con.err)
		l.aud.out, l.notes = newWatchedPrinter(l.con.out, &l.dog.watch), newPrinter(l.con.err)
		if l.name != stdinName {
			l.orders = readOrders(l.con.in, func(err error) { l.note("standard input: %v", err) })
		}
		at := ""
		if l.port != nil && capacity > 0 {
			at = fmt.Sprintf(" at %d baud", capacity)
		}
		l.note("watching %s%s; interrupt ends it", l.name, at)
	}
	if rec != nil {
		l.file = rec.Status().Path
		l.note("recording to %s", l.file)
	}
	l.tellBeacon()
	return l.run(ctx)
}

// startRecording makes a recording in a folder, of the source that the header
// names; none when dir is empty.
func startRecording(dir string, h link.SessionHeader, c craft.Craft, card *runcard.Card) (*link.Recorder, error) {
	if dir == "" {
		return nil, nil
	}
	text, err := json.Marshal(c)
	if err != nil {
		return nil, fmt.Errorf("write craft into recording: %w", err)
	}
	h.Tool, h.Version, h.Craft = "tetherbell", version, text
	if card != nil {
		h.Card = card.Text
	}
	rec, err := link.Create(dir, time.Now(), h)
	if errors.Is(err, link.ErrLongHeader) {
		return nil, hinted(err, "give a shorter card or craft file; with --craft FILE no baselines are written into it")
	}
	if err != nil {
		return nil, hinted(err, "give a folder that may be written to: --record DIR")
	}
	return rec, nil
}

// asSource reads from any reader; one that cannot be closed is left open.
func asSource(r io.Reader) source {
	if s, ok := r.(source); ok {
		return s
	}
	return struct {
		io.Reader
		io.Closer
	}{r, io.NopCloser(nil)}
}

// A head is what the first line of a recording says.
type head struct {
	link.SessionHeader
	there  bool
	broken bool // there is one, and it cannot be read
	baud   int
}

// readHead reads the first line of a recording, if it is a header.
func readHead(path string) (head, error) {
	f, err := link.OpenRecording(path)
	if err != nil {
		return head{}, err
	}
	defer f.Close()
	var it link.Item
	switch err := link.NewSession(io.LimitReader(f, link.MaxLine)).Next(&it); {
	case errors.Is(err, io.EOF):
		return head{}, nil
	case err != nil:
		return head{}, fmt.Errorf("read recording %s: %w", path, err)
	}
	return headOf(&it), nil
}

// options are what an engine is told of the source of a recording.
func (h *head) options() alarms.Options {
	return alarms.Options{Baud: h.baud, Sources: h.Sources, Bauds: h.Bauds}
}

// headOf reads a header from the first item of a recording.
func headOf(it *link.Item) head {
	if it.Kind != link.Header {
		return head{}
	}
	h, ok := link.ParseHeader(it.Line)
	return head{SessionHeader: h, there: ok, broken: !ok, baud: h.Baud}
}

// craft returns the craft that the day was judged by, with the baseline of that
// day. One that is not understood is said, and the bridge's own lines must do.
// A recording without a header had no such day: what is kept by name may help.
func (h *head) craft(con *console, path string) craft.Craft {
	if h.broken {
		con.note("the first line of %s is damaged: craft and card of that day are not known", path)
		con.hint("give the craft file: --craft FILE")
	}
	if !h.there {
		return craft.Craft{Known: con.baselines(context.Background())}
	}
	if len(h.SessionHeader.Craft) == 0 || string(h.SessionHeader.Craft) == "null" {
		return craft.Craft{}
	}
	c, err := craft.ParseJSON(h.SessionHeader.Craft)
	if err != nil {
		con.note("the craft in the header of %s is not understood (%v): judged without it", path, err)
		con.hint("give the craft file: --craft FILE")
		return craft.Craft{}
	}
	return c
}
