package main

import (
	"bytes"
	"go/ast"
	"go/format"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

const root = "../.."

// topLevel is all that may lie in the repository's first folder.
var topLevel = map[string]bool{
	".ci": true, ".editorconfig": true, ".git": true, ".gitattributes": true, ".gitignore": true,
	"cmd": true, "link": true, "decode": true, "alarms": true, "dashboard": true, "simulator": true, "testdata": true,
	"go.mod": true, "go.sum": true, "README.md": true, "DEVELOPERS.md": true,
	"tetherbell": true, "tetherbell.exe": true, "dist": true, // built, and ignored by git
}

const (
	maxFileLines = 500
	maxFuncLines = 80
)

// eachFile visits every Go file of the repository.
func eachFile(t *testing.T, visit func(path string, src []byte)) {
	t.Helper()
	seen := 0
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		name := d.Name()
		if d.IsDir() && path != root && (strings.HasPrefix(name, ".") || name == "testdata") {
			return filepath.SkipDir
		}
		if d.IsDir() || filepath.Ext(name) != ".go" {
			return nil
		}
		src, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		seen++
		rel, _ := filepath.Rel(root, path)
		visit(filepath.ToSlash(rel), src)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if seen < 20 {
		t.Fatalf("only %d Go files found: looking in the wrong place", seen)
	}
}

func TestTreeIsFormatted(t *testing.T) {
	eachFile(t, func(path string, src []byte) {
		want, err := format.Source(src)
		if err != nil {
			t.Errorf("%s: %v", path, err)
		} else if !bytes.Equal(src, want) {
			t.Errorf("%s: not as gofmt writes it", path)
		}
	})
}

func TestTreeSizes(t *testing.T) {
	eachFile(t, func(path string, src []byte) {
		if n := bytes.Count(src, []byte("\n")); n > maxFileLines {
			t.Errorf("%s: %d lines, at most %d", path, n, maxFileLines)
		}
		set := token.NewFileSet()
		file, err := parser.ParseFile(set, path, src, parser.SkipObjectResolution)
		if err != nil {
			t.Errorf("%s: %v", path, err)
			return
		}
		ast.Inspect(file, func(n ast.Node) bool {
			f, ok := n.(*ast.FuncDecl)
			if ok && f.Body != nil {
				if lines := set.Position(f.End()).Line - set.Position(f.Pos()).Line + 1; lines > maxFuncLines {
					t.Errorf("%s: %s has %d lines, at most %d", path, f.Name.Name, lines, maxFuncLines)
				}
			}
			return true
		})
	})
}

func TestTreeHasComments(t *testing.T) {
	documented := map[string]bool{}
	eachFile(t, func(path string, src []byte) {
		if strings.HasSuffix(path, "_test.go") {
			return
		}
		set := token.NewFileSet()
		file, err := parser.ParseFile(set, path, src, parser.ParseComments|parser.SkipObjectResolution)
		if err != nil {
			t.Errorf("%s: %v", path, err)
			return
		}
		dir := filepath.Dir(path)
		documented[dir] = documented[dir] || file.Doc != nil
		for _, d := range file.Decls {
			for _, name := range undocumented(d) {
				t.Errorf("%s: %s has no comment", path, name)
			}
		}
	})
	for dir, ok := range documented {
		if !ok {
			t.Errorf("%s: no package comment", dir)
		}
	}
}

// undocumented lists the exported names of a declaration that lack a comment.
// A comment over a group, or at the end of a line, counts for values.
func undocumented(d ast.Decl) (names []string) {
	switch d := d.(type) {
	case *ast.FuncDecl:
		if d.Name.IsExported() && d.Doc == nil && !methodOfPrivate(d) {
			names = append(names, d.Name.Name)
		}
	case *ast.GenDecl:
		for _, s := range d.Specs {
			switch s := s.(type) {
			case *ast.TypeSpec:
				if s.Name.IsExported() && s.Doc == nil && d.Doc == nil {
					names = append(names, s.Name.Name)
				}
			case *ast.ValueSpec:
				for _, n := range s.Names {
					if n.IsExported() && s.Doc == nil && s.Comment == nil && d.Doc == nil {
						names = append(names, n.Name)
					}
				}
			}
		}
	}
	return names
}

// methodOfPrivate reports whether a function is a method of a type that no
// other package can name: such a method is exported to meet an interface.
func methodOfPrivate(d *ast.FuncDecl) bool {
	if d.Recv == nil || len(d.Recv.List) == 0 {
		return false
	}
	t := d.Recv.List[0].Type
	if star, ok := t.(*ast.StarExpr); ok {
		t = star.X
	}
	if index, ok := t.(*ast.IndexExpr); ok {
		t = index.X
	}
	id, ok := t.(*ast.Ident)
	return ok && !id.IsExported()
}

func TestTreeTopLevel(t *testing.T) {
	list, err := os.ReadDir(root)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range list {
		if !topLevel[e.Name()] {
			t.Errorf("%s does not belong at the top level", e.Name())
		}
	}
}
