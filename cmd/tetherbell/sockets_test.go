package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"strconv"
	"strings"
	"testing"
)

// Nobody can reach the program over a network: no package of ours listens, or
// asks for what could. What speaks to the sound server dials.
func TestNothingListens(t *testing.T) {
	dials := 0
	eachFile(t, func(file string, src []byte) {
		if strings.HasSuffix(file, "_test.go") {
			return
		}
		parsed, err := parser.ParseFile(token.NewFileSet(), file, src, 0)
		if err != nil {
			t.Errorf("%s: %v", file, err)
			return
		}
		for _, spec := range parsed.Imports {
			name, _ := strconv.Unquote(spec.Path.Value)
			switch {
			case name == "net" && strings.HasPrefix(file, "dashboard/sound/"):
				dials++
			case name == "net", strings.HasPrefix(name, "net/"), name == "plugin", name == "crypto/tls":
				t.Errorf("%s imports %s", file, name)
			}
		}
		ast.Inspect(parsed, func(n ast.Node) bool {
			call, ok := n.(*ast.SelectorExpr)
			if ok && (strings.HasPrefix(call.Sel.Name, "Listen") || call.Sel.Name == "Bind" || call.Sel.Name == "FileListener" || call.Sel.Name == "FilePacketConn") {
				t.Errorf("%s: %s", file, call.Sel.Name)
			}
			return true
		})
	})
	if dials == 0 {
		t.Error("the sound server is dialled by nobody: is this test looking at the right files?")
	}
}
