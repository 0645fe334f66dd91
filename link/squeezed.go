package link

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"sync"

	seekable "github.com/SaveTheRbtz/zstd-seekable-format-go/pkg"
	"github.com/klauspost/compress/zstd"
)

const (
	// maxWindow bounds the memory that a compressed file may ask for. RFC 8878
	// (3.1.1.1.2) recommends that every decoder takes 8 MB.
	maxWindow = 8 << 20
	// frameText is how much text goes into one frame: so much must be
	// decompressed to reach any place. No other program is likely to cut there,
	// so a first frame of that size tells that a table of frames must follow.
	frameText = 1_000_000
	// maxTable bounds the table of frames, at a million of them.
	maxTable = 12 << 20
	// maxHole bounds what is filled in for one frame that cannot be read: a table
	// may tell anything. Ours have far less.
	maxHole = 8 << 20
	// maxGain bounds it by what the frame takes in the file, so that a table of
	// many frames makes no endless text. Lines are squeezed by 3 to 30.
	maxGain = 256
	// holeMark stands at the beginning of what is filled in: a reader must know
	// that lines are missing. How many, nobody knows.
	holeMark = "\n#lost 0\n"
)

// isSqueezed reports whether a file that begins so is compressed by Zstandard:
// a frame, or one of the frames to skip (RFC 8878, 3.1.1 and 3.1.2).
func isSqueezed(head []byte) bool {
	if len(head) < 4 {
		return false
	}
	magic := binary.LittleEndian.Uint32(head)
	return magic == 0xFD2FB528 || magic&^0xF == 0x184D2A50
}

// A DamageError says that a compressed recording could not be read whole. What
// could be read was given.
type DamageError struct {
	At   int64 // bytes of text before the first damage
	Lost int64 // bytes of text that could not be read; -1 when it is not known how many
	Err  error
}

// Error returns one line.
func (e *DamageError) Error() string {
	lost := "what follows cannot be read"
	switch {
	case e.Lost == 0:
		lost = "what came just before may be wrong"
	case e.Lost > 0:
		lost = fmt.Sprintf("%d bytes cannot be read", e.Lost)
	}
	return fmt.Sprintf("its compressed text is damaged after %d bytes (%v): %s", e.At, e.Err, lost)
}

// Unwrap returns what the decoder said.
func (e *DamageError) Unwrap() error { return e.Err }

var (
	errCutOff    = errors.New("its end is missing")
	errNoEnd     = errors.New("it ends too early")
	errTooStrong = errors.New("compressed with a window over 8 MB")
)

// A squeezed gives the text of a compressed file. With a table of frames it
// reaches any place by decompressing one frame, and reads on behind a damaged
// one, whose bytes it fills in: all that follows stands where it stood. Without,
// it can only go on, or start again.
type squeezed struct {
	file io.ReaderAt // nil: a stream, which is read once
	size int64       // of the compressed file

	mu     sync.Mutex // held while the decoder works
	dec    *zstd.Decoder
	closed bool
	table  *seekable.SeekTable // nil: none, or not a good one
	must   bool                // there must be a table
	pos    int64               // in the text
	skip   int64               // of the text, before the next byte is given
	frame  int64               // the last one that was begun behind a damage; -1: none
	hole   int64               // bytes to be filled in before what comes, within pos
	holed  int64               // so many of them lie behind
	damage *DamageError
	hurtTo int64 // of the text: damage that ends before it is counted already
}

func newDecoder(r io.Reader) (*zstd.Decoder, error) {
	dec, err := zstd.NewReader(r, zstd.WithDecoderMaxWindow(maxWindow), zstd.WithDecoderLowmem(true),
		zstd.WithDecoderConcurrency(2)) // one is ahead of the reader
	if err != nil {
		return nil, fmt.Errorf("decompress: %w", err)
	}
	return dec, nil
}

// newSqueezed reads a compressed file.
func newSqueezed(file io.ReaderAt, size int64) (*squeezed, error) {
	z := &squeezed{file: file, size: size, frame: -1}
	z.table = readTable(file, size)
	var head [zstd.HeaderMaxSize]byte
	n, _ := file.ReadAt(head[:], 0)
	var h zstd.Header
	z.must = h.Decode(head[:n]) == nil && h.HasFCS && h.FrameContentSize == frameText
	var err error
	z.dec, err = newDecoder(z.from(0))
	return z, err
}

// newSqueezedStream reads what can be read only once.
func newSqueezedStream(r io.Reader) (*squeezed, error) {
	dec, err := newDecoder(r)
	return &squeezed{dec: dec, frame: -1}, err
}

func (z *squeezed) from(at int64) io.Reader {
	return bufio.NewReaderSize(io.NewSectionReader(z.file, at, z.size-at), 64<<10)
}

// readTable reads the table of frames at a file's end; nil where there is none
// that fits the file.
func readTable(file io.ReaderAt, size int64) *seekable.SeekTable {
	var foot [9]byte // how many frames, how they are described, a magic number
	if _, err := file.ReadAt(foot[:], size-int64(len(foot))); err != nil || binary.LittleEndian.Uint32(foot[5:]) != 0x8F92EAB1 {
		return nil
	}
	entry := int64(8)
	if foot[4]&0x80 != 0 { // with checksums
		entry = 12
	}
	length := 8 + entry*int64(binary.LittleEndian.Uint32(foot[:])) + int64(len(foot))
	if length > min(size, maxTable) {
		return nil
	}
	text := make([]byte, length)
	if _, err := file.ReadAt(text, size-length); err != nil {
		return nil
	}
	table, err := seekable.NewSeekTable(text)
	if err != nil {
		return nil
	}
	end := int64(0)
	if n := table.NumFrames(); n > 0 {
		last, _ := table.EntryByID(n - 1)
		end = int64(last.CompressedOffset) + int64(last.CompressedSize)
	}
	if end+length != size {
		return nil // of another file
	}
	return table
}

// Read gives text. What is damaged is filled in, and Damage tells it.
func (z *squeezed) Read(p []byte) (int, error) {
	z.mu.Lock()
	defer z.mu.Unlock()
	if len(p) == 0 {
		return 0, nil
	}
	for {
		if z.hole > 0 {
			return z.fill(p), nil
		}
		n, err := z.dec.Read(p)
		z.pos += int64(n)
		if cut := int(min(z.skip, int64(n))); cut > 0 {
			z.skip -= int64(cut)
			n = copy(p, p[cut:n])
		}
		if n > 0 {
			return n, nil // an error comes again
		}
		switch {
		case err == nil:
		case errors.Is(err, zstd.ErrDecoderClosed):
			return 0, err
		case errors.Is(err, io.EOF):
			return 0, z.end()
		case !z.resume(err):
			return 0, io.EOF
		}
	}
}

// fill stands in for what is damaged: a line that was begun is ended, a line of
// the host's says that some are missing, and blank ones keep its place. What is
// too short for that is blank.
func (z *squeezed) fill(p []byte) int {
	p = p[:min(int64(len(p)), z.hole)]
	for i := range p {
		p[i] = '\n'
	}
	if z.holed < int64(len(holeMark)) && z.holed+z.hole >= int64(len(holeMark)) {
		copy(p, holeMark[z.holed:])
	}
	z.hole -= int64(len(p))
	z.holed += int64(len(p))
	return len(p)
}

// end looks whether all has come that must.
func (z *squeezed) end() error {
	switch {
	case z.table == nil && z.must:
		z.hurt(-1, errCutOff)
	case z.table != nil && uint64(z.pos) < z.table.Size():
		z.hurt(int64(z.table.Size())-z.pos, errNoEnd)
	}
	return io.EOF
}

// hurt counts a damage once, however often the text is read.
func (z *squeezed) hurt(lost int64, err error) {
	to := int64(math.MaxInt64)
	if lost >= 0 {
		to = z.pos + lost + 1
	}
	if to <= z.hurtTo {
		return
	}
	z.hurtTo = to
	if z.damage == nil {
		z.damage = &DamageError{At: z.pos, Err: err}
	}
	if lost < 0 || z.damage.Lost < 0 {
		z.damage.Lost = -1
		return
	}
	z.damage.Lost += lost
}

// resume goes on behind a frame that is damaged. It reports false where that
// is not possible.
func (z *squeezed) resume(err error) bool {
	if errors.Is(err, zstd.ErrWindowSizeExceeded) || errors.Is(err, zstd.ErrDecoderSizeExceeded) {
		err = errTooStrong
	}
	if errors.Is(err, io.ErrUnexpectedEOF) {
		err = errCutOff
	}
	if z.table == nil {
		z.hurt(-1, err)
		return false
	}
	next := max(z.frameAfter(z.pos), z.frame+1)
	entry, ok := z.table.EntryByID(next)
	if !ok {
		z.hurt(max(0, int64(z.table.Size())-z.pos), err)
		return false
	}
	at := int64(entry.DecompressedOffset)
	lost := max(0, at-z.pos)
	z.hurt(lost, err)
	z.frame = next
	z.holed = min(z.skip, lost)
	z.skip = max(0, z.skip-(at-z.pos))
	packed := int64(entry.CompressedOffset)
	if before, ok := z.table.EntryByID(next - 1); ok {
		packed -= int64(before.CompressedOffset)
	}
	z.hole = max(0, min(lost, maxHole, maxGain*max(0, packed))-z.holed)
	z.pos = at
	return z.restart(int64(entry.CompressedOffset)) == nil
}

// restart begins to decompress at a place of the file, with a new decoder: one
// that was used before may reach back into the text that it gave last, and then
// a damaged frame passes for a good one.
func (z *squeezed) restart(at int64) error {
	if z.closed {
		return zstd.ErrDecoderClosed
	}
	dec, err := newDecoder(z.from(at))
	if err != nil {
		return err
	}
	z.dec.Close()
	z.dec = dec
	return nil
}

// frameAfter returns the first frame that begins at a place of the text or
// behind it.
func (z *squeezed) frameAfter(pos int64) int64 {
	entry, ok := z.table.EntryByDecompressedOffset(uint64(pos))
	switch {
	case !ok:
		return z.table.NumFrames()
	case int64(entry.DecompressedOffset) == pos:
		return entry.ID
	}
	return entry.ID + 1
}

// Seek goes to a place of the text. Without a table of frames it has to be
// decompressed up to there, and the end is not known.
func (z *squeezed) Seek(offset int64, whence int) (int64, error) {
	z.mu.Lock()
	defer z.mu.Unlock()
	switch whence {
	case io.SeekCurrent:
		offset += z.pos - z.hole + z.skip
	case io.SeekEnd:
		if z.table == nil {
			return 0, errors.New("seek in compressed text: its length is not known")
		}
		offset += int64(z.table.Size())
	}
	if offset < 0 || z.file == nil {
		return 0, errors.New("seek in compressed text: not there")
	}
	var at, text int64
	if z.table != nil {
		last := min(uint64(offset), max(z.table.Size(), 1)-1)
		if entry, ok := z.table.EntryByDecompressedOffset(last); ok {
			at, text = int64(entry.CompressedOffset), int64(entry.DecompressedOffset)
		}
	}
	if err := z.restart(at); err != nil {
		return 0, fmt.Errorf("seek in compressed text: %w", err)
	}
	z.pos, z.skip, z.frame, z.hole = text, offset-text, -1, 0
	return offset, nil
}

// hurtBy returns what was damaged so far; nil for nothing.
func (z *squeezed) hurtBy() error {
	z.mu.Lock()
	defer z.mu.Unlock()
	if z.damage == nil {
		return nil
	}
	d := *z.damage
	return &d
}

// close ends the decoder. What it reads from must be closed before, so that
// nothing holds it.
func (z *squeezed) close() {
	z.mu.Lock()
	defer z.mu.Unlock()
	z.closed = true
	z.dec.Close()
}

// sniffed is how many first bytes tell what a file is.
const sniffed = 4

// mayBeSqueezed reports whether some first bytes can become those of a
// compressed file.
func mayBeSqueezed(head []byte) bool {
	if len(head) >= sniffed {
		return isSqueezed(head)
	}
	std := []byte{0x28, 0xB5, 0x2F, 0xFD}
	skip := []byte{0x50, 0x2A, 0x4D, 0x18}
	first := bytes.Clone(head)
	if len(first) > 0 {
		first[0] &^= 0xF
	}
	return bytes.HasPrefix(std, head) || bytes.HasPrefix(skip, first)
}
