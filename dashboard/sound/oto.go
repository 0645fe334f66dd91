//go:build windows || darwin

package sound

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"sync"
	"time"

	"github.com/ebitengine/oto/v3"
)

var errNoOutput = errors.New("no audio output")

// outputBuffer is the sound the system holds: as short as both systems are
// known to play without gaps.
const outputBuffer = 40 * time.Millisecond

// The output is opened once in the life of the process: the library allows no
// second context, and cannot close the first. A player that ends pauses its
// own stream.
var (
	outputOnce sync.Once
	output     *oto.Context
	outputErr  error
	ready      chan struct{}
)

// openSystem starts a stream on the system's own output.
func openSystem(ctx context.Context, v *voice) (*device, error) {
	if !hasOutput() {
		return nil, errNoOutput
	}
	outputOnce.Do(func() {
		output, ready, outputErr = oto.NewContext(&oto.NewContextOptions{
			SampleRate: Rate, ChannelCount: 1,
			Format: oto.FormatSignedInt16LE, BufferSize: outputBuffer,
		})
	})
	if outputErr != nil {
		return nil, beyond(outputErr)
	}
	limit := time.NewTimer(startLooks * look)
	defer limit.Stop()
	select {
	case <-ready:
	case <-limit.C:
		return nil, errStalled
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	if err := output.Err(); err != nil {
		return nil, beyond(err)
	}
	stream := output.NewPlayer(&pull{voice: v})
	// The library reads half a second ahead unless told otherwise.
	stream.SetBufferSize(Rate / 50 * 2)
	stream.Play()
	return &device{
		name: systemName, close: stream.Pause,
		mute: func() string {
			switch {
			case output.Err() != nil:
				return "has failed"
			case !hasOutput():
				return "without an output"
			}
			return ""
		},
	}, nil
}

// beyond words a fault that no further attempt can mend: the library keeps its
// first error for the life of the process.
func beyond(err error) error {
	return fmt.Errorf("open system audio: %w: start tetherbell anew to try it again", err)
}

// A pull is a voice as the library reads it: bytes, without end.
type pull struct {
	voice   *voice
	samples []int16 // kept between reads
}

// Read implements io.Reader.
func (p *pull) Read(b []byte) (int, error) {
	n := len(b) / 2
	if n > len(p.samples) {
		p.samples = make([]int16, n)
	}
	p.voice.fill(p.samples[:n])
	for i, s := range p.samples[:n] {
		binary.LittleEndian.PutUint16(b[2*i:], uint16(s))
	}
	return 2 * n, nil
}
