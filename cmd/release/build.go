package main

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
)

// A platform is what a program is built for.
type platform struct {
	system, processor string   // as Go calls them
	level             []string // the oldest processors that it shall run on
}

// platforms are those that there is a download for. On 32-bit ARM it is version
// 7: the bench computers of today, and floating point in hardware.
var platforms = []platform{
	{"linux", "amd64", []string{"GOAMD64=v1"}},
	{"linux", "arm64", []string{"GOARM64=v8.0"}},
	{"linux", "arm", []string{"GOARM=7"}},
	{"darwin", "arm64", []string{"GOARM64=v8.0"}},
	{"darwin", "amd64", []string{"GOAMD64=v1"}},
	{"windows", "amd64", []string{"GOAMD64=v1"}},
}

// name is how downloads call a platform.
func (p platform) name() string {
	if p.processor == "arm" {
		return p.system + "-armv7"
	}
	return p.system + "-" + p.processor
}

// A builder makes programs and archives of one source.
type builder struct {
	src     *source
	temp    string
	env     []string
	version string
	made    []file // manual page and completions, the same for all platforms
}

// goEnv is the environment that programs are built in: this one, without what
// changes the code (GOFLAGS, GOEXPERIMENT and whatever comes), be it set here or
// kept by go env -w. Where modules come from and where they lie is left alone.
func goEnv(ctx context.Context) ([]string, error) {
	keep := []string{"GOCACHE", "GOMODCACHE", "GOPATH", "GOPROXY", "GOSUMDB", "GONOSUMDB", "GONOPROXY", "GOPRIVATE", "GOTOOLCHAIN", "GOROOT", "GOTMPDIR"}
	out, err := runIn(exec.CommandContext(ctx, "go", append([]string{"env", "-json"}, keep...)...))
	if err != nil {
		return nil, err
	}
	var have map[string]string
	if err := json.Unmarshal(out, &have); err != nil {
		return nil, fmt.Errorf("read go env: %w", err)
	}
	var env []string
	for _, e := range os.Environ() {
		if !strings.HasPrefix(e, "GO") && !strings.HasPrefix(e, "CGO_") {
			env = append(env, e)
		}
	}
	for _, name := range keep {
		if v := have[name]; v != "" {
			env = append(env, name+"="+v)
		}
	}
	return append(env, "GOENV=off", "GOWORK=off", "CGO_ENABLED=0"), nil
}

// build builds the program for a platform and returns its bytes.
func (b *builder) build(ctx context.Context, p platform) ([]byte, error) {
	path := filepath.Join(b.temp, "built-"+p.name())
	if err := b.buildTo(ctx, path, append([]string{"GOOS=" + p.system, "GOARCH=" + p.processor}, p.level...)); err != nil {
		return nil, err
	}
	content, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("read what was built: %w", err)
	}
	return content, os.Remove(path)
}

func (b *builder) buildTo(ctx context.Context, path string, env []string) error {
	note := b.src.revision != ""
	cmd := exec.CommandContext(ctx, "go", "build", "-mod=readonly", "-trimpath", "-buildvcs="+strconv.FormatBool(note),
		"-ldflags=-s -w", "-o", path, "./cmd/tetherbell")
	cmd.Dir = b.src.dir
	cmd.Env = append(slices.Clone(b.env), env...)
	_, err := runIn(cmd)
	return err
}

// askTool builds the program for this machine, and asks it for its version, its
// manual page and its completions.
func (b *builder) askTool(ctx context.Context) error {
	tool := filepath.Join(b.temp, "tetherbell")
	if runtime.GOOS == "windows" {
		tool += ".exe"
	}
	if err := b.buildTo(ctx, tool, nil); err != nil {
		return err
	}
	ask := func(args ...string) ([]byte, error) {
		cmd := exec.CommandContext(ctx, tool, args...)
		cmd.Env = append(os.Environ(), "SOURCE_DATE_EPOCH="+strconv.FormatInt(b.src.when.Unix(), 10))
		return runIn(cmd)
	}
	said, err := ask("--version")
	if err != nil {
		return err
	}
	first, _, _ := strings.Cut(string(said), "\n")
	if b.version = strings.TrimPrefix(strings.TrimSpace(first), "tetherbell "); b.version == "" || strings.ContainsAny(b.version, ` /\`) {
		return fmt.Errorf("the program says %q of its version", first)
	}
	for _, f := range []struct {
		name string
		args []string
	}{
		{"tetherbell.1", []string{"man"}},
		{"completions/tetherbell.bash", []string{"completion", "bash"}},
		{"completions/_tetherbell", []string{"completion", "zsh"}},
		{"completions/tetherbell.fish", []string{"completion", "fish"}},
		{"completions/tetherbell.ps1", []string{"completion", "powershell"}},
	} {
		content, err := ask(f.args...)
		if err != nil {
			return err
		}
		b.made = append(b.made, file{name: f.name, content: content})
	}
	return nil
}

// archive builds for a platform and packs; it returns the archive's name too.
func (b *builder) archive(ctx context.Context, p platform) (string, []byte, error) {
	program, err := b.build(ctx, p)
	if err != nil {
		return "", nil, err
	}
	list, err := b.files(p)
	if err != nil {
		return "", nil, err
	}
	folder := "tetherbell-" + b.version + "-" + p.name()
	if p.system == "windows" {
		content, err := zipped(folder, append(list, file{"tetherbell.exe", program, true}), b.src.when)
		return folder + ".zip", content, err
	}
	content, err := tarred(folder, append(list, file{"tetherbell", program, true}), b.src.when)
	return folder + ".tar.gz", content, err
}
