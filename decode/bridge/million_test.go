package bridge

import (
	"bufio"
	"bytes"
	"flag"
	"io"
	"math/rand/v2"
	"os/exec"
	"strings"
	"testing"
	"time"

	"tetherbell/decode"
)

var (
	lines = flag.Int("lines", 0, "random lines of C against Go; 0: a million, fewer under the race detector")
	seed  = flag.Uint64("seed", 0, "seed of the random lines; 0: another one each time")
)

// manyLines is how many there are where nobody says.
var manyLines = 1_000_000

// A million random calls: the line of C has the very bytes of Go's encoder for
// the same values (numbers of C are at most ten digits, which Go writes in the
// same shortest form), and Go's decoder reads from it the very same values.
func TestMillionLines(t *testing.T) {
	from := *seed
	if from == 0 {
		from = uint64(time.Now().UnixNano())
	}
	t.Logf("again with: go test ./decode/bridge -run MillionLines -seed %d", from)
	n := *lines
	if n == 0 {
		n = manyLines
	}
	cc := compilers(t)[0]
	for name, form := range map[string]string{"whole lines": "-DBL_LINE_SIZE=240", "byte by byte": "-DBL_STREAM"} {
		args := []string{"-O2", form, "testdata/pipe.c"}
		if canSanitize(t, cc) {
			args = append(args, sanitized...)
		}
		t.Run(name, func(t *testing.T) { compareProgram(t, compile(t, cc, args...), from, n) })
	}
}

// compareProgram feeds n calls to a pipe program and compares what it answers.
func compareProgram(t *testing.T, program string, from uint64, n int) {
	cmd := exec.Command(program)
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	var stderr strings.Builder
	cmd.Stderr = &stderr
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	fed := make(chan error, 1)
	go func() { fed <- feed(in, from, n) }() // ends with the program, which reads to the end
	compareLines(t, bufio.NewReaderSize(out, 1<<16), from, n)
	if t.Failed() {
		_ = cmd.Process.Kill()
	}
	feedErr, waitErr := <-fed, cmd.Wait()
	if !t.Failed() && (feedErr != nil || waitErr != nil) {
		t.Fatalf("%v, %v\n%s", feedErr, waitErr, stderr.String())
	}
}

// source draws the same calls for the same seed: one is fed to C, one to Go.
func source(seed uint64) (*rand.Rand, *call) {
	return rand.New(rand.NewPCG(seed, 1)), &call{text: make([]byte, 300), v: make([]int32, decode.MaxNum)}
}

func feed(in io.WriteCloser, seed uint64, n int) error {
	defer in.Close()
	r, c := source(seed)
	w := bufio.NewWriterSize(in, 1<<16)
	var record []byte
	for range n {
		c.draw(r)
		record = c.record(record[:0])
		if _, err := w.Write(record); err != nil {
			return err
		}
	}
	return w.Flush()
}

func compareLines(t *testing.T, out *bufio.Reader, seed uint64, n int) {
	r, c := source(seed)
	var seq uint16
	var want, got decode.Sample
	var d decode.Decoder
	var line []byte
	kinds := [decode.TagCount]int{}
	for i := range n {
		c.draw(r)
		text, err := out.ReadSlice('\n')
		if err != nil {
			t.Fatalf("call %d, %+v: %v", i, *c, err)
		}
		if c.refused() {
			if string(text) != "!refused\n" {
				t.Fatalf("call %d, %+v: got %q", i, *c, text)
			}
			continue
		}
		c.sample(seq, &want)
		seq++
		kinds[c.tag]++
		if line = decode.Append(line[:0], &want); !bytes.Equal(line, text) || len(text) > decode.MaxLine {
			t.Fatalf("call %d, %+v:\nC  %sGo %s", i, *c, text, line)
		}
		if err := d.Decode(text[:len(text)-1], &got); err != nil || !equal(&got, &want) {
			t.Fatalf("call %d, %s: %v\ngot  %+v\nwant %+v", i, text, err, got, want)
		}
	}
	for tag := decode.Unknown + 1; tag < decode.TagCount; tag++ {
		if kinds[tag] < n/40 {
			t.Errorf("only %d of %d lines are %s", kinds[tag], n, tag)
		}
	}
}

// equal compares all that a line holds. A text is compared as a host reads it:
// what could tear a line is an underscore.
func equal(got, want *decode.Sample) bool {
	return got.Tag == want.Tag && got.Seq == want.Seq && got.Time == want.Time && got.Has == want.Has && got.Num == want.Num &&
		bytes.Equal(got.Word, want.Word) && cleaned(got.Text, want.Text, want.Tag == decode.Note)
}

func cleaned(got, want []byte, commas bool) bool {
	if len(got) != len(want) {
		return false
	}
	for i, c := range want {
		if c < 0x20 || c > 0x7E || c == '*' || c == ',' && !commas {
			c = '_'
		}
		if got[i] != c {
			return false
		}
	}
	return true
}
