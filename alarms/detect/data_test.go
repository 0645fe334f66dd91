package detect

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// openData reads a table of the open records and reference data, heading
// included. They are not part of the project: TETHERBELL_DATA names the folder
// that holds them, and without it the test is skipped.
func openData(t *testing.T, name string) [][]string {
	t.Helper()
	dir := os.Getenv("TETHERBELL_DATA")
	if dir == "" {
		t.Skip("TETHERBELL_DATA is not set: the open records are not here")
	}
	f, err := os.Open(filepath.Join(dir, filepath.FromSlash(name)))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// openNumbers reads the numbers below the heading of such a table.
func openNumbers(t *testing.T, name string) [][]float64 {
	t.Helper()
	rows := openData(t, name)
	out := make([][]float64, 0, len(rows)-1)
	for _, r := range rows[1:] {
		v := make([]float64, len(r))
		for i, w := range r {
			v[i] = number(t, w)
		}
		out = append(out, v)
	}
	return out
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}
