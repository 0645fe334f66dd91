package bridge

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// A processor is a small one that the encoder is measured on.
type processor struct {
	name, prefix, note string
	flags              []string
	call               *regexp.Regexp // in a disassembly: whom a function calls
	push               func(line string) int
	address            int // bytes of a return address that a call itself puts on the stack
	most               int // bytes of code of the whole encoder, and of what it calls of the compiler's own: what the README promises
	ram                int // bytes of RAM with a line buffer of 168
}

var processors = []processor{
	{"ARM Cortex-M0", "arm-none-eabi-", "Thumb", []string{"-mcpu=cortex-m0", "-mthumb"},
		regexp.MustCompile(`\t(?:bl|b\.n|b)\t[0-9a-f]+ <([A-Za-z_][\w.]*)>`), pushARM, 0, 2048, 300},
	{"AVR ATmega328P", "avr-", "", []string{"-mmcu=atmega328p"},
		regexp.MustCompile(`\t(?:r?call|r?jmp)\t.*<([A-Za-z_][\w.]*)>`), pushAVR, 2, 2048, 300},
}

// pushARM counts what a push puts on the stack: in the compiler's own division,
// which comes with no list of stack sizes.
func pushARM(line string) int {
	m := regexp.MustCompile(`\tpush\t\{(.*)\}`).FindStringSubmatch(line)
	if m == nil {
		return 0
	}
	return 4 * len(strings.Split(m[1], ","))
}

func pushAVR(line string) int {
	if strings.Contains(line, "\tpush\t") {
		return 1
	}
	return 0
}

// notEncoder is what a program of nothing but the encoder has besides: the calls,
// the sink, a craft, and what clears and fills memory at the start.
var notEncoder = regexp.MustCompile(`^(main|sink|__do_copy_data|__do_clear_bss|craft\.\d+)$`)

// build makes testdata/all.c for the processor and returns its sizes: code with
// constants, the bridge's struct, and the deepest stack below a call.
func (p *processor) build(t *testing.T, lineSize int, defines ...string) (code, state, stack int) {
	t.Helper()
	folder := t.TempDir()
	elf, object := filepath.Join(folder, "all.elf"), filepath.Join(folder, "all.o")
	common := append([]string{"-std=c99", "-Os", "-Wall", "-Wextra", "-Werror", "-I.", "-ffunction-sections", "-fdata-sections",
		fmt.Sprintf("-DBL_LINE_SIZE=%d", lineSize)}, append(p.flags, defines...)...)
	run(t, p.prefix+"gcc", append(common, "-fstack-usage", "-c", "testdata/all.c", "-o", object)...)
	run(t, p.prefix+"gcc", append(common, "-nostdlib", "-Wl,--gc-sections,-e,main", object, "-lm", "-lgcc", "-o", elf)...)
	sections := regexp.MustCompile(`(?m)^\s*(\d+)\s+(\d+)\s+(\d+)`).FindStringSubmatch(run(t, p.prefix+"size", elf))
	code, _ = strconv.Atoi(sections[1])
	for _, m := range regexp.MustCompile(`(?m)^[0-9a-f]+ ([0-9a-f]+) (\w) ([\w.]+)$`).FindAllStringSubmatch(run(t, p.prefix+"nm", "-S", elf), -1) {
		n, _ := strconv.ParseInt(m[1], 16, 32)
		switch {
		case m[3] == "b":
			state = int(n)
		case strings.ContainsAny(m[2], "tTrR") && notEncoder.MatchString(m[3]):
			code -= int(n)
		}
	}
	require.NotZero(t, state)
	return code, state, p.deepest(t, elf, filepath.Join(folder, "all.su"))
}

func run(t *testing.T, command string, args ...string) string {
	t.Helper()
	out, err := exec.Command(command, args...).CombinedOutput()
	require.NoError(t, err, "%s %v\n%s", command, args, out)
	return string(out)
}

// plainName takes off what a compiler puts behind the name of a function that it
// has changed for its callers.
func plainName(symbol string) string {
	name, _, _ := strings.Cut(symbol, ".")
	return name
}

// deepest follows every call from every function of the header's interface, the
// sink apart, and adds up what each has on the stack: the compiler's own figure
// (-fstack-usage), and for its division what it pushes.
func (p *processor) deepest(t *testing.T, elf, usage string) int {
	t.Helper()
	frame := map[string]int{}
	text, err := os.ReadFile(usage)
	require.NoError(t, err)
	for _, m := range regexp.MustCompile(`(?m):([\w.]+)\t(\d+)\tstatic$`).FindAllStringSubmatch(string(text), -1) {
		frame[plainName(m[1])], _ = strconv.Atoi(m[2])
	}
	calls, pushed, at := map[string][]string{}, map[string]int{}, ""
	for line := range strings.Lines(run(t, p.prefix+"objdump", "-d", elf)) {
		if m := regexp.MustCompile(`^[0-9a-f]+ <([\w.]+)>:`).FindStringSubmatch(line); m != nil {
			at = plainName(m[1])
		}
		if m := p.call.FindStringSubmatch(line); m != nil && plainName(m[1]) != at {
			calls[at] = append(calls[at], plainName(m[1]))
		}
		pushed[at] += p.push(line)
	}
	var depth func(name string, seen int) int
	depth = func(name string, seen int) (most int) {
		require.Less(t, seen, 20, "the encoder does not call itself")
		own, known := frame[name]
		if !known {
			own = pushed[name] + p.address
		}
		for _, callee := range calls[name] {
			most = max(most, depth(callee, seen+1))
		}
		return own + most
	}
	most := 0
	for name := range frame {
		if strings.HasPrefix(name, "bl_") {
			most = max(most, depth(name, 0))
		}
	}
	require.NotEmpty(t, calls["bl_load"])
	return most
}

// The README's table of sizes, and what it says of 2 kB and 300 bytes, is what the
// compilers here make, where they are those of the table.
func TestSizes(t *testing.T) {
	doc := readText(t, "README.md")
	var table strings.Builder
	table.WriteString("| processor, compiler | built with | code and constants | bridge, line of 240 / 168 | deepest stack | RAM in all, line of 240 / 168 |\n|---|---|---|---|---|---|\n")
	measured := 0
	for i := range processors {
		p := &processors[i]
		if _, err := exec.LookPath(p.prefix + "gcc"); err != nil {
			t.Logf("no %sgcc here: the sizes on %s are not measured", p.prefix, p.name)
			continue
		}
		measured++
		version := strings.TrimSpace(run(t, p.prefix+"gcc", "-dumpfullversion", "-dumpversion"))
		for _, kind := range []struct {
			name     string
			promised bool
			defines  []string
		}{
			{"all tags", true, nil},
			{"all tags, byte by byte (`BL_STREAM`)", true, []string{"-DBL_STREAM"}},
			{"all tags, table for the checksum", false, []string{"-DBL_CRC_NIBBLE"}},
			{"all tags, floats", false, []string{"-DBL_FLOAT"}},
			{"hello, load, temp, erpm alone", false, []string{"-DSTAND"}},
		} {
			code, state, stack := p.build(t, 240, kind.defines...)
			_, small, _ := p.build(t, 168, kind.defines...)
			fmt.Fprintf(&table, "| %s, gcc %s | %s | %d | %d / %d | %d | %d / %d |\n", p.name, version, kind.name, code, state, small, stack, state+stack, small+stack)
			// another version of a compiler may need a few bytes more
			if kind.promised && strings.Contains(doc, fmt.Sprintf("| %s, gcc %s |", p.name, version)) {
				require.Less(t, code, p.most, p.name)
				require.Less(t, small+stack, p.ram, p.name)
			}
		}
	}
	if measured == 0 {
		t.Skip("no cross compiler here (arm-none-eabi-gcc, avr-gcc): no size is measured")
	}
	t.Logf("\n%s", table.String())
	re := regexp.MustCompile(`(?s)(<!-- sizes:[^\n]*-->\n).*?(<!-- end of sizes -->)`)
	old := re.FindString(doc)
	require.NotEmpty(t, old, "no marks for the sizes")
	if *update {
		require.Equal(t, len(processors), measured, "the table is made where both compilers are")
		doc = re.ReplaceAllStringFunc(doc, func(s string) string {
			m := re.FindStringSubmatch(s)
			return m[1] + "\n" + table.String() + "\n" + m[2]
		})
		require.NoError(t, os.WriteFile("README.md", []byte(doc), 0o644))
		return
	}
	for row := range strings.Lines(table.String()) {
		head := strings.Join(strings.SplitN(row, "|", 4)[:2], "|")
		if strings.Contains(old, head+"|") && !strings.Contains(old, row) {
			t.Errorf("README.md is not in step with what the compilers make: run go test ./decode/bridge -run Sizes -update\n%s", row)
		}
	}
}

// The same lines on the host, on an ARM and on an AVR, byte by byte.
func TestOtherProcessors(t *testing.T) {
	args := []string{"-DBL_FLOAT", "-Os", "testdata/same.c"}
	host, err := exec.Command(compile(t, compilers(t)[0], args...)).Output()
	require.NoError(t, err)
	require.Equal(t, 421, strings.Count(string(host), "\n"))
	folder := t.TempDir()
	ran := 0
	for _, c := range []struct {
		compiler, emulator string
		build, run         []string
	}{
		{"arm-none-eabi-gcc", "qemu-arm", []string{"-mcpu=cortex-m0", "-mthumb", "-nostdlib"}, nil},
		{"avr-gcc", "simavr", []string{"-mmcu=atmega328p", "-DF_CPU=16000000UL"}, []string{"-m", "atmega328p", "-f", "16000000"}},
	} {
		_, noCompiler := exec.LookPath(c.compiler)
		_, noEmulator := exec.LookPath(c.emulator)
		if noCompiler != nil || noEmulator != nil {
			t.Logf("no %s or no %s here: not run there", c.compiler, c.emulator)
			continue
		}
		ran++
		for _, form := range []string{"-DBL_CRC_NIBBLE", "-DBL_STREAM"} {
			elf := filepath.Join(folder, c.emulator)
			run(t, c.compiler, append(append([]string{"-std=c99", "-I.", form}, c.build...), append(args, "-lm", "-lgcc", "-o", elf)...)...)
			require.Equal(t, string(host), plain(run(t, c.emulator, append(c.run, elf)...)), "%s %s", c.emulator, form)
		}
	}
	if ran == 0 {
		t.Skip("no emulator with its compiler here (qemu-arm, simavr)")
	}
}

// plain takes off what the AVR's emulator puts about the lines of a port: colours,
// a point for the line end, and what it says of the program it loads.
func plain(out string) string {
	out = regexp.MustCompile(`\x1b\[[0-9;]*m`).ReplaceAllString(out, "")
	if !strings.Contains(out, "Loaded ") {
		return out
	}
	var b strings.Builder
	for _, m := range regexp.MustCompile(`(?m)^([a-z]+,.*|end)\.$`).FindAllStringSubmatch(out, -1) {
		b.WriteString(m[1] + "\n")
	}
	return b.String()
}
