package main

import (
	"errors"
	"fmt"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"tetherbell/link"
)

// What is told of a disk over a time, one look each 500 ms.
func TestDiskWatch(t *testing.T) {
	full := link.RecordStatus{Files: 1, Err: fmt.Errorf("write recording: %w", syscall.ENOSPC)}
	gone := link.RecordStatus{Files: 1, Err: fmt.Errorf("write recording: %w", syscall.EIO)}
	slow := link.RecordStatus{Files: 1, Behind: 2100 * time.Millisecond}
	well := link.RecordStatus{Files: 1, Behind: 900 * time.Millisecond}
	next := link.RecordStatus{Files: 2, Path: "rec/b.bell"}
	looks := map[byte]link.RecordStatus{'F': full, 'G': gone, 's': slow, '.': well, 'n': next}
	cases := []struct{ name, in, told string }{
		{"well", "........", "........"},
		{"full, and again well", "..FFF......", "..!......+."},
		{"a fault that comes and goes is one", ".F.F.F......", ".!........+."},
		{"slow", ".ssss......", ".!.......+."},
		{"slow, then gone", ".ssG......", ".!.!....+."},
		{"gone, then slow", ".GGs......", ".!......+."},
		{"goes on in another file", "..GGnnnnnn", "..!.>...+."},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			var d diskWatch
			at := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
			got := ""
			for i := range len(c.in) {
				told, hint := d.look(looks[c.in[i]], at)
				at = at.Add(500 * time.Millisecond)
				text := strings.Join(told, "|")
				mark := "."
				switch {
				case strings.Contains(text, "NOT SAFE"):
					mark = "!"
					assert.NotEmpty(t, hint)
				case strings.Contains(text, "safe again"):
					mark = "+"
				case strings.Contains(text, "goes on in rec/b.bell"):
					mark = ">"
				case text != "":
					mark = "?"
				}
				got += mark
			}
			assert.Equal(t, c.told, got)
		})
	}
	var d diskWatch
	at := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	full.Queued, full.Dropped = 4000, 3000
	var told []string
	for range 100 {
		said, _ := d.look(full, at)
		told = append(told, said...)
		at = at.Add(500 * time.Millisecond)
	}
	again := "THE RECORDING IS STILL NOT SAFE: 7000 lines are not in it"
	if assert.Len(t, told, 3, "after 10 s, then 20 s: not all the time") {
		assert.Equal(t, []string{again, again}, told[1:])
	}
	text, isSlow := diskTrouble(&slow)
	assert.Equal(t, "the disk is slow: the newest 2 s are not on it yet", text)
	assert.True(t, isSlow)
	assert.Contains(t, diskHint(&full, false), "make room")
	assert.NotContains(t, diskHint(&link.RecordStatus{Err: errors.New("x")}, false), "make room")
}

// TestDiskIsNotSlowForOurOwnStandstill: what waits because the whole program was
// stopped is no fault of the disk; what waits longer than that is.
func TestDiskIsNotSlowForOurOwnStandstill(t *testing.T) {
	for _, c := range []struct {
		behind, later time.Duration
		told          bool
	}{{4100 * time.Millisecond, 0, false}, {4900 * time.Millisecond, 500 * time.Millisecond, false},
		{5200 * time.Millisecond, 0, true}, {4100 * time.Millisecond, diskCalm + 1, true}} {
		at := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
		var d diskWatch
		d.standstill(4*time.Second, at)
		told, _ := d.look(link.RecordStatus{Files: 1, Behind: c.behind}, at.Add(c.later))
		assert.Equal(t, c.told, len(told) > 0, "%v after %v", c.behind, c.later)
	}
}
