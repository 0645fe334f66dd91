package main

import (
	"cmp"
	"fmt"
	"runtime/debug"
	"strings"
)

// buildInfo is what the Go tool noted in this program; nil: nothing.
func buildInfo() *debug.BuildInfo {
	info, _ := debug.ReadBuildInfo()
	return info
}

// buildText words what a program was built from, for whoever has to say which
// one it was. What was not noted (no repository, or the Go tool was told not to
// look) is said to be unknown, never guessed.
func buildText(info *debug.BuildInfo) string {
	if info == nil {
		return "build     unknown: the program carries no notes of it\n"
	}
	set := map[string]string{}
	for _, s := range info.Settings {
		set[s.Key] = s.Value
	}
	var b strings.Builder
	revision := "unknown: built without version control"
	if set["vcs.revision"] != "" {
		revision = set["vcs.revision"]
		if set["vcs.modified"] == "true" {
			revision += ", with changes that are not in it"
		}
	}
	fmt.Fprintf(&b, "revision  %s\n", revision)
	if set["vcs.time"] != "" {
		fmt.Fprintf(&b, "of        %s\n", set["vcs.time"])
	}
	fmt.Fprintf(&b, "built by  %s for %s\n", cmp.Or(info.GoVersion, "an unknown Go"), platformOf(set))
	return b.String()
}

// platformOf is the system and processor of a build, with the level of the
// instruction set where programs of one level do not run on every processor.
func platformOf(set map[string]string) string {
	if set["GOOS"] == "" || set["GOARCH"] == "" {
		return "an unknown platform"
	}
	name := set["GOOS"] + "/" + set["GOARCH"]
	for _, level := range []string{"GOARM", "GOAMD64", "GOARM64"} {
		if v := set[level]; v != "" {
			name += " " + v
		}
	}
	return name
}

// builtFrom is when the commit was made that the program was built from, in
// RFC 3339; empty where that is not known.
func builtFrom(info *debug.BuildInfo) string {
	if info == nil {
		return ""
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.time" {
			return s.Value
		}
	}
	return ""
}
