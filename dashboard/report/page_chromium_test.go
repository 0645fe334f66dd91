package report

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// looker measures pages in frames of several widths, as a browser lays them
// out, and leaves what it found as JSON in its own body.
const looker = `<!DOCTYPE html><html><head><link rel="icon" href="data:,"></head><body><pre id="found"></pre><script>
const pages = PAGES, widths = [400, 1280, 1920], found = [];
const over = (a, b) => a.left < b.right - 1 && b.left < a.right - 1 && a.top < b.bottom - 2 && b.top < a.bottom - 2;
function look(doc, page, width) {
  const say = (what, e) => found.push(page + " at " + width + ": " + what + ": " + (e ? (e.id || e.className.baseVal || e.className || e.tagName) + " " + e.textContent.slice(0, 50) : ""));
  if (doc.documentElement.scrollWidth > width) say("wider than the screen: " + doc.documentElement.scrollWidth);
  for (const e of doc.querySelectorAll("body *")) {
    if (e.closest(".scroll") && !e.classList.contains("scroll") || e.classList.contains("skip") || e.closest("details:not([open])")) continue;
    const r = e.getBoundingClientRect();
    if (r.width && (r.right > width + 1 || r.left < -1)) say("leaves the screen", e);
  }
  for (const svg of doc.querySelectorAll("svg")) {
    const box = svg.getBoundingClientRect();
    if (!box.width) say("has no size", svg);
    const texts = [...svg.querySelectorAll("text")], rects = texts.map(t => t.getBoundingClientRect());
    texts.forEach((t, i) => {
      const size = 12 * box.width / svg.viewBox.baseVal.width;
      if (size < 9) say("letters of " + size + " px", t);
      if (rects[i].left < box.left - 1 || rects[i].right > box.right + 1 || rects[i].top < box.top - 1 || rects[i].bottom > box.bottom + 1) say("leaves its picture", t);
      for (let k = 0; k < i; k++) if (over(rects[i], rects[k])) say("covers " + texts[k].textContent, t);
    });
  }
}
(async () => {
  for (const page of pages) for (const width of widths) {
    const f = document.createElement("iframe");
    f.style.cssText = "border:0;height:900px;width:" + width + "px";
    f.src = page;
    await new Promise(done => { f.onload = done; document.body.append(f); });
    look(f.contentDocument, page, width);
    f.remove();
  }
  document.getElementById("found").textContent = JSON.stringify({done: pages.length * widths.length, found});
})();
</script></body></html>`

// findBrowser finds a browser, or nothing.
func findBrowser() string {
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	return ""
}

// In a browser nothing is asked for from outside, nothing is complained of,
// nothing leaves the screen but what scrolls, and no text covers another.
func TestPageInABrowser(t *testing.T) {
	browser := findBrowser()
	if browser == "" || testing.Short() {
		t.Skip("no chromium here, or no time for it")
	}
	crowded := rich(3600)
	for i := range 30 {
		a := crowded.Alarms[i%5]
		a.At += float64(i * 7)
		crowded.Alarms = append(crowded.Alarms, a)
	}
	pages := map[string][]byte{}
	var names []string
	for name, r := range pagesUnderTest() {
		pages["/"+name] = []byte(rendered(t, r, HTML))
		names = append(names, name)
	}
	pages["/crowded"] = []byte(rendered(t, reportOf(crowded), HTML))
	names = append(names, "crowded")
	for i, path := range filepath.SplitList(os.Getenv("TETHERBELL_PAGES")) { // pages of one's own
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		name := "own-" + strconv.Itoa(i)
		pages["/"+name], names = text, append(names, name)
	}
	list, err := json.Marshal(names)
	require.NoError(t, err)
	pages["/look"] = []byte(strings.Replace(looker, "PAGES", string(list), 1))

	var mu sync.Mutex
	var strange []string
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		page, ok := pages[r.URL.Path]
		if !ok {
			mu.Lock()
			strange = append(strange, r.URL.String())
			mu.Unlock()
			http.NotFound(w, r)
			return
		}
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		_, _ = w.Write(page)
	}))
	defer server.Close()

	// The browser's own processes may outlive it for a moment: they still write into
	// its folder, and hold its output.
	profile, err := os.MkdirTemp("", "pages")
	require.NoError(t, err)
	defer os.RemoveAll(profile)
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Minute)
	defer cancel()
	cmd := exec.CommandContext(ctx, browser, "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-extensions",
		"--disable-background-networking", "--user-data-dir="+profile, "--enable-logging=stderr", "--window-size=2000,1000",
		"--virtual-time-budget=60000", "--dump-dom", server.URL+"/look")
	cmd.WaitDelay = 10 * time.Second
	var stderr strings.Builder
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if !errors.Is(err, exec.ErrWaitDelay) { // it has ended in order, and its output was closed for it
		require.NoError(t, err, stderr.String())
	}
	m := regexp.MustCompile(`(?s)<pre id="found">(\{.*?\})</pre>`).FindSubmatch(out)
	require.NotNil(t, m, "the browser did not get to the end: %.500s", out)
	var got struct {
		Done  int      `json:"done"`
		Found []string `json:"found"`
	}
	require.NoError(t, json.Unmarshal(m[1], &got))
	assert.Equal(t, 3*len(names), got.Done)
	for _, f := range got.Found {
		t.Error(f)
	}
	for line := range strings.Lines(stderr.String()) {
		assert.NotContains(t, line, "CONSOLE")
	}
	mu.Lock()
	defer mu.Unlock()
	assert.Empty(t, strange, "nothing is asked for")
}
