package main

import (
	"bytes"
	"errors"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/decode"
	"tetherbell/link"
)

// A monitor that is killed at any moment leaves a recording with every line
// that is older than a second, and nothing else. TETHERBELL_KILLS=1000 does it
// more often than the few times of a usual run, and -parallel 20 so many at once.
func TestKill(t *testing.T) {
	t.Parallel()
	kills := 5
	if text := os.Getenv("TETHERBELL_KILLS"); text != "" {
		var err error
		kills, err = strconv.Atoi(text)
		require.NoError(t, err)
	}
	ages := make(chan time.Duration, kills)
	tears := make(chan bool, kills)
	t.Run("all", func(t *testing.T) {
		for i := range kills {
			t.Run(strconv.Itoa(i), func(t *testing.T) {
				t.Parallel()
				age, torn := killOne(t)
				ages <- age
				tears <- torn
			})
		}
	})
	close(ages)
	close(tears)
	var worst time.Duration
	torn := 0
	for a := range ages {
		worst = max(worst, a)
	}
	for t := range tears {
		if t {
			torn++
		}
	}
	t.Logf("%d kills: the oldest line that was missing was sent %v before; %d ended within a line", kills, worst.Round(time.Millisecond), torn)
}

// killOne records lines at 1 kHz and kills the monitor. It returns how long
// before that the oldest line was sent that is not in the recording, and
// whether this ends within a line.
func killOne(t *testing.T) (age time.Duration, torn bool) {
	dir := t.TempDir()
	cmd := exec.Command("tetherbell", "watch", "-", "--record", dir, "--plain", "--sound", "off")
	in, err := cmd.StdinPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	life := 1500*time.Millisecond + rand.N(2500*time.Millisecond)
	beat := startMetronome(t)
	lines, sent, killed := sendUntilKilled(t, cmd, in, dir, life)
	files, err := filepath.Glob(filepath.Join(dir, "*"+link.Ext))
	require.NoError(t, err)
	require.Len(t, files, 1)
	text, err := os.ReadFile(files[0])
	require.NoError(t, err)
	s := link.NewSession(bytes.NewReader(text))
	var it link.Item
	n := 0
	for {
		if err = s.Next(&it); err != nil {
			break
		}
		if it.Kind == link.Wire {
			require.Less(t, n, len(lines))
			require.Equal(t, lines[n], string(it.Line))
			n++
		}
	}
	require.ErrorIs(t, err, io.EOF)
	torn = s.Torn() > 0
	if n < len(sent) {
		age = killed.Sub(sent[n]) - beat.held(sent[n]) // what was taken and lay in the pipe while all stood still
	}
	assert.LessOrEqual(t, age, time.Second, "%d of %d lines are there", n, len(lines))
	out, err := exec.Command("tetherbell", "check", files[0]).CombinedOutput()
	var exit *exec.ExitError
	if err != nil {
		require.ErrorAs(t, err, &exit)
		require.Equal(t, exitAlarm, exit.ExitCode(), string(out))
	}
	assert.Contains(t, string(out), "has no end: what wrote it was cut off")
	assert.Equal(t, torn, strings.Contains(string(out), "is torn: its last line"))
	assert.Contains(t, string(out), strconv.Itoa(n)+" good lines, 0 bad, 0 lost")
	return age, torn
}

// sendUntilKilled sends a line each millisecond, and kills some time after the
// recording has begun. A line counts as sent when the pipe has taken it.
func sendUntilKilled(t *testing.T, cmd *exec.Cmd, in io.Writer, dir string, life time.Duration) (lines []string, sent []time.Time, killed time.Time) {
	dead := make(chan time.Time, 1)
	begun := time.Now()
	// The killer: ended by its deed, waited for below.
	go func() {
		waited(func() bool { files, _ := filepath.Glob(filepath.Join(dir, "*"+link.Ext)); return len(files) > 0 })
		time.Sleep(life)
		at := time.Now() // what is sent from now on does not count
		_ = cmd.Process.Kill()
		dead <- at
	}()
	var buf []byte
	for n := 0; ; n++ {
		time.Sleep(time.Until(begun.Add(time.Duration(n) * time.Millisecond)))
		s := decode.Sample{Tag: decode.Axes, Seq: uint16(n), Time: uint32(n) * 1000}
		for i := range 10 {
			s.Put(i, 0)
		}
		buf = decode.Append(buf[:0], &s)
		lines = append(lines, strings.TrimSuffix(string(buf), "\n"))
		if _, err := in.Write(buf); err != nil {
			break
		}
		sent = append(sent, time.Now())
	}
	killed = <-dead
	err := cmd.Wait()
	var exit *exec.ExitError
	require.True(t, errors.As(err, &exit), "%v", err)
	return lines, sent, killed
}
