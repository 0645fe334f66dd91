//go:build unix && !darwin

package sound

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"strconv"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/jfreymuth/pulse/proto"
)

const (
	// bufferMS is how much sound the server is asked to hold: enough for a
	// busy machine, little enough that a burst is out at once. With 50 ms a
	// burst came out of a null sink 13 to 48 ms after the wish.
	bufferMS = 50
	// askWait bounds each question to the server.
	askWait = time.Second
	// muteLook is how often the server is asked whether anybody hears us: a
	// device that is pulled out moves the stream to a dummy without a word.
	muteLook = time.Second
	// dummySink is the name servers give to the output that they make up
	// where a machine has none.
	dummySink = "auto_null"
	// faintVolume is the cubic volume, of 0x10000, under which a sink is as
	// good as muted: 10 %, that is 60 dB down.
	faintVolume = 0x10000 / 10
	// flatVolume is the flag of a sink whose streams' volumes are absolute
	// (PulseAudio's own header, from memory).
	flatVolume = 0x40
	// portEmpty is the state of a port that is known to be unplugged; 0 is not
	// known, 2 is plugged in (PulseAudio's own header, from memory).
	portEmpty = 1
)

var (
	errRefused = errors.New("sound server refuses the connection")
	errKilled  = errors.New("sound server ended the stream")
)

// A pulse is a stream to a PulseAudio server, or to PipeWire's stand-in for
// one. It uses the protocol package alone: the client above it blocks for
// ever on a frozen server, and its state cannot be read without a race.
type pulse struct {
	wire   *wire
	client *proto.Client
	voice  *voice
	stream proto.CreatePlaybackStreamReply

	wanted atomic.Int64  // bytes the server asked for and did not get yet
	more   chan struct{} // one place: wanted has grown
	done   chan struct{} // closed by close
	muted  atomic.Pointer[string]
	work   sync.WaitGroup // feed and listen
}

// openSystem opens a stream on the person's own sound server.
func openSystem(ctx context.Context, v *voice) (*device, error) {
	return openPulse(ctx, v, addresses())
}

// openPulse connects to a server, and makes and starts a stream.
func openPulse(ctx context.Context, v *voice, servers []address) (*device, error) {
	conn, err := dial(ctx, servers, new(net.Dialer).DialContext)
	if err != nil {
		return nil, err
	}
	stop := context.AfterFunc(ctx, func() { conn.Close() })
	defer stop()
	p := &pulse{
		wire: newWire(conn), voice: v, client: &proto.Client{},
		more: make(chan struct{}, 1), done: make(chan struct{}),
	}
	p.muted.Store(new(string))
	p.client.SetTimeout(askWait)
	p.client.Callback = p.told // before Open: its reader calls it unasked
	p.client.Open(p.wire)
	if err := p.begin(); err != nil {
		conn.Close()
		return nil, err
	}
	p.work.Go(p.feed)
	p.work.Go(p.listen)
	return &device{
		name: "PulseAudio server", gone: p.wire.gone, close: p.close,
		mute: func() string { return *p.muted.Load() },
	}, nil
}

// dial connects to the first server that answers. Each has its own time: one that is
// away must not use up that of the next.
func dial(ctx context.Context, servers []address, connect func(ctx context.Context, network, where string) (net.Conn, error)) (net.Conn, error) {
	err := errNoServer
	for _, a := range servers {
		own, cancel := context.WithTimeout(ctx, askWait)
		conn, dialErr := connect(own, a.network, a.where)
		cancel()
		if dialErr == nil {
			return conn, nil
		}
		if !errors.Is(dialErr, fs.ErrNotExist) && !errors.Is(dialErr, syscall.ECONNREFUSED) {
			err = fmt.Errorf("open sound server: %w", bareDial(dialErr))
		}
	}
	return nil, err
}

func bareDial(err error) error {
	var sys *os.SyscallError
	if errors.As(err, &sys) {
		return sys.Err
	}
	return err
}

// begin introduces the program and starts the stream.
func (p *pulse) begin() error {
	var auth proto.AuthReply
	if err := p.ask(&proto.Auth{Version: p.client.Version(), Cookie: cookie()}, &auth); err != nil {
		return err
	}
	p.client.SetVersion(auth.Version)
	text := proto.PropListString
	if err := p.ask(&proto.SetClientName{Props: proto.PropList{
		"application.name":       text("tetherbell"),
		"application.process.id": text(strconv.Itoa(os.Getpid())),
	}}, &proto.SetClientNameReply{}); err != nil {
		return err
	}
	target := uint32(Rate * bufferMS / 1000 * 2)
	if err := p.ask(&proto.CreatePlaybackStream{
		SampleSpec:            proto.SampleSpec{Format: proto.FormatInt16LE, Channels: 1, Rate: Rate},
		ChannelMap:            proto.ChannelMap{proto.ChannelMono},
		SinkIndex:             proto.Undefined,
		BufferMaxLength:       2 * target,
		BufferTargetLength:    target,
		BufferPrebufferLength: proto.Undefined,
		BufferMinimumRequest:  proto.Undefined,
		AdjustLatency:         true,
		// Not used as VolumeSet is false: the volume is the person's own.
		ChannelVolumes: proto.ChannelVolumes{uint32(proto.VolumeNorm)},
		Properties:     proto.PropList{"media.name": text("alarms")},
	}, &p.stream); err != nil {
		return err
	}
	// The first filling is silence and no pull of the voice: it says nothing
	// of whether the server plays.
	return p.client.Send(p.stream.StreamIndex, make([]byte, p.stream.Missing))
}

// ask puts a question to the server.
func (p *pulse) ask(q proto.RequestArgs, answer proto.Reply) error {
	err := p.client.Request(q, answer)
	var refused proto.Error
	switch {
	case err == nil, errors.Is(err, errClosed):
	case errors.Is(err, context.DeadlineExceeded):
		err = errStalled
	case errors.As(err, &refused) && refused == proto.ErrAccessDenied:
		err = errRefused
	case errors.As(err, &refused):
		err = fmt.Errorf("open stream: %w", err)
	}
	return err
}

// told takes a message of the server, in the protocol's reader, which it must
// not hold up.
func (p *pulse) told(message any) {
	switch m := message.(type) {
	case *proto.Request:
		p.want(int64(m.Length))
	case *proto.PlaybackStreamKilled:
		p.wire.lose(errKilled)
	}
}

func (p *pulse) want(n int64) {
	p.wanted.Add(n)
	select {
	case p.more <- struct{}{}:
	default:
	}
}

// feed gives the server the samples it asks for. openSystem starts it, a
// closed wire or close ends it, close waits.
func (p *pulse) feed() {
	const chunk = Rate / 100 // 10 ms, so that a burst begins within a request
	samples := make([]int16, chunk)
	bytes := make([]byte, 0, 2*chunk)
	for {
		select {
		case <-p.done:
			return
		case <-p.more:
		}
		for n := p.wanted.Swap(0) / 2; n > 0; {
			part := samples[:min(n, chunk)]
			p.voice.fill(part)
			bytes = bytes[:0]
			for _, s := range part {
				bytes = binary.LittleEndian.AppendUint16(bytes, uint16(s))
			}
			if p.client.Send(p.stream.StreamIndex, bytes) != nil {
				return // the wire has told
			}
			n -= int64(len(part))
		}
	}
}

// listen starts the playing, then asks now and then whether it is heard. It
// lives as feed does. A server that does not answer is not judged here: it
// does not pull either.
func (p *pulse) listen() {
	p.ask(&proto.CorkPlaybackStream{StreamIndex: p.stream.StreamIndex, Corked: false}, nil)
	t := time.NewTicker(muteLook)
	defer t.Stop()
	for {
		if why, ok := p.unheard(); ok {
			p.muted.Store(&why)
		}
		select {
		case <-p.done:
			return
		case <-t.C:
		}
	}
}

// unheard asks why nobody hears the stream, "" if somebody may.
func (p *pulse) unheard() (string, bool) {
	var in proto.GetSinkInputInfoReply
	if p.ask(&proto.GetSinkInputInfo{SinkInputIndex: p.stream.SinkInputIndex}, &in) != nil {
		return "", false
	}
	var sink proto.GetSinkInfoReply
	if p.ask(&proto.GetSinkInfo{SinkIndex: in.SinkIndex}, &sink) != nil {
		return "", false
	}
	switch {
	case sink.SinkName == dummySink:
		return "without an output", true
	case in.Muted, sink.Mute:
		return "muted", true
	case faint(in.ChannelVolumes, sink):
		return "turned down", true
	case unplugged(&sink):
		return "unplugged", true
	}
	return "", true
}

// unplugged says whether the server knows that nothing is in the socket that the
// sink plays to: it neither mutes nor stops such a sink.
func unplugged(sink *proto.GetSinkInfoReply) bool {
	for i := range sink.Ports {
		if p := &sink.Ports[i]; p.Name == sink.ActivePortName {
			return p.Available == portEmpty
		}
	}
	return false
}

// faint says whether the stream is turned down on its way out. Its own volume
// and that of the sink multiply, unless the sink's is in the stream's already.
func faint(stream proto.ChannelVolumes, sink proto.GetSinkInfoReply) bool {
	own, ok := loudest(stream)
	out, okOut := loudest(sink.ChannelVolumes)
	switch {
	case !ok || !okOut:
		return ok && own < faintVolume || okOut && out < faintVolume
	case sink.Flags&flatVolume != 0:
		return min(own, out) < faintVolume
	}
	return own*min(out, 0x10000)/0x10000 < faintVolume || own < faintVolume
}

// loudest is the volume of the loudest channel; false where there is none.
func loudest(volumes proto.ChannelVolumes) (top uint64, ok bool) {
	for _, v := range volumes {
		top = max(top, uint64(v))
	}
	return top, len(volumes) > 0
}

// close drops the connection, which ends the stream in the server as well.
func (p *pulse) close() {
	close(p.done)
	p.wire.lose(errClosed)
	p.work.Wait()
}
