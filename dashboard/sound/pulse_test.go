//go:build unix && !darwin

package sound

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"net"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"github.com/jfreymuth/pulse/proto"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
)

func TestParseServers(t *testing.T) {
	for list, want := range map[string][]address{
		"unix:/run/p":                  {{"unix", "/run/p"}},
		"/run/p":                       {{"unix", "/run/p"}},
		"tcp:heron:99":                 {{"tcp", "heron:99"}},
		"tcp6:[::1]":                   {{"tcp6", "[::1]:4713"}},
		"heron":                        {{"tcp", "heron:4713"}},
		"{marra}unix:/a {other}/b /c":  {{"unix", "/a"}, {"unix", "/c"}},
		"{marra} {broken":              nil,
		"tcp4:10.0.0.1 tcp:lough:4713": {{"tcp4", "10.0.0.1:4713"}, {"tcp", "lough:4713"}},
	} {
		assert.Equal(t, want, parseServers(list, "marra"), list)
	}
}

// frame makes a frame as the server sends it: length, channel, offset and
// flags of zero, content.
func frame(channel uint32, content []byte) []byte {
	b := binary.BigEndian.AppendUint32(nil, uint32(len(content)))
	b = binary.BigEndian.AppendUint32(b, channel)
	return append(append(b, make([]byte, 12)...), content...)
}

func command(op uint32, more ...byte) []byte {
	b := binary.BigEndian.AppendUint32([]byte{'L'}, op)
	b = append(b, 'L', 0xff, 0xff, 0xff, 0xff)
	return frame(control, append(b, more...))
}

// TestWireLetsThroughWhatIsKnown: messages the protocol package would print
// across the screen, or read wrongly, never reach it.
func TestWireLetsThroughWhatIsKnown(t *testing.T) {
	request := command(61, 'L', 0, 0, 0, 1, 'L', 0, 0, 2, 0)
	stream := bytes.Join([][]byte{
		command(9999), request, frame(3, []byte("recorded sound")), frame(control, nil),
		command(61, 'L', 0), command(66, 'L', 0, 0, 0, 1), request,
	}, nil)
	near, far := net.Pipe()
	go func() {
		far.Write(stream)
		far.Close()
	}()
	w := newWire(near)
	got, err := io.ReadAll(w)
	assert.ErrorIs(t, err, errClosed)
	assert.Equal(t, append(bytes.Clone(request), request...), got)
	assert.ErrorIs(t, <-w.gone, errClosed)
}

// TestServerThatHangsUp: a listener that is no sound server must end in an
// error, in time, and not in a panic of the protocol package.
func TestServerThatHangsUp(t *testing.T) {
	for name, serve := range map[string]func(net.Conn){
		"closes at once": func(c net.Conn) { c.Close() },
		"talks rubbish":  func(c net.Conn) { c.Write(bytes.Repeat([]byte("tethered"), 50)); c.Close() },
		"says nothing":   func(c net.Conn) { io.Copy(io.Discard, c); c.Close() },
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(shortDir(t), "s")
			l, err := net.Listen("unix", path)
			require.NoError(t, err)
			var work sync.WaitGroup
			work.Go(func() {
				for c, err := l.Accept(); err == nil; c, err = l.Accept() {
					serve(c)
				}
			})
			_, err = openPulse(t.Context(), &voice{}, []address{{"unix", path}})
			assert.Error(t, err)
			t.Log(err)
			l.Close()
			work.Wait()
		})
	}
}

// oneOfSome plays until one try holds, for two minutes. A machine that stands still
// amid a sound, be it for its server or its recorder alone, tears it apart; what we
// do wrong is wrong every time. The pause lets what came late come to its end.
func oneOfSome(t *testing.T, try func(t *assert.CollectT)) {
	t.Helper()
	again := false
	require.EventuallyWithT(t, func(t *assert.CollectT) {
		if again {
			time.Sleep(3 * time.Second)
		}
		again = true
		try(t)
	}, 2*time.Minute, time.Millisecond)
}

// TestRealServer plays into a real server and measures what comes out.
func TestRealServer(t *testing.T) {
	if testing.Short() {
		t.Skip("takes 15 s")
	}
	t.Parallel()
	s := startServer(t, shortDir(t))
	defer s.stop()
	s.record()
	begin := time.Now()
	p := New(t.Context(), Options{open: s.opener()})
	defer p.Close()
	<-p.Settled()
	t.Logf("plays after %v", time.Since(begin).Round(time.Millisecond))
	require.Equal(t, "audio: PulseAudio server", p.Status())
	time.Sleep(2500 * time.Millisecond) // an idle null sink renders 2 s ahead at first

	soonest, seq := time.Hour, uint64(0)
	for i, pat := range patterns {
		// Rotors turn: the choice of a pitch may not delay a burst.
		p.Rotors([]float64{390, 391, 392, 393}, 2)
		hz := Choices([]float64{390, 391, 392, 393}, 2)[i].Pitch
		var took time.Duration
		var figures string
		oneOfSome(t, func(t *assert.CollectT) {
			from := len(s.recorded())
			wished := time.Now()
			seq++
			p.Want(pat.Priority, seq)
			p.Want(detect.None, seq)
			time.Sleep(pat.Length() + aside + 200*time.Millisecond)
			came, ok := s.soundAfter(from)
			require.True(t, ok, "%s is heard", pat.Priority)
			took = came.Sub(wished).Round(time.Millisecond)
			soonest = min(soonest, took)
			var samples []float32
			for _, v := range s.recorded()[from:] {
				samples = append(samples, float32(v)/32768)
			}
			checkStandard(t, pat.Priority, samples, hz, slack{0.004, 5})
			marks, holes := joined(pulsesOf(envelope(samples, hz)))
			figures = fmt.Sprintf("%d pulses, %.1f ms, gaps %v, %d dropouts", len(marks),
				1000*(marks[0].to90-marks[0].from90), gapsOf(marks), holes)
			var top float64
			for _, v := range samples {
				top = max(top, math.Abs(float64(v)))
			}
			assert.InDelta(t, peak, top, 0.07, "level")
		})
		t.Logf("%s: first sound at the recorder %v after the wish", pat.Priority, took)
		t.Logf("%s at %.0f Hz: %s", pat.Priority, hz, figures)
	}
	// The soonest of three: a shared machine now and then takes its time.
	assert.Less(t, soonest, 400*time.Millisecond, "wide, for a busy machine: the figure is logged")
}

// TestRealServerUnderAlarms: ticks, life sign and chime come out of a real
// server, and the words of a real speech program after a burst, where there is
// one.
func TestRealServerUnderAlarms(t *testing.T) {
	if testing.Short() {
		t.Skip("takes 15 s")
	}
	s := startServer(t, shortDir(t))
	defer s.stop()
	s.record()
	t.Setenv("PULSE_SERVER", "unix:"+filepath.Join(s.dir, "s")) // for the speech program
	p := New(t.Context(), Options{open: s.opener(), Life: time.Second, Speak: true})
	defer p.Close()
	<-p.Settled()
	require.Contains(t, p.Status(), audioStatus)
	time.Sleep(2500 * time.Millisecond)

	during := func(d time.Duration, call func()) []int16 {
		from := len(s.recorded())
		for end := time.Now().Add(d); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
			call()
		}
		time.Sleep(300 * time.Millisecond) // on its way
		return s.recorded()[from:]
	}
	oneOfSome(t, func(t *assert.CollectT) {
		ticks := stretches(during(2*time.Second, func() { p.Tick(1, 0) }))
		assert.InDelta(t, 24, len(ticks), 4, "12 a second")
	})
	time.Sleep(700 * time.Millisecond)
	oneOfSome(t, func(t *assert.CollectT) {
		assert.InDelta(t, 3, len(stretches(during(2500*time.Millisecond, p.Alive))), 1, "one a second")
	})
	oneOfSome(t, func(t *assert.CollectT) {
		p.Chime(true)
		assert.NotEmpty(t, stretches(during(500*time.Millisecond, func() {})), "chime")
	})

	if p.speaker.name == "" {
		t.Skip("there is no speech program: words were not tried")
	}
	medium, _ := PatternOf(detect.Medium)
	seq := uint64(0)
	var tone, speech float64
	oneOfSome(t, func(t *assert.CollectT) {
		from := len(s.recorded())
		seq++
		p.Want(detect.Medium, seq)
		p.Name([]Naming{{ID: seq, Priority: detect.Medium, Text: "pitch. cut throttle"}})
		time.Sleep(medium.Length() + 2500*time.Millisecond)
		p.Want(detect.None, seq)
		p.Hush()
		got := s.recorded()[from:]
		i := 0
		for i < len(got) && got[i] < 60 {
			i++
		}
		end := i + int(medium.Length().Seconds()*Rate)
		require.Less(t, end+Rate, len(got))
		tone, speech = 0, 0
		for k, v := range got[i:] {
			if i+k < end {
				tone += float64(v) * float64(v)
			} else {
				speech += float64(v) * float64(v)
			}
		}
		assert.Greater(t, speech, tone/1e4, "words are heard after the tones; status: %s", p.Status())
		assert.Contains(t, p.Status(), ", words: "+p.speaker.name)
	})
	t.Logf("%s: energy of the words %.1f dB under that of the tones", p.speaker.name, 10*math.Log10(tone/speech))
}

// await waits for a status and returns how long that took. Its limit is wide: a
// machine may stand still for longer than any answer takes.
func await(t *testing.T, p *Player, want string) time.Duration {
	t.Helper()
	begin := time.Now()
	require.Eventually(t, func() bool { return p.Status() == want }, time.Minute, 10*time.Millisecond, "%s; was: %s", want, p.Status())
	return time.Since(begin).Round(time.Millisecond)
}

const audioStatus = "audio: PulseAudio server"

// TestRealServerGoesAndComes: killed, started again, frozen, muted.
func TestRealServerGoesAndComes(t *testing.T) {
	if testing.Short() {
		t.Skip("takes 20 s")
	}
	t.Parallel()
	dir := shortDir(t)
	s := startServer(t, dir)
	p := New(t.Context(), Options{Bell: func() {}, open: s.opener()})
	defer p.Close()
	await(t, p, audioStatus)

	mute := s.command("pactl", "set-sink-mute", "bench", "1")
	if out, err := mute.CombinedOutput(); err == nil {
		t.Log("muted seen after", await(t, p, "terminal bell (PulseAudio server muted)"))
		require.NoError(t, s.command("pactl", "set-sink-mute", "bench", "0").Run())
		await(t, p, audioStatus)
	} else {
		t.Logf("pactl: %v: muting was not tried: %s", err, out)
	}

	if out, err := s.command("pactl", "set-sink-volume", "bench", "20%").CombinedOutput(); err == nil {
		streams, _ := s.command("pactl", "list", "short", "sink-inputs").Output()
		own, _, _ := strings.Cut(string(streams), "\t")
		require.NoError(t, s.command("pactl", "set-sink-input-volume", own, "20%").Run())
		t.Log("turned down twice seen after", await(t, p, "terminal bell (PulseAudio server turned down)"))
		require.NoError(t, s.command("pactl", "set-sink-volume", "bench", "100%").Run())
		require.NoError(t, s.command("pactl", "set-sink-input-volume", own, "100%").Run())
		await(t, p, audioStatus)
	} else {
		t.Logf("pactl: %v: turning down was not tried: %s", err, out)
	}

	require.NoError(t, s.cmd.Process.Signal(syscall.SIGSTOP))
	t.Log("frozen server seen after", await(t, p, "terminal bell (the audio does not answer)"))
	require.NoError(t, s.cmd.Process.Signal(syscall.SIGCONT))
	t.Log("audio again after", await(t, p, audioStatus))

	s.stop()
	t.Log("killed server seen after", await(t, p, "terminal bell (sound server closed the connection)"))
	s = startServer(t, dir)
	defer s.stop()
	t.Log("audio again after", await(t, p, audioStatus))

	if out, err := s.command("pactl", "unload-module", "module-null-sink").CombinedOutput(); err == nil {
		begin := time.Now()
		require.Eventually(t, func() bool { return p.Status() != audioStatus }, time.Minute, 10*time.Millisecond)
		t.Log("removed output seen after", time.Since(begin).Round(time.Millisecond), p.Status())
	} else {
		t.Logf("pactl: %v: removing the output was not tried: %s", err, out)
	}
}

// TestFaint: two volumes, each of them well over the limit of 10 % (60 dB
// down, as volumes are cubic), make 4 %, or 84 dB.
func TestFaint(t *testing.T) {
	percent := func(p ...uint32) (v proto.ChannelVolumes) {
		for _, x := range p {
			v = append(v, x*0x10000/100)
		}
		return v
	}
	for name, tt := range map[string]struct {
		stream, sink proto.ChannelVolumes
		flat         bool
		want         bool
	}{
		"full":                      {percent(100), percent(100, 100), false, false},
		"half of half":              {percent(50), percent(50), false, false},
		"both low":                  {percent(20), percent(20), false, true},
		"one of them in the other":  {percent(20), percent(20), true, false},
		"one ear":                   {percent(0, 100), percent(100, 0), false, false},
		"stream down":               {percent(5), percent(100), false, true},
		"stream down, sink boosted": {percent(5), percent(153), false, true},
		"sink down":                 {percent(100), percent(0, 9), true, true},
		"nothing known":             {nil, nil, false, false},
		"sink not known":            {percent(5), nil, false, true},
	} {
		sink := proto.GetSinkInfoReply{ChannelVolumes: tt.sink}
		if tt.flat {
			sink.Flags = flatVolume
		}
		assert.Equal(t, tt.want, faint(tt.stream, sink), name)
	}
}

func TestNoServerIsSaidAtOnce(t *testing.T) {
	t.Setenv("PULSE_SERVER", "unix:"+filepath.Join(t.TempDir(), "nobody"))
	begin := time.Now()
	_, err := openSystem(context.Background(), &voice{})
	assert.ErrorIs(t, err, errNoServer)
	t.Log(fmt.Sprint("after ", time.Since(begin)))
}

// A server that is away does not hide the next one.
func TestEachServerHasItsOwnTime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		servers := []address{{"tcp", "away:4713"}, {"unix", "here"}}
		conn, err := dial(t.Context(), servers, func(ctx context.Context, _, where string) (net.Conn, error) {
			if where != "here" {
				<-ctx.Done()
			}
			if ctx.Err() != nil {
				return nil, ctx.Err()
			}
			a, b := net.Pipe()
			_ = b.Close()
			return a, nil
		})
		require.NoError(t, err)
		require.NoError(t, conn.Close())
	})
}

func TestUnpluggedPort(t *testing.T) {
	var sink proto.GetSinkInfoReply
	assert.False(t, unplugged(&sink), "a sink without ports")
	sink.Ports = slices.Grow(sink.Ports, 2)[:2]
	sink.Ports[0].Name, sink.Ports[1].Name = "jack", "speaker"
	sink.ActivePortName = "jack"
	for available, want := range []bool{false, true, false} {
		sink.Ports[0].Available = uint32(available)
		assert.Equal(t, want, unplugged(&sink), available)
	}
	sink.Ports[0].Available, sink.ActivePortName = portEmpty, "speaker"
	assert.False(t, unplugged(&sink), "another one is empty")
}
