package decode

import (
	"math"
	"math/big"
	"math/rand/v2"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

var grammar = regexp.MustCompile(`^-?[0-9]+(\.[0-9]+)?$`)

// checkNumber compares number with the grammar as a regular expression and
// with strconv, Go's own correctly rounding reader.
func checkNumber(t *testing.T, text string) {
	t.Helper()
	v, n, fraction, ok := number([]byte(text))
	field, _, _ := strings.Cut(text, ",")
	want, err := strconv.ParseFloat(field, 64)
	if legal := grammar.MatchString(field) && err == nil; ok != legal {
		t.Fatalf("%q: taken %v, legal %v", text, ok, legal)
	}
	if !ok {
		return
	}
	if n != len(field) || fraction != strings.Contains(field, ".") {
		t.Fatalf("%q: length %d, fraction %v", text, n, fraction)
	}
	if want == 0 {
		want = 0 // minus zero is read as zero
	}
	if math.Float64bits(v) != math.Float64bits(want) {
		t.Fatalf("%q: got %v, want %v", text, v, want)
	}
}

var numbers = []string{
	"0", "-0", "0.0", "-0.000", "1", "-1", "007", "1.50", "4294967295", "0.1", "-9.81", "3.14159265358979",
	// around the border of the fast path: 2^53, 19 digits, 22 places
	"9007199254740992", "9007199254740993", "-9007199254740993", "9007199254740992.5", "0.9007199254740993",
	"9999999999999999999", "18446744073709551615", "18446744073709551616", "99999999999999999999",
	"0.0000000000000000001", "0.00000000000000000000001", "0000000000000000000000000000001.5",
	"123456789012345678901234567890.123456789", "0." + strings.Repeat("0", 200) + "7",
	strings.Repeat("9", 230), strings.Repeat("9", 400),
	// halfway cases that a reader must round to even
	"1.00000000000000011102230246251565404236316680908203125", "9007199254740994.5", "0.500000000000000166533453693773481063544750213623046875",
	// what the grammar forbids
	"", "-", "+1", "--1", ".5", "-.5", "5.", "1.2.3", "1e3", "1E3", "0x10", "inf", "-inf", "nan", "NaN", "Infinity",
	"1_000", " 1", "1 ", "1,2", "1.,2", ",", "-,1", "٣",
}

func TestNumber(t *testing.T) {
	for _, text := range numbers {
		checkNumber(t, text)
	}
}

func TestNumberRandom(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	digits := func(n int) string {
		b := make([]byte, n)
		for i := range b {
			b[i] = '0' + byte(r.IntN(10))
		}
		return string(b)
	}
	for range 200_000 {
		text := digits(1 + r.IntN(12))
		if r.IntN(2) == 0 {
			text = "-" + text
		}
		if r.IntN(3) > 0 {
			text += "." + digits(1+r.IntN(14))
		}
		checkNumber(t, text)
	}
}

// FuzzNumber holds number against a regular expression and strconv.
func FuzzNumber(f *testing.F) {
	for _, text := range numbers {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) { checkNumber(t, text) })
}

// TestBeyondALimit holds numbers beside each whole limit, some nearer than a float64
// can tell, against math/big, which has no rounding.
func TestBeyondALimit(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 15))
	for tag := Unknown + 1; tag < TagCount; tag++ {
		for _, f := range Fields(tag) {
			if f.Min != math.Trunc(f.Min) || f.Max != math.Trunc(f.Max) {
				t.Errorf("%v %s: %g to %g are not whole: beyond does not hold for them", tag, f.Name, f.Min, f.Max)
			}
		}
	}
	outside := 0
	for range 200_000 {
		st := step{min: float64(rng.IntN(3) - 2), max: float64(rng.IntN(1_000_000))}
		limit := []float64{st.min, st.max}[rng.IntN(2)]
		small := new(big.Rat).SetFrac(big.NewInt(rng.Int64N(3)-1), new(big.Int).Exp(big.NewInt(10), big.NewInt(1+rng.Int64N(30)), nil))
		exact := new(big.Rat).SetFloat64(limit)
		exact.Add(exact, small)
		text := exact.FloatString(1 + rng.IntN(31))
		exact.SetString(text) // as it is written
		v, n, _, ok := number([]byte(text))
		if !ok {
			t.Fatal(text)
		}
		if n > exactLength && (v == st.min || v == st.max) {
			v = st.beyond([]byte(text), v)
		}
		least, most := new(big.Rat).SetFloat64(st.min), new(big.Rat).SetFloat64(st.max)
		want := exact.Cmp(least) < 0 || exact.Cmp(most) > 0
		if got := v < st.min || v > st.max; got != want {
			t.Fatalf("%s in [%g, %g]: outside %v, is %v", text, st.min, st.max, got, want)
		}
		if want {
			outside++
		}
	}
	if outside < 10_000 {
		t.Errorf("%d outside: this tries nothing", outside)
	}
}
