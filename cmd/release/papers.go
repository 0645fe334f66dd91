package main

import (
	"fmt"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
)

// A paper is what archives hold as it lies in the source.
type paper struct{ name, path string }

// papers are all of them; of a folder all its files. What is for one system alone
// lies in a folder of its name.
var papers = []paper{
	{"README.md", "README.md"},
	{"PROTOCOL.md", "decode/PROTOCOL.md"},
	{"bridge/README.md", "decode/bridge/README.md"},
	{"bridge/benchline.h", "decode/bridge/benchline.h"},
	{"bridge/benchring.h", "decode/bridge/benchring.h"},
	{"bridge/firmware", "decode/bridge/firmware"},
	{"pictures", "testdata/pictures"},
	{"linux/61-bench-bridge.rules", "cmd/release/share/61-bench-bridge.rules"},
	{"linux/tetherbell-watch.service", "cmd/release/share/tetherbell-watch.service"},
}

// systems are those that a folder of an archive may be for.
var systems = []string{"linux", "darwin", "windows"}

// papersOf lists the files that go with a system, folders taken apart.
func papersOf(dir, system string) ([]paper, error) {
	var out []paper
	for _, p := range papers {
		if of, _, within := strings.Cut(p.name, "/"); within && of != system && slices.Contains(systems, of) {
			continue
		}
		info, err := os.Stat(filepath.Join(dir, filepath.FromSlash(p.path)))
		if err != nil {
			return nil, fmt.Errorf("read papers: %w", err)
		}
		if !info.IsDir() {
			out = append(out, p)
			continue
		}
		entries, err := os.ReadDir(filepath.Join(dir, filepath.FromSlash(p.path)))
		if err != nil {
			return nil, fmt.Errorf("read papers: %w", err)
		}
		for _, e := range entries {
			if e.Type().IsRegular() {
				out = append(out, paper{p.name + "/" + e.Name(), p.path + "/" + e.Name()})
			}
		}
	}
	return out, nil
}

// files are what an archive for a platform holds beside the program.
func (b *builder) files(p platform) ([]file, error) {
	list := slices.Clone(b.made)
	have, err := papersOf(b.src.dir, p.system)
	if err != nil {
		return nil, err
	}
	for _, paper := range have {
		content, err := os.ReadFile(filepath.Join(b.src.dir, filepath.FromSlash(paper.path)))
		if err != nil {
			return nil, fmt.Errorf("read papers: %w", err)
		}
		if strings.HasSuffix(paper.name, ".md") {
			content = relinked(content, paper, have)
		}
		list = append(list, file{name: paper.name, content: content})
	}
	return list, nil
}

// mdLink is a link or a picture of Markdown, with its text and where it leads.
var mdLink = regexp.MustCompile(`(!?)\[([^\]]*)\]\(([^)\s]+)\)`)

// outside reports whether a link leads to another place than a file beside.
func outside(to string) bool {
	return strings.Contains(to, "://") || strings.HasPrefix(to, "#") || strings.HasPrefix(to, "mailto:")
}

// relinked turns the links of a paper to where in the archive the files lie. What
// is in the sources alone is named as such, so that no link is dead.
func relinked(text []byte, of paper, have []paper) []byte {
	return mdLink.ReplaceAllFunc(text, func(link []byte) []byte {
		part := mdLink.FindSubmatch(link)
		picture, label, to := string(part[1]), string(part[2]), string(part[3])
		if outside(to) {
			return link
		}
		to, mark, _ := strings.Cut(to, "#")
		source := path.Join(path.Dir(of.path), to)
		for _, p := range have {
			// A folder is there where one of its files is.
			name, within := p.name, p.path
			for ; within != source && path.Dir(within) != "." && path.Dir(name) != "."; name, within = path.Dir(name), path.Dir(within) {
			}
			if within != source {
				continue
			}
			there := leads(path.Dir(of.name), name)
			if mark != "" {
				there += "#" + mark
			}
			return []byte(picture + "[" + label + "](" + there + ")")
		}
		if label == source {
			return []byte("`" + source + "` of the sources")
		}
		return []byte(label + " (`" + source + "` of the sources)")
	})
}

// leads is the way from a folder of the archive to a name in it.
func leads(folder, name string) string {
	way, err := filepath.Rel(filepath.FromSlash(folder), filepath.FromSlash(name))
	if err != nil {
		return name // both are below the archive's folder: it cannot be
	}
	return filepath.ToSlash(way)
}
