package bridge

import (
	"bufio"
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"testing"
)

// strict is what the C must compile with, without a word.
var strict = []string{"-std=c99", "-Wall", "-Wextra", "-Werror", "-pedantic", "-Wconversion", "-Wshadow", "-I."}

// sanitized is how the tests run it: whatever is undefined ends the program.
var sanitized = []string{"-fsanitize=address,undefined", "-fno-sanitize-recover=all"}

// compilers lists the host's C compilers by name.
func compilers(t *testing.T) (found []string) {
	t.Helper()
	if runtime.GOOS == "windows" {
		t.Skip("standard input and output are not bytes for C programs here: the C encoder is not tested")
	}
	for _, cc := range []string{"gcc", "clang", "cc"} {
		if _, err := exec.LookPath(cc); err == nil && !(cc == "cc" && len(found) > 0) {
			found = append(found, cc)
		}
	}
	if len(found) == 0 {
		t.Skip("no C compiler here (gcc, clang or cc): the C encoder is not tested")
	}
	return found
}

// compile builds a program of C and returns its path.
func compile(t *testing.T, cc string, args ...string) string {
	t.Helper()
	file, err := os.CreateTemp(builds.folder, "*.exe")
	if err != nil {
		t.Fatal(err)
	}
	binary := file.Name()
	_ = file.Close()
	args = append(append(append([]string{}, strict...), args...), "-o", binary)
	if out, err := exec.Command(cc, args...).CombinedOutput(); err != nil {
		t.Fatalf("%s %s: %v\n%s", cc, strings.Join(args, " "), err, out)
	}
	return binary
}

// canSanitize reports whether the compiler has its checkers' libraries.
func canSanitize(t *testing.T, cc string) bool {
	t.Helper()
	cmd := exec.Command(cc, append(append([]string{}, sanitized...), "-x", "c", "-", "-o", filepath.Join(t.TempDir(), "try"))...)
	cmd.Stdin = strings.NewReader("int main(void) { return 0; }\n")
	return cmd.Run() == nil
}

// builds is where programs lie that several tests run; TestMain removes it.
var builds struct {
	folder  string
	pipes   map[string]string
	benches map[string]string
}

func TestMain(m *testing.M) {
	folder, err := os.MkdirTemp("", "bridge")
	if err != nil {
		panic(err)
	}
	builds.folder = folder
	code := m.Run()
	_ = os.RemoveAll(folder)
	os.Exit(code)
}

// pipePrograms builds testdata/pipe.c in each way the tests run it, once.
func pipePrograms(t *testing.T) map[string]string {
	t.Helper()
	if builds.pipes != nil {
		return builds.pipes
	}
	programs := map[string]string{}
	for _, cc := range compilers(t) {
		args := []string{"-DBL_FLOAT", "-O2", "testdata/pipe.c"}
		if canSanitize(t, cc) {
			args = append(args, sanitized...)
		} else {
			t.Logf("%s has no sanitizers here: run without", cc)
		}
		programs[cc] = compile(t, cc, args...)
		programs[cc+", nibbles, -Os"] = compile(t, cc, "-DBL_FLOAT", "-DBL_CRC_NIBBLE", "-Os", "-funsigned-char", "testdata/pipe.c")
		programs[cc+", byte by byte"] = compile(t, cc, append([]string{"-DBL_STREAM"}, args...)...)
	}
	builds.pipes = programs
	return programs
}

// answers runs a pipe program over records and returns its lines.
func answers(t *testing.T, program string, records []byte) []string {
	t.Helper()
	cmd := exec.Command(program)
	cmd.Stdin = bytes.NewReader(records)
	var stderr strings.Builder
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v\n%s", err, stderr.String())
	}
	var lines []string
	for scan := bufio.NewScanner(bytes.NewReader(out)); scan.Scan(); {
		lines = append(lines, scan.Text())
	}
	if len(out) > 0 && out[len(out)-1] != '\n' {
		t.Fatalf("the last line is torn: %q", lines[len(lines)-1])
	}
	return lines
}

// checkSyntax compiles what one line of C says, without a word.
func checkSyntax(compiler, source string, args ...string) error {
	cmd := exec.Command(compiler, append(args, "-fsyntax-only", "-")...)
	cmd.Stdin = strings.NewReader(source + "\n")
	if out, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("%s %v: %w\n%s", compiler, args, err, out)
	}
	return nil
}

// The header compiles without a word, in each of its forms, and as C++ for
// those who call it from there.
func TestHeaderCompiles(t *testing.T) {
	const source = `#include "benchring.h"`
	for _, cc := range compilers(t) {
		for _, defines := range [][]string{nil, {"-DBL_FLOAT"}, {"-DBL_STREAM"}, {"-DBL_CRC_NIBBLE"}, {"-DBR_INDEX_8"}, {"-DBR_INDEX_8", "-DBL_STREAM"}, {"-DBL_FLOAT", "-DBL_CRC_NIBBLE", "-DBL_LINE_SIZE=168"}} {
			for _, more := range [][]string{{"-std=c99"}, {"-std=c11"}, {"-std=c99", "-DBL_IMPLEMENTATION"}} {
				args := append(append(append(append([]string{}, strict...), "-x", "c"), more...), defines...)
				if err := checkSyntax(cc, source, args...); err != nil {
					t.Error(err)
				}
			}
		}
		for _, size := range []string{"167", "241"} {
			if checkSyntax(cc, source, "-I.", "-x", "c", "-DBL_LINE_SIZE="+size) == nil {
				t.Errorf("%s: a line buffer of %s bytes is taken", cc, size)
			}
		}
	}
	if _, err := exec.LookPath("g++"); err == nil {
		if err := checkSyntax("g++", source, "-Wall", "-Wextra", "-Werror", "-I.", "-x", "c++"); err != nil {
			t.Error(err)
		}
	}
}

// The ten lines of C that README.md shows are C and C++, on small processors too.
func TestSnippetCompiles(t *testing.T) {
	m := regexp.MustCompile("(?s)```c\n(.*?)(\nint32_t .*?)```").FindStringSubmatch(readText(t, "README.md"))
	if m == nil {
		t.Fatal("no snippet of C in README.md")
	}
	source := m[1] + "uint32_t micros(void);\nvoid start(uint32_t boot_number);\nvoid start(uint32_t boot_number)\n{" + m[2] + "}\n"
	for _, cc := range compilers(t) {
		if err := checkSyntax(cc, source, append(append([]string{}, strict...), "-x", "c")...); err != nil {
			t.Error(err)
		}
	}
	for _, c := range [][]string{
		{"g++", "-Wall", "-Wextra", "-Werror", "-pedantic", "-Wconversion", "-std=c++11", "-I.", "-x", "c++"},
		{"avr-gcc", "-Wall", "-Wextra", "-Werror", "-pedantic", "-Wconversion", "-mmcu=atmega328p", "-std=c99", "-I.", "-x", "c"},
		{"arm-none-eabi-gcc", "-Wall", "-Wextra", "-Werror", "-pedantic", "-Wconversion", "-std=c99", "-I.", "-x", "c"},
	} {
		if _, err := exec.LookPath(c[0]); err != nil {
			t.Logf("no %s here: not tried", c[0])
		} else if err := checkSyntax(c[0], source, c[1:]...); err != nil {
			t.Error(err)
		}
	}
}
