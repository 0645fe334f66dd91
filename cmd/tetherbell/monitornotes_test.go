package main

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/cable"
	"tetherbell/alarms/detect"
	"tetherbell/decode/craft"
	"tetherbell/link"
)

// TestLostPortIsInTheRecording: a bridge that was pulled out and comes back as
// one that starts anew. What the monitor noted says that it was the plug.
func TestLostPortIsInTheRecording(t *testing.T) {
	for _, noted := range []bool{false, true} {
		d := newDesk(craft.Craft{}, 0, nil, nil)
		var it link.Item
		put := func(line string) {
			link.ParseItem([]byte(line), &it)
			d.item(&it)
		}
		send := func(boot, ms int) {
			for i := range 200 {
				b := fmt.Sprintf("load,%d,%d,1", i+1, i*20_000+100_000)
				if i%50 == 0 {
					b = fmt.Sprintf("hello,%d,%d,1,own,%d", i+1, i*20_000+100_000, boot)
				}
				put(summed(b))
				put(fmt.Sprintf("#at %.3f", float64(ms+i*20)/1000))
			}
		}
		send(1, 0)
		for ms := 4000; ms < 7000; ms += 20 {
			if noted && ms == 4200 {
				put("#note port /dev/x\x1b[1m lost: trying again until it is back")
			}
			put(fmt.Sprintf("#at %.3f", float64(ms)/1000))
		}
		if noted {
			put("#note port /dev/x\x1b[1m is back")
		}
		send(2, 7000)
		kinds := map[cable.Kind]string{}
		for _, s := range d.cables[0].Sights() {
			kinds[s.Kind] = s.Text
		}
		assert.Contains(t, kinds, cable.Restart)
		if !noted {
			assert.NotContains(t, kinds, cable.Unplugged)
			assert.Empty(t, d.itself.lines())
			continue
		}
		assert.Equal(t, "the port was gone once, 2.8 s in all", kinds[cable.Unplugged])
		sum := d.eng.Summary()
		text := strings.Join(d.verdict("f", &sum), "\n")
		assert.Contains(t, text, `port /dev/x\x1b[1m lost`)
		assert.NotContains(t, text, "\x1b")
		put("#note port /dev/x lost: trying again until it is back")
		for _, s := range d.cables[0].Sights() {
			if s.Kind == cable.Unplugged {
				assert.Equal(t, "the port was lost 2 times, is gone now, and was so for 2.8 s before", s.Text)
			}
		}
		for range 20 {
			put("#note port a is back")
		}
		lines := d.itself.lines()
		require.Len(t, lines, itselfNamed+1)
		assert.Contains(t, lines[itselfNamed], "18 times more")
	}
}

func TestLostHint(t *testing.T) {
	assert.Equal(t, "port b lost for 7 s, tried again 124 times: is the cable in? it goes on by itself when the port is back", lostHint("b", 7*time.Second, 124))
	assert.Equal(t, "port a lost for 0 s, tried again once: is the cable in? it goes on by itself when the port is back", lostHint("a", 0, 1))
}

// TestPulledTwiceIsNoBadLink: what is lost while the plug is out is no bad line,
// though it is pulled again soon: the note says that it was out.
func TestPulledTwiceIsNoBadLink(t *testing.T) {
	for _, noted := range []bool{false, true} {
		d := newDesk(craft.Craft{}, 0, nil, nil)
		bad := false
		d.tell = func(events []alarms.Event) {
			for i := range events {
				bad = bad || events[i].Kind == detect.BadLink
			}
		}
		var it link.Item
		put := func(line string) {
			link.ParseItem([]byte(line), &it)
			d.item(&it)
		}
		seq := 0
		for ms := 0; ms < 20_000; ms += 20 {
			out := ms%4000 >= 2000 && ms < 12_000 // three times
			if noted && ms%4000 == 2000 && ms < 12_000 {
				put("#note port /dev/x lost: trying again until it is back")
			}
			if noted && ms%4000 == 0 && ms > 0 && ms <= 12_000 {
				put("#note port /dev/x is back")
			}
			for range 4 {
				if seq++; !out {
					put(summed(fmt.Sprintf("load,%d,%d,1", seq, ms*1000+100_000)))
				}
			}
			put(fmt.Sprintf("#at %.3f", float64(ms)/1000))
		}
		assert.Equal(t, !noted, bad)
	}
}
