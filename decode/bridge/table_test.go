package bridge

import (
	"flag"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

var update = flag.Bool("update", false, "write the made parts of benchline.h and README.md anew")

// hello and note have no row: the header writes their numbers by hand, and the
// end of TestTableIsInStep says what they were when it was written.
const (
	madeMark = "made from format.go by go test ./decode/bridge -run Table -update */\n"
	madeEnd  = "/* end of made */"
)

func cName(s string) string { return "BL_" + strings.ToUpper(strings.ReplaceAll(s, "-", "_")) }

func tagEnum() string {
	var names []string
	for tag := decode.Unknown + 1; tag < decode.TagCount; tag++ {
		names = append(names, cName(tag.String()))
	}
	return "typedef enum {\n    " + strings.Join(names, ", ") + "\n} bl_tag;\n"
}

func layoutEnum() string {
	var names []string
	for _, l := range craft.Layouts {
		names = append(names, cName(l))
	}
	return "typedef enum {\n    " + strings.Join(append(names, "BL_LAYOUT_NONE"), ", ") + "\n} bl_layout;\n"
}

// A cRow is a run of fields with one range, as the header holds it.
type cRow struct {
	min, max int64
	flags    string
	count    int
	names    string
}

// rowsOf gives the rows of a tag whose numbers go through the table.
func rowsOf(t *testing.T, tag decode.Tag) (rows []cRow) {
	if tag == decode.Hello || tag == decode.Note {
		return nil
	}
	unit := ""
	for _, f := range decode.Fields(tag) {
		if f.Kind >= decode.Word {
			continue
		}
		r := cRow{min: int64(f.Min), max: int64(f.Max), count: 1, names: f.Name}
		if f.Unbounded() { // all that the kit can say; the least number stands for not measured
			f.Min, f.Max, r.min, r.max = -math.MaxInt32, math.MaxInt32, -math.MaxInt32, math.MaxInt32
		}
		if float64(r.min) != f.Min || float64(r.max) != f.Max || r.max < 0 || int64(int32(r.min)) != r.min || int64(int32(r.max)) != r.max {
			t.Fatalf("%s: the header holds whole limits of 32 bits alone", f.Name)
		}
		if f.Kind != decode.Number {
			r.flags += " | BL_ROW_WHOLE"
		} else if unit == "" {
			unit = f.Unit
		}
		switch above := r.min > 0; {
		case (f.Even || f.OrZero) && !above, f.Even && f.OrZero:
			t.Fatalf("%s: the header has no such kind of range", f.Name)
		case f.Even:
			r.flags += " | BL_ROW_EVEN"
		case f.OrZero:
			r.flags += " | BL_ROW_OR_ZERO"
		case above:
			r.flags += " | BL_ROW_ABOVE"
		}
		if f.Kind == decode.Number && f.Unit != unit {
			r.flags += " | BL_ROW_SECOND"
		}
		if last := len(rows) - 1; last >= 0 && rows[last].min == r.min && rows[last].max == r.max && rows[last].flags == r.flags {
			rows[last].count++
			first, _, _ := strings.Cut(rows[last].names, " ")
			rows[last].names = first + " to " + r.names
			continue
		}
		rows = append(rows, r)
	}
	return rows
}

// cLimit writes a limit as the header holds it: five bits and zeros behind them.
func cLimit(t *testing.T, name string, limit int64) string {
	if limit == math.MaxInt32 {
		return "BL_ANY"
	}
	m, zeros := limit, 0
	for m >= 10 && m%10 == 0 {
		m, zeros = m/10, zeros+1
	}
	if m < 0 || m > 30 || zeros > 7 {
		t.Fatalf("%s: the header's byte has no room for the limit %d", name, limit)
	}
	if zeros == 0 {
		return fmt.Sprint(m)
	}
	return fmt.Sprintf("BL_LIMIT(%d, %d)", m, zeros)
}

// list writes a list of C as lines of at most ten.
func list(items []string, between string) (s string) {
	for i, item := range items {
		switch {
		case i == 0:
		case i%10 == 0:
			s += strings.TrimSpace(between) + "\n    "
		default:
			s += between
		}
		s += item
	}
	return s
}

func tables(t *testing.T) string {
	var b, rows strings.Builder
	var words, first []string
	at := 0
	for tag := decode.Unknown + 1; tag < decode.TagCount; tag++ {
		words = append(words, `"`+tag.String()+`\0"`)
		first = append(first, fmt.Sprint(at))
		last := -1
		for _, r := range rowsOf(t, tag) {
			at++
			last += r.count
			fmt.Fprintf(&rows, "    {%s, %s, %d%s}, /* %s */\n", cLimit(t, r.names, max(r.min, -r.min)), cLimit(t, r.names, r.max), last, r.flags, r.names)
		}
	}
	for _, l := range craft.Layouts {
		words = append(words, `"`+l+`\0"`)
	}
	fmt.Fprintf(&b, "/* the tags, then the layouts */\nstatic const char bl_words[] BL_ROM =\n    %s;\n\n", list(words, " "))
	fmt.Fprintf(&b, "/* the first row of each tag */\nstatic const uint8_t bl_first[%d] BL_ROM = {%s};\n\n", len(first), strings.Join(first, ", "))
	fmt.Fprintf(&b, "static const bl_row bl_rows[%d] BL_ROM = {\n%s};\n", at, rows.String())
	return b.String()
}

func readText(t *testing.T, name string) string {
	t.Helper()
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return strings.ReplaceAll(string(text), "\r\n", "\n")
}

// The header's tags, layouts and ranges are those of format.go.
func TestTableIsInStep(t *testing.T) {
	doc := readText(t, "benchline.h")
	made := []string{tagEnum(), layoutEnum(), tables(t)}
	re := regexp.MustCompile(`(?s)` + regexp.QuoteMeta(madeMark) + `.*?` + regexp.QuoteMeta(madeEnd))
	n := 0
	want := re.ReplaceAllStringFunc(doc, func(string) string {
		n++
		return madeMark + made[min(n, len(made))-1] + madeEnd
	})
	if n != len(made) {
		t.Fatalf("%d made parts, want %d", n, len(made))
	}
	if *update {
		if err := os.WriteFile("benchline.h", []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
	} else if doc != want {
		t.Error("benchline.h is not in step with format.go: run go test ./decode/bridge -run Table -update")
	}
	for tag, want := range map[decode.Tag]string{
		decode.Hello: "[protocol 1 1 1] [bridge 4 0 0] [boot 1 0 4294967295]",
		decode.Set:   "[setting 3 0 0] [value 0 0 0]",
		decode.Note:  "[text 5 0 0]",
	} {
		var got []string
		for _, f := range decode.Fields(tag) {
			got = append(got, fmt.Sprintf("[%s %d %.0f %.0f]", f.Name, f.Kind, f.Min, f.Max))
		}
		if strings.Join(got, " ") != want {
			t.Errorf("%s is now %v: benchline.h writes %s by hand", tag, got, want)
		}
	}
	for name, want := range map[string]int{"BL_MOTORS_MAX": decode.MaxMotors, "BL_LINE_SIZE": decode.MaxLine, "BL_PROTOCOL": decode.Version, "BL_NAME_MAX": MaxName} {
		if !regexp.MustCompile(fmt.Sprintf(`(?m)^#define %s %d\b`, name, want)).MatchString(doc) {
			t.Errorf("benchline.h: %s is not %d", name, want)
		}
	}
}

// The C of README.md compiles as it stands there, and says what it says.
func TestReadmeProgram(t *testing.T) {
	doc := readText(t, "README.md")
	block := regexp.MustCompile("(?s)```c\n(.*?)```").FindStringSubmatch(doc)
	if block == nil {
		t.Fatal("no program in README.md")
	}
	outside, inside, ok := strings.Cut(block[1], "static bl_bridge bridge;\n")
	if !ok {
		t.Fatal("the program of README.md has no bridge")
	}
	source := filepath.Join(t.TempDir(), "readme.c")
	text := outside + `#include <stdio.h>
static bl_bridge bridge;
static uint32_t micros(void) { return 1040; }
int main(void)
{
    uint32_t boot_number = 42;
    int c;
` + inside + `
    while ((c = br_take(&ring)) >= 0)
        putchar(c);
    return 0;
}
`
	if err := os.WriteFile(source, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(compile(t, compilers(t)[0], source)).Output()
	want := []string{"hello,0,1040,1,bench-1,42", "load,1,1040,4.213", "temp,2,1040,31.5,,32.7,31.6"}
	if got := bodies(string(out)); err != nil || strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("got %q, %v", got, err)
	}
}
