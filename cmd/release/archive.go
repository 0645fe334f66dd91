package main

import (
	"archive/tar"
	"archive/zip"
	"bytes"
	"compress/gzip"
	"fmt"
	"slices"
	"strings"
	"time"
)

// A file is what goes into an archive.
type file struct {
	name    string // with slashes
	content []byte
	runs    bool // it may be executed
}

func (f *file) mode() int64 {
	if f.runs {
		return 0o755
	}
	return 0o644
}

func sorted(files []file) []file {
	files = slices.Clone(files)
	slices.SortFunc(files, func(a, b file) int { return strings.Compare(a.name, b.name) })
	return files
}

// tarred packs files below a folder into a tar.gz: by name, all of one time,
// owned by nobody in particular, so that nothing of this machine gets in. The
// oldest form of tar that has room for our names is one that all can read.
func tarred(folder string, files []file, when time.Time) ([]byte, error) {
	var out bytes.Buffer
	squeeze, err := gzip.NewWriterLevel(&out, gzip.BestCompression) // its header is left without name and time
	if err != nil {
		return nil, fmt.Errorf("pack: %w", err)
	}
	pack := tar.NewWriter(squeeze)
	for _, f := range sorted(files) {
		head := &tar.Header{Typeflag: tar.TypeReg, Name: folder + "/" + f.name, Size: int64(len(f.content)),
			Mode: f.mode(), ModTime: when, Format: tar.FormatUSTAR}
		if err := pack.WriteHeader(head); err != nil {
			return nil, fmt.Errorf("pack %s: %w", f.name, err)
		}
		if _, err := pack.Write(f.content); err != nil {
			return nil, fmt.Errorf("pack %s: %w", f.name, err)
		}
	}
	if err := pack.Close(); err != nil {
		return nil, fmt.Errorf("pack: %w", err)
	}
	if err := squeeze.Close(); err != nil {
		return nil, fmt.Errorf("pack: %w", err)
	}
	return out.Bytes(), nil
}

// firstZip is the earliest time that a zip archive can hold.
var firstZip = time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)

// zipped does the same as a zip.
func zipped(folder string, files []file, when time.Time) ([]byte, error) {
	if when.Before(firstZip) {
		when = firstZip
	}
	var out bytes.Buffer
	pack := zip.NewWriter(&out)
	for _, f := range sorted(files) {
		head := &zip.FileHeader{Name: folder + "/" + f.name, Method: zip.Deflate, Modified: when.UTC()}
		w, err := pack.CreateHeader(head)
		if err == nil {
			_, err = w.Write(f.content)
		}
		if err != nil {
			return nil, fmt.Errorf("pack %s: %w", f.name, err)
		}
	}
	if err := pack.Close(); err != nil {
		return nil, fmt.Errorf("pack: %w", err)
	}
	return out.Bytes(), nil
}
