package main

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// A job is one run of the builder.
type job struct {
	tree, out string // folders: the repository, and where archives go
	platforms []platform
	dirty     bool
	epoch     string // SOURCE_DATE_EPOCH: seconds, or empty
	say       func(format string, args ...any)
}

func (j *job) run(ctx context.Context) (err error) {
	src, err := j.source(ctx)
	if err != nil {
		return err
	}
	temp, err := os.MkdirTemp("", "tetherbell-release-")
	if err != nil {
		return fmt.Errorf("make a folder to build in: %w", err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(temp)) }()
	if err := src.place(ctx, filepath.Join(temp, "source")); err != nil {
		return err
	}
	env, err := goEnv(ctx)
	if err != nil {
		return err
	}
	b := builder{src: src, temp: temp, env: env}
	if err := b.askTool(ctx); err != nil {
		return err
	}
	if err := src.checkTags(b.version); err != nil {
		return err
	}
	j.say("tetherbell %s of %s, %s", b.version, src.name(), src.when.Format(time.RFC3339))
	if err := os.MkdirAll(j.out, 0o755); err != nil {
		return fmt.Errorf("make folder for archives: %w", err)
	}
	var sums []string
	for _, p := range j.platforms {
		name, content, err := b.archive(ctx, p)
		if err != nil {
			return fmt.Errorf("build for %s: %w", p.name(), err)
		}
		if err := os.WriteFile(filepath.Join(j.out, name), content, 0o644); err != nil {
			return fmt.Errorf("write archive: %w", err)
		}
		sum := fmt.Sprintf("%x  %s\n", sha256.Sum256(content), name)
		j.say("%s%9d bytes", strings.TrimSuffix(sum, "\n"), len(content))
		sums = append(sums, sum)
	}
	slices.SortFunc(sums, func(a, b string) int { return strings.Compare(a[sha256.Size*2:], b[sha256.Size*2:]) })
	if err := os.WriteFile(filepath.Join(j.out, "SHA256SUMS"), []byte(strings.Join(sums, "")), 0o644); err != nil {
		return fmt.Errorf("write checksums: %w", err)
	}
	return nil
}
