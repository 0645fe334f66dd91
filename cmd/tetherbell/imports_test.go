package main

import (
	"go/parser"
	"go/token"
	"path"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// mayImport says which of our own packages each may know. Test files are
// exempt: a test of the engine may use the simulator.
var mayImport = map[string][]string{
	"link":             {},
	"decode/craft":     {},
	"decode":           {"decode/craft"},
	"decode/bridge":    {"decode", "decode/craft"},
	"alarms/window":    {"decode"},
	"alarms/tone":      {},
	"alarms/detect":    {"decode", "decode/craft", "alarms/window", "alarms/tone"},
	"alarms":           {"decode", "decode/craft", "alarms/window", "alarms/detect"},
	"alarms/cable":     {"decode"},
	"alarms/runcard":   {"decode", "decode/craft", "alarms", "alarms/detect"},
	"alarms/account":   {"decode", "decode/craft", "alarms", "alarms/detect", "alarms/runcard", "alarms/tone"},
	"alarms/compare":   {"decode", "decode/craft", "alarms", "alarms/detect", "alarms/account", "alarms/tone"},
	"alarms/hearing":   {"decode", "decode/craft", "alarms", "alarms/detect", "alarms/tone"},
	"alarms/sweep":     {"decode", "decode/craft", "alarms", "alarms/detect", "simulator"},
	"simulator":        {"decode", "decode/craft"},
	"dashboard/vigil":  {},
	"dashboard/sound":  {"alarms", "alarms/detect", "dashboard/vigil"},
	"dashboard/report": {"decode", "alarms/account", "alarms/compare"},
	"dashboard/table":  {"decode", "alarms", "alarms/detect"},
	"simulator/drill":  {},
	"simulator/spoil":  {"decode"},
	"dashboard":        {"decode", "decode/craft", "alarms", "alarms/detect", "alarms/runcard", "dashboard/sound", "dashboard/vigil"},
	"cmd/hearing":      {"alarms/hearing"},
	"cmd/sweep":        {"alarms/sweep"},
	"cmd/screens":      {},
	"cmd/release":      {},
	"cmd/tetherbell": {"link", "decode", "decode/craft", "alarms", "alarms/detect", "alarms/runcard",
		"alarms/account", "alarms/cable", "alarms/compare", "dashboard", "dashboard/sound", "dashboard/report", "dashboard/table", "dashboard/vigil", "simulator", "simulator/drill", "simulator/spoil"},
}

// onlyIn names the libraries that one package keeps from the others.
var onlyIn = map[string]string{
	"go.bug.st/serial":                               "link",
	"github.com/rivo/tview":                          "dashboard",
	"github.com/gdamore/tcell/v2":                    "dashboard",
	"github.com/jfreymuth/pulse":                     "dashboard/sound",
	"github.com/ebitengine/oto/v3":                   "dashboard/sound",
	"github.com/parquet-go/parquet-go":               "dashboard/table",
	"github.com/klauspost/compress":                  "link",
	"github.com/SaveTheRbtz/zstd-seekable-format-go": "link",
	"github.com/spf13/cobra":                         "cmd/tetherbell",
	"github.com/creack/pty":                          "cmd/tetherbell",
}

func TestImports(t *testing.T) {
	eachFile(t, func(file string, src []byte) {
		if strings.HasSuffix(file, "_test.go") {
			return
		}
		parsed, err := parser.ParseFile(token.NewFileSet(), file, src, parser.ImportsOnly)
		if err != nil {
			t.Errorf("%s: %v", file, err)
			return
		}
		pkg := path.Dir(file)
		allowed, known := mayImport[pkg]
		if !known {
			t.Errorf("%s: package %s is not in the import table", file, pkg)
			return
		}
		for _, spec := range parsed.Imports {
			name, err := strconv.Unquote(spec.Path.Value)
			if err != nil {
				t.Fatal(err)
			}
			if ours, ok := strings.CutPrefix(name, "tetherbell/"); ok && !slices.Contains(allowed, ours) {
				t.Errorf("%s: %s may not import %s", file, pkg, ours)
			}
			for lib, home := range onlyIn {
				if (name == lib || strings.HasPrefix(name, lib+"/")) && pkg != home {
					t.Errorf("%s: %s is for %s alone", file, lib, home)
				}
			}
		}
	})
}

// The engine's side must say the same of the same input, whenever it is
// asked: it may not look at a clock.
func TestNoClock(t *testing.T) {
	eachFile(t, func(file string, src []byte) {
		for _, dir := range []string{"decode/", "alarms/", "simulator/"} {
			if !strings.HasPrefix(file, dir) || strings.HasSuffix(file, "_test.go") {
				continue
			}
			for _, word := range []string{"time.Now", "time.Since", "time.Until"} {
				if strings.Contains(string(src), word) {
					t.Errorf("%s: %s", file, word)
				}
			}
		}
	})
}
