//go:build unix && !darwin

package sound

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"sync"
	"time"

	"github.com/jfreymuth/pulse/proto"
)

const (
	descriptorSize = 20         // before each frame: length, channel, offset, flags
	control        = 0xFFFFFFFF // channel of commands and replies
	// frameLimit bounds what is taken from the server in one frame; replies
	// asked for here are far under it.
	frameLimit = 1 << 20
	// writeLimit ends a write to a server that stopped reading.
	writeLimit = time.Second
)

// errClosed is what the protocol's reader gets in every case of a lost
// connection: it must not see io.EOF, for which it has a path of its own.
var errClosed = errors.New("sound server closed the connection")

// A wire is the connection as the protocol package sees it. That package
// prints the number of a message it does not know on standard output, across
// the screen, and takes every frame to be well formed; so only the few kinds
// of frame that are used here are let through. Its writes ignore errors, so
// they are noticed here.
type wire struct {
	conn net.Conn
	gone chan error // one place: the first reason counts
	once sync.Once

	head [descriptorSize]byte
	buf  []byte // the frame let through
	rest []byte // its part that was not read yet
}

func newWire(conn net.Conn) *wire {
	return &wire{conn: conn, gone: make(chan error, 1)}
}

// Read implements io.Reader for the protocol package.
func (w *wire) Read(p []byte) (int, error) {
	for len(w.rest) == 0 {
		if err := w.next(); err != nil {
			w.lose(errClosed)
			return 0, errClosed
		}
	}
	n := copy(p, w.rest)
	w.rest = w.rest[n:]
	return n, nil
}

// next reads a frame and keeps it if it is of use.
func (w *wire) next() error {
	if _, err := io.ReadFull(w.conn, w.head[:]); err != nil {
		return err
	}
	size := binary.BigEndian.Uint32(w.head[:])
	if size > frameLimit {
		return fmt.Errorf("read frame: %d bytes", size)
	}
	w.buf = append(w.buf[:0], w.head[:]...)
	w.buf = append(w.buf, make([]byte, size)...)
	body := w.buf[descriptorSize:]
	if _, err := io.ReadFull(w.conn, body); err != nil {
		return err
	}
	if binary.BigEndian.Uint32(w.head[4:]) == control && useful(body) {
		w.rest = w.buf
	}
	return nil
}

// useful says whether a command is one that this program understands. A
// command begins with the letter L and its number, then L and a tag.
func useful(body []byte) bool {
	if len(body) < 10 || body[0] != 'L' || body[5] != 'L' {
		return false
	}
	switch binary.BigEndian.Uint32(body[1:]) {
	case proto.OpError, proto.OpReply:
		return true
	case proto.OpRequest: // L stream, L length
		return len(body) == 20
	case proto.OpPlaybackStreamKilled: // L stream
		return len(body) == 15
	}
	return false
}

// Write implements io.Writer for the protocol package.
func (w *wire) Write(p []byte) (int, error) {
	w.conn.SetWriteDeadline(time.Now().Add(writeLimit))
	n, err := w.conn.Write(p)
	switch { // half a frame may be out, so the line is of no more use
	case errors.Is(err, os.ErrDeadlineExceeded):
		w.lose(errStalled)
	case err != nil:
		w.lose(errClosed)
	}
	return n, err
}

// lose tells why the connection is at its end, and ends it.
func (w *wire) lose(err error) {
	w.once.Do(func() {
		w.gone <- err
		w.conn.Close()
	})
}
