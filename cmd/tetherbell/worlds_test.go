package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/decode/craft"
	"tetherbell/link"
)

// chanceRecording is one of several bridges that begin anew, are held up, are swapped
// and are missed, as chance has it; every other time their clocks are alike.
func chanceRecording(seed uint64) []byte {
	rng := rand.New(rand.NewPCG(seed, 3))
	type piece struct {
		us   int64
		port int
		line []byte
	}
	var all []piece
	n := 2 + rng.IntN(3)
	place, swap := rng.Perm(n), 2000+rng.Int64N(6000)
	place2 := rng.Perm(n)
	supply := 3000 + rng.Int64N(12_000)
	for b := range n {
		zero, seq, boot := int64(0), rng.IntN(1<<16), b
		if seed%2 == 1 {
			zero = -rng.Int64N(1 << 22)
		}
		held := int64(0)
		for ms := rng.Int64N(20); ms < 16_000; ms += 20 {
			if ms >= supply && ms < supply+20 && rng.IntN(3) > 0 {
				zero, seq, boot = ms, 0, boot+1
			}
			if rng.IntN(200) == 0 {
				held = ms + rng.Int64N(1500)
			}
			port, us := place[b], max(ms, held)*1000
			if ms >= swap {
				port = place2[b]
			}
			say := func(format string, more ...any) {
				body := fmt.Sprintf(format, append([]any{seq & 0xFFFF, uint32((ms - zero) * 1000)}, more...)...)
				all = append(all, piece{us, port + 1, sealedLine(body)})
				seq++
			}
			switch tags := (b + int(seed)) % 4; {
			case ms%1000 < 20:
				say("hello,%d,%d,1,bridge,%d", boot)
			case tags == 0 || tags == 3 && ms%40 < 20:
				say("state,%d,%d,1,0,0,0,0,0,0,1")
				say("axes,%d,%d,%d,0,0,0,0,0,0,0,0,0", b)
			case tags == 1:
				say("load,%d,%d,%d", b)
			default:
				say("out,%d,%d,0.1,0.1,0.1,0.1")
			}
		}
	}
	slices.SortStableFunc(all, func(a, b piece) int { return int(a.us - b.us) })
	var out bytes.Buffer
	at := int64(0)
	for i, p := range all {
		for ; at <= p.us; at += 20_000 {
			fmt.Fprintf(&out, "#at %.3f\n", float64(at)/1e6)
		}
		if i%3000 == 2999 {
			out.WriteString("#lost 3\n")
		}
		fmt.Fprintf(&out, "#bridge %d %.6f\n%s", p.port, float64(p.us)/1e6, p.line)
	}
	return out.Bytes()
}

// Whatever happens to several bridges, one desk and check's relay say the same.
func TestWorldsAreTheSameAtARelay(t *testing.T) {
	t.Parallel()
	for seed := range uint64(12) {
		text := chanceRecording(seed)
		var one, other judged
		d := newDesk(craft.Craft{}, 0, nil, one.tell)
		s := link.NewSession(bytes.NewReader(text))
		var it link.Item
		err := s.Next(&it)
		for ; err == nil; err = s.Next(&it) {
			d.item(&it)
		}
		require.True(t, errors.Is(err, io.EOF))
		d.finish()
		one.close(d)

		eng, scouts := alarms.NewScouted(craft.Craft{}, alarms.Options{})
		r := deskOf(eng, nil, other.tell)
		s = link.NewSession(bytes.NewReader(text))
		err = s.Next(&it)
		require.Equal(t, io.EOF, newRelay(s, scouts).run(context.Background(), r, &it, err))
		other.close(r)
		require.Equal(t, string(one.events), string(other.events), "seed %d", seed)
		assert.Equal(t, one, other, "seed %d", seed)
		assert.Equal(t, d.bridgeLines(), r.bridgeLines(), "seed %d", seed)
		assert.Equal(t, d.cableLines(), r.cableLines(), "seed %d", seed)
	}
}
