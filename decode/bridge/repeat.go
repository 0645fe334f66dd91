package bridge

import (
	"fmt"
	"math"
	"slices"
	"time"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

func (w *Writer) helloLocked(at time.Duration) error {
	s := w.beginLocked(decode.Hello, at)
	s.Put(decode.HelloVersion, decode.Version)
	s.Put(decode.HelloBoot, float64(w.config.Boot))
	s.Text = w.textLocked(w.config.Name, MaxName)
	return w.sendLocked()
}

// SetCraft says what is on the bench: now, and every ten seconds from here on.
func (w *Writer) SetCraft(c Craft) error {
	if c.Layout != "" && !slices.Contains(craft.Layouts, c.Layout) {
		return fmt.Errorf("send a craft of layout %q: %w", c.Layout, ErrRefused)
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	w.craft, w.hasCraft = c, true
	w.due.craft = w.config.Now()
	return w.repeatLocked()
}

func (w *Writer) craftLocked(at time.Duration) error {
	c := &w.craft
	s := w.beginLocked(decode.Craft, at)
	for slot, v := range c.numbers() {
		if v != 0 {
			w.put(slot, v)
		}
	}
	text := w.textLocked(c.Name, MaxName)
	s.Text = text
	s.Word = w.name[len(text) : len(text)+copy(w.name[len(text):], c.Layout)]
	return w.sendLocked()
}

// numbers lists the craft's numbers by slot.
func (c *Craft) numbers() [6]float64 {
	return [6]float64{
		decode.CraftMotors: float64(c.Motors), decode.CraftPoles: float64(c.MagnetPoles), decode.CraftBlades: float64(c.Blades),
		decode.CraftDiameter: c.PropellerMM, decode.CraftMass: c.MassG, decode.CraftCells: float64(c.Cells),
	}
}

// Set takes a setting as the craft reports it. It is sent at once when it is
// new or another than before, and again every ten seconds. The name is 1 to
// MaxName of a-z 0-9 _ -; another is refused, for a changed or cut name could
// be that of another setting.
func (w *Writer) Set(name string, value float64) error {
	if !isWord(name) {
		return fmt.Errorf("send setting %q: %w", name, ErrRefused)
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	repeated := w.repeatLocked()
	i := slices.IndexFunc(w.settings, func(s setting) bool { return s.name == name })
	switch {
	case i < 0 && len(w.settings) == MaxSettings:
		return fmt.Errorf("send setting %q, one more than %d: %w", name, MaxSettings, ErrRefused)
	case i < 0:
		i = len(w.settings)
		w.settings = append(w.settings, setting{name: name, value: value})
		w.due.set = w.config.Now() + craftEvery/time.Duration(len(w.settings))
	case w.settings[i].value == value || math.IsNaN(w.settings[i].value) && math.IsNaN(value):
		return repeated
	}
	w.settings[i].value = value
	return first(w.setLocked(w.config.Now(), &w.settings[i]), repeated)
}

func (w *Writer) setLocked(at time.Duration, set *setting) error {
	s := w.beginLocked(decode.Set, at)
	w.put(decode.SetValue, set.value)
	s.Word = w.textLocked(set.name, MaxName)
	return w.sendLocked()
}

// maxNote is what is left of a line beside the longest tag, seq and time of a
// note and the checksum.
const maxNote = decode.MaxLine - len("note,65535,4294967295,*00000000\n")

// Note sends a word to the person at the bench, cut to what a line holds.
func (w *Writer) Note(at time.Duration, text string) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	repeated := w.repeatLocked()
	s := w.beginLocked(decode.Note, at)
	s.Text = w.textLocked(text, maxNote)
	return first(w.sendLocked(), repeated)
}
