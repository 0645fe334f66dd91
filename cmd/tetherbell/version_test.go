package main

import (
	"runtime/debug"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestBuildText(t *testing.T) {
	info := func(pairs ...string) *debug.BuildInfo {
		b := &debug.BuildInfo{GoVersion: "go1.26.8"}
		for i := 0; i < len(pairs); i += 2 {
			b.Settings = append(b.Settings, debug.BuildSetting{Key: pairs[i], Value: pairs[i+1]})
		}
		return b
	}
	for name, tc := range map[string]struct {
		info *debug.BuildInfo
		want string
	}{
		"a release": {
			info("GOOS", "linux", "GOARCH", "arm", "GOARM", "7", "vcs.revision", "5b625dc", "vcs.time", "2026-11-27T14:15:41Z", "vcs.modified", "false"),
			"revision  5b625dc\nof        2026-11-27T14:15:41Z\nbuilt by  go1.26.8 for linux/arm 7\n",
		},
		"changed": {
			info("GOOS", "darwin", "GOARCH", "arm64", "vcs.revision", "5b625dc", "vcs.modified", "true"),
			"revision  5b625dc, with changes that are not in it\nbuilt by  go1.26.8 for darwin/arm64\n",
		},
		"no repository": {
			info("GOOS", "windows", "GOARCH", "amd64", "GOAMD64", "v1"),
			"revision  unknown: built without version control\nbuilt by  go1.26.8 for windows/amd64 v1\n",
		},
		"no notes": {nil, "build     unknown: the program carries no notes of it\n"},
	} {
		t.Run(name, func(t *testing.T) { assert.Equal(t, tc.want, buildText(tc.info)) })
	}
}
