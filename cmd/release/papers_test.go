package main

import (
	"path"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Every link of every Markdown file in an archive leads to a file or a folder in
// it, and what a firmware writer needs is there.
func TestNoDeadLinks(t *testing.T) {
	b := builder{src: &source{dir: "../.."}}
	for _, p := range platforms {
		list, err := b.files(p)
		require.NoError(t, err)
		there := map[string]bool{}
		for _, f := range list {
			for name := f.name; name != "."; name = path.Dir(name) {
				there[name] = true
			}
		}
		for _, name := range []string{"README.md", "PROTOCOL.md", "bridge/README.md", "bridge/benchline.h", "bridge/benchring.h", "bridge/firmware/firmware.c", "bridge/firmware/host.c"} {
			assert.True(t, there[name], name)
		}
		assert.Equal(t, p.system == "linux", there["linux"])
		links := 0
		for _, f := range list {
			if !strings.HasSuffix(f.name, ".md") {
				continue
			}
			for _, part := range mdLink.FindAllSubmatch(f.content, -1) {
				to := string(part[3])
				if outside(to) {
					continue
				}
				links++
				to, _, _ = strings.Cut(to, "#")
				assert.True(t, there[path.Join(path.Dir(f.name), to)], "%s of %s leads to %s", part[0], f.name, to)
			}
		}
		assert.Greater(t, links, 8)
	}
}

func TestRelinked(t *testing.T) {
	have := []paper{{"README.md", "README.md"}, {"PROTOCOL.md", "decode/PROTOCOL.md"}, {"bridge/README.md", "decode/bridge/README.md"}, {"bridge/firmware/a.c", "decode/bridge/firmware/a.c"}}
	for _, c := range []struct {
		of         int
		text, want string
	}{
		{0, "see [decode/PROTOCOL.md](decode/PROTOCOL.md#sum) and [b](decode/bridge/README.md)", "see [decode/PROTOCOL.md](PROTOCOL.md#sum) and [b](bridge/README.md)"},
		{0, "[DEVELOPERS.md](DEVELOPERS.md), [how](alarms/x)", "`DEVELOPERS.md` of the sources, how (`alarms/x` of the sources)"},
		{0, "[kit](decode/bridge) [net](https://example.org/x) [here](#a)", "[kit](bridge) [net](https://example.org/x) [here](#a)"},
		{1, "[kit](bridge/README.md)", "[kit](bridge/README.md)"},
		{2, "[p](../PROTOCOL.md) [firmware](firmware) ![x](../../none.svg)", "[p](../PROTOCOL.md) [firmware](firmware) x (`none.svg` of the sources)"},
	} {
		assert.Equal(t, c.want, string(relinked([]byte(c.text), have[c.of], have)))
	}
}
