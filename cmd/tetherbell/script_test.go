package main

import (
	"bytes"
	"errors"
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

var update = flag.Bool("update", false, "rewrite what the scripts expect")

// The test binary is tetherbell too, so that scripts and tests run the real
// main in a process of its own.
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"tetherbell": main})
}

func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 "../../testdata/scripts",
		UpdateScripts:       *update,
		RequireExplicitExec: true,
		// Where the recordings of the drill are.
		Setup: func(e *testscript.Env) error {
			dir, err := filepath.Abs("../../testdata/drill")
			e.Setenv("DRILL", dir)
			return err
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits": exits,
			"chop":  chop,
		},
	})
}

// exits CODE PROGRAM ARGS... runs a program that must end with that very code.
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits CODE PROGRAM ARGS...")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	got := 0
	var exit *exec.ExitError
	switch err := ts.Exec(args[1], args[2:]...); {
	case errors.As(err, &exit):
		got = exit.ExitCode()
	case err != nil:
		ts.Fatalf("run %s: %v", args[1], err)
	}
	if got != want {
		ts.Fatalf("exit status %d, want %d", got, want)
	}
}

// chop FILE takes the last line feed off, for files that are torn.
func chop(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: chop FILE")
	}
	path := ts.MkAbs(args[0])
	data, err := os.ReadFile(path)
	ts.Check(err)
	ts.Check(os.WriteFile(path, bytes.TrimSuffix(data, []byte("\n")), 0o600))
}
