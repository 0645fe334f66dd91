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
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

var update = flag.Bool("update", false, "rewrite what the scripts expect")

// programs are what the test binary is too, by its name, so that scripts and tests
// run the real main in a process of its own.
var programs = map[string]func(){"tetherbell": stallingMain}

func TestMain(m *testing.M) {
	testscript.Main(strangers{m}, programs)
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
			"exits":  exits,
			"chop":   chop,
			"half":   half,
			"age":    age,
			"append": appendLine,
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

// half FILE takes the second half off.
func half(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: half FILE")
	}
	path := ts.MkAbs(args[0])
	info, err := os.Stat(path)
	ts.Check(err)
	ts.Check(os.Truncate(path, info.Size()/2))
}

// age FILE HOURS makes it so old; -1 is an hour to come, so that it stays fresh
// however slow the script is.
func age(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: age FILE HOURS")
	}
	hours, err := strconv.Atoi(args[1])
	ts.Check(err)
	then := time.Now().Add(-time.Duration(hours) * time.Hour)
	ts.Check(os.Chtimes(ts.MkAbs(args[0]), then, then))
}

// append FILE LINE adds a line.
func appendLine(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: append FILE LINE")
	}
	path := ts.MkAbs(args[0])
	data, err := os.ReadFile(path)
	ts.Check(err)
	ts.Check(os.WriteFile(path, append(data, args[1]+"\n"...), 0o600))
}
