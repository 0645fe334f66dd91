package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"
)

// A source is what is built.
type source struct {
	tree     string    // the repository
	dir      string    // where it is built
	revision string    // of the commit; empty: git cannot tell
	when     time.Time // of the commit, or SOURCE_DATE_EPOCH
	dirty    bool      // the files as they lie, not the commit
	tags     []string  // of the commit
}

// source finds out what there is to build, and refuses what is not committed.
func (j *job) source(ctx context.Context) (*source, error) {
	s := &source{tree: j.tree, dirty: j.dirty}
	seconds := "0"
	head, err := git(ctx, j.tree, "log", "-1", "--format=%H %ct")
	switch {
	case err == nil:
		s.revision, seconds, _ = strings.Cut(head, " ")
	case !j.dirty:
		return nil, err
	}
	if s.revision != "" && !j.dirty {
		changes, err := git(ctx, j.tree, "status", "--porcelain")
		if err != nil {
			return nil, err
		}
		if changes != "" {
			return nil, fmt.Errorf("files differ from the commit: commit them, or build them as they lie with -dirty\n%s", changes)
		}
		tags, err := git(ctx, j.tree, "tag", "--points-at", "HEAD")
		if err != nil {
			return nil, err
		}
		s.tags = strings.Fields(tags)
	}
	n, err := strconv.ParseInt(cmp.Or(j.epoch, seconds), 10, 64)
	if err != nil || n < 0 {
		return nil, fmt.Errorf("SOURCE_DATE_EPOCH is not whole seconds: %q", j.epoch)
	}
	s.when = time.Unix(n, 0).UTC()
	return s, nil
}

// name tells people what is built.
func (s *source) name() string {
	switch {
	case s.revision == "":
		return "files that no commit is known of"
	case s.dirty:
		return s.revision + " and what has changed since"
	}
	return s.revision
}

// place puts what is built into a folder. A commit is cloned, so that nothing
// but it gets in: no file that git ignores, no line end of this machine's taste,
// and no tag, by which the Go tool would name the build, and which one clone
// has and another has not.
func (s *source) place(ctx context.Context, dir string) error {
	if s.dirty {
		s.dir = s.tree
		return nil
	}
	s.dir = dir
	tree, err := filepath.Abs(s.tree)
	if err != nil {
		return fmt.Errorf("find the repository: %w", err)
	}
	// The folder that holds .git: we may stand below it.
	top, err := git(ctx, tree, "rev-parse", "--show-toplevel")
	if err != nil {
		return err
	}
	if _, err := git(ctx, tree, "clone", "--quiet", "--no-tags", "--no-checkout", "--config", "core.autocrlf=false", top, dir); err != nil {
		return err
	}
	_, err = git(ctx, dir, "checkout", "--quiet", "--detach", s.revision)
	return err
}

// checkTags refuses a commit that is tagged as another version than the program
// says that it is.
func (s *source) checkTags(version string) error {
	of := slices.DeleteFunc(slices.Clone(s.tags), func(t string) bool {
		return len(t) < 2 || t[0] != 'v' || t[1] < '0' || t[1] > '9'
	})
	if len(of) == 0 || slices.Contains(of, "v"+version) {
		return nil
	}
	return fmt.Errorf("the commit is tagged %s, but the program says %s: change version in cmd/tetherbell/main.go, or the tag", strings.Join(of, ", "), version)
}

// git runs git in a folder and returns what it says.
func git(ctx context.Context, dir string, args ...string) (string, error) {
	out, err := runIn(exec.CommandContext(ctx, "git", append([]string{"-C", dir}, args...)...))
	return strings.TrimSpace(string(out)), err
}

// runIn runs a command; its error has what the command said of it.
func runIn(cmd *exec.Cmd) ([]byte, error) {
	cmd.WaitDelay = 5 * time.Second // what it started may outlive it where it is interrupted
	out, err := cmd.Output()
	if err == nil {
		return out, nil
	}
	what := strings.Join(cmd.Args[:min(len(cmd.Args), 4)], " ")
	var exit *exec.ExitError
	if errors.As(err, &exit) && len(exit.Stderr) > 0 {
		return nil, fmt.Errorf("%s: %w: %s", what, err, strings.TrimSpace(string(exit.Stderr)))
	}
	return nil, fmt.Errorf("%s: %w", what, err)
}
