package decode

import (
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write the made parts of PROTOCOL.md anew")

// readText reads a file of this folder with LF line ends, however the system
// has checked it out.
func readText(t *testing.T, name string) string {
	t.Helper()
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return strings.ReplaceAll(string(text), "\r\n", "\n")
}

// between replaces what stands between two marks of a document.
func between(t *testing.T, doc, mark, text string) string {
	t.Helper()
	text = "\n" + text + "\n"
	re := regexp.MustCompile(`(?s)(<!-- ` + mark + `:[^\n]*-->\n).*?(<!-- end of ` + mark + ` -->)`)
	if !re.MatchString(doc) {
		t.Fatalf("no marks for %s", mark)
	}
	return re.ReplaceAllStringFunc(doc, func(old string) string {
		m := re.FindStringSubmatch(old)
		return m[1] + text + m[2]
	})
}

func fieldTables() string {
	var b strings.Builder
	for tag := Unknown + 1; tag < TagCount; tag++ {
		f := formats[tag]
		fmt.Fprintf(&b, "### %s\n\n%s. Rate: %s.\n\n| # | field | written as | range | unit | meaning |\n|---|---|---|---|---|---|\n",
			f.name, strings.ToUpper(f.about[:1])+f.about[1:], f.rate)
		for i, c := range f.fields {
			number, name := strconv.Itoa(i+1), "`"+c.Name+"`"
			if c.PerMotor {
				number, name = fmt.Sprintf("1..%d", MaxMotors), fmt.Sprintf("`%s_1` ... `%s_%d`", c.Name, c.Name, MaxMotors)
			}
			fmt.Fprintf(&b, "| %s | %s | %s | %s | %s | %s |\n", number, name, c.written(), c.limits(), c.Unit, c.About)
		}
		b.WriteString("\n")
	}
	return strings.TrimSuffix(b.String(), "\n")
}

func (f Field) written() string {
	return [...]string{"number", "whole number", "flag", "word", "text", "text, commas too"}[f.Kind]
}

func (f Field) limits() string {
	num := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	switch {
	case f.Words != nil:
		return "`" + strings.Join(f.Words, "`, `") + "`"
	case f.Kind >= Word || f.Unbounded():
		return "any"
	case f.Kind == Flag:
		return "0 or 1"
	case f.Min == f.Max:
		return num(f.Min)
	case f.Even:
		return "even, " + num(f.Min) + ".." + num(f.Max)
	case f.OrZero:
		return "0, or " + num(f.Min) + ".." + num(f.Max)
	}
	return num(f.Min) + ".." + num(f.Max)
}

// usual are the lines that the bandwidth tables reckon with.
var usual = []struct {
	body string
	rate int // lines a second
}{
	{"out,41234,2345678901,0.1312,0.1298,0.1291,0.1320", 25},
	{"erpm,41236,2345678901,41230,40890,41120,41010", 10},
	{"state,41237,2345678901,1,0,1,0.120,0.000,0.000,0.000,1", 10},
	{"load,41238,2345678901,4.213", 10},
	{"pack,41239,2345678901,16.12,8.35", 5},
	{"temp,41240,2345678901,31.5,31.5,32.7,31.6", 1},
	{"hello,41241,2345678901,1,bench-1,42", 1},
}

const usualAxes = "axes,41242,2345678901,-12.4,11.2,-0.1,-12.0,12.0,0.0,0.0112,-0.0230,0.0004,0.131"

func bandwidthTable() string {
	var b strings.Builder
	size := func(body string) int { return len(sealed(body)) + 1 }
	used := 0
	b.WriteString("| line | bytes with LF | lines/s | bytes/s |\n|---|---|---|---|\n")
	for _, u := range usual {
		n := size(u.body)
		used += n * u.rate
		fmt.Fprintf(&b, "| `%s` | %d | %d | %d |\n", sealed(u.body), n, u.rate, n*u.rate)
	}
	fmt.Fprintf(&b, "| together | | | %d |\n\nWhat is left goes to `axes`, %d bytes a line:\n\n```\n%s\n```\n\n", used, size(usualAxes), sealed(usualAxes))
	b.WriteString("| baud | bytes/s | 90 % of it | left for `axes` | `axes` lines/s |\n|---|---|---|---|---|\n")
	for _, baud := range []int{57_600, 115_200, 230_400, 460_800, 921_600, 2_000_000, 3_000_000} {
		room := baud / 10 * 9 / 10
		left := max(0, room-used)
		fmt.Fprintf(&b, "| %d | %d | %d | %d | %d |\n", baud, baud/10, room, left, left/size(usualAxes))
	}
	return b.String()
}

func TestProtocolIsInStep(t *testing.T) {
	doc := readText(t, "PROTOCOL.md")
	want := between(t, doc, "fields", fieldTables())
	want = between(t, want, "bandwidth", bandwidthTable())
	if *update {
		if err := os.WriteFile("PROTOCOL.md", []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if doc != want {
		t.Error("PROTOCOL.md is not in step with format.go: run go test ./decode -run Protocol -update")
	}
	for c := range CauseCount {
		if !strings.Contains(doc, "\n| "+c.String()+" | ") {
			t.Errorf("PROTOCOL.md does not explain the cause %q", c)
		}
	}
}

// Every line that PROTOCOL.md and the package comment show is what they say it
// is: lines in blocks are good, those in the table of rejections are rejected
// for the cause beside them.
func TestProtocolExamples(t *testing.T) {
	var d Decoder
	var s Sample
	for file, atLeast := range map[string]int{"PROTOCOL.md": 25, "doc.go": 3} {
		text := readText(t, file)
		good := 0
		for _, m := range regexp.MustCompile("(?m)^(?://\t|\\| `)?([a-z]+,\\d.*?\\*[0-9A-F]{8})(?:$|` \\| \\d)").FindAllStringSubmatch(text, -1) {
			err := d.Decode([]byte(m[1]), &s)
			if file == "doc.go" && err != nil {
				continue // see TestPackageComment
			}
			if err != nil {
				t.Errorf("%s: %q: %v", file, m[1], err)
			}
			good++
		}
		if good < atLeast {
			t.Errorf("%s: only %d lines found", file, good)
		}
		if file == "doc.go" {
			continue
		}
		bad := regexp.MustCompile("(?m)^\\| `([^`#]*)` \\| ([a-z ]+) \\|$").FindAllStringSubmatch(text, -1)
		for _, m := range bad {
			var le *LineError
			if err := d.Decode([]byte(m[1]), &s); !errors.As(err, &le) || le.Cause.String() != m[2] {
				t.Errorf("%q: got %v, want %s", m[1], err, m[2])
			}
		}
		if len(bad) < 15 {
			t.Errorf("only %d rejected lines found", len(bad))
		}
	}
}

// The five bad lines of the package comment have the five causes it names.
func TestPackageComment(t *testing.T) {
	text := readText(t, "doc.go")
	var d Decoder
	var s Sample
	var causes []Cause
	for _, m := range regexp.MustCompile(`(?m)^//\t([a-z]+,\d.*)$`).FindAllStringSubmatch(text, -1) {
		var le *LineError
		if errors.As(d.Decode([]byte(m[1]), &s), &le) {
			causes = append(causes, le.Cause)
		}
	}
	if got, want := fmt.Sprint(causes), fmt.Sprint([]Cause{NoChecksum, BadChecksum, BadNumber, OutOfRange, BadNumber}); got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

// The program in PROTOCOL.md, as it stands there, makes lines that decode.
func TestProtocolProgram(t *testing.T) {
	cc, err := exec.LookPath("cc")
	if err != nil {
		t.Skip("no C compiler here")
	}
	program := regexp.MustCompile("(?s)```c\n(.*?)```").FindStringSubmatch(readText(t, "PROTOCOL.md"))
	if program == nil {
		t.Fatal("no program found")
	}
	source, binary := filepath.Join(t.TempDir(), "send.c"), filepath.Join(t.TempDir(), "send")
	const rest = `
void send(const char *bytes, int n) { fwrite(bytes, 1, n, stdout); }
int main(void) {
    double rate[3] = {-0.4, 1.2, 0.1}, demand[3] = {0, 3.5, 0}, out[3] = {0.0012, -0.003, 0.0004};
    long speed[4] = {41230, -1, 40890, 41010};
    seq = 65535;
    send_axes(4294967295u, rate, demand, out, 0.131);
    send_erpm(15, speed, 4);
    return 0;
}
`
	if err := os.WriteFile(source, []byte(program[1]+rest), 0o600); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command(cc, "-std=c99", "-Wall", "-Wextra", "-Werror", "-o", binary, source).CombinedOutput(); err != nil {
		t.Fatalf("compile: %v\n%s", err, out)
	}
	out, err := exec.Command(binary).Output()
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.SplitAfter(string(out), "\n")
	want := []Sample{
		{Tag: Axes, Seq: 65535, Time: 4294967295, Has: 1023, Num: [MaxNum]float64{-0.4, 1.2, 0.1, 0, 3.5, 0, 0.0012, -0.003, 0.0004, 0.131}},
		{Tag: ERPM, Seq: 0, Time: 15, Has: 0b1101, Num: [MaxNum]float64{41230, 0, 40890, 41010}},
	}
	if len(lines) != 3 || lines[2] != "" {
		t.Fatalf("got %q", lines)
	}
	for i, w := range want {
		if s := mustDecode(t, strings.TrimSuffix(lines[i], "\n")); !reflect.DeepEqual(s, w) {
			t.Errorf("%q: got %+v, want %+v", lines[i], s, w)
		}
	}
}
