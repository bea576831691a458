package conformance

import (
	"bytes"
	"encoding/json"
	"fmt"
	"html"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"ropewalk/conformance/outside"
)

// axeRun shows what axe-core finds once everything is folded out. The tags are those of
// the Web Content Accessibility Guidelines 2.2, levels A and AA, and axe-core's own advice.
const axeRun = `<script src="/axe.min.js"></script><script>
document.querySelectorAll('details').forEach(d => { d.open = true })
axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice']}).then(r => {
  const brief = list => list.map(v => ({rule: v.id, help: v.help, nodes: v.nodes.map(n => n.target.join(' ') + ': ' + n.html.slice(0, 120) + ' ' + (n.any[0]?.message ?? ''))}))
  const out = document.createElement('pre')
  out.id = 'axe'
  out.textContent = JSON.stringify({violations: brief(r.violations), open: brief(r.incomplete), passes: r.passes.map(p => p.id), width: innerWidth, dark: matchMedia('(prefers-color-scheme: dark)').matches})
  document.body.replaceChildren(out)
})
</script>`

type axeResult struct {
	Violations, Open []struct {
		Rule, Help string
		Nodes      []string
	}
	Passes []string
	Width  int
	Dark   bool
}

var axeOutput = regexp.MustCompile(`<pre id="axe">([^<]*)</pre>`)

// axe is a browser that looks at pages with axe-core.
type axe struct {
	t      testing.TB
	server *httptest.Server
	home   string
}

// newAxe serves pages by path, with axe-core in them.
func newAxe(t testing.TB, page func(path string) []byte) *axe {
	t.Helper()
	script, err := os.ReadFile(filepath.Join(outside.Room(t), "node_modules", "axe-core", "axe.min.js"))
	if err != nil {
		outside.Missing(t, "axe-core: run npm ci in conformance")
	}
	if _, err := exec.LookPath("chromium"); err != nil {
		outside.Missing(t, "chromium")
	}
	a := &axe{t: t, home: t.TempDir()}
	a.server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/axe.min.js" {
			_, _ = w.Write(script)
			return
		}
		body := page(r.URL.Path)
		if bytes.Contains(body, []byte("</body>")) {
			body = bytes.Replace(body, []byte("</body>"), []byte(axeRun+"</body>"), 1)
			w.Header().Set("Content-Type", "text/html; charset=utf-8")
		}
		_, _ = w.Write(body)
	}))
	t.Cleanup(a.server.Close)
	return a
}

func (a *axe) look(path string, width int, dark bool) axeResult {
	a.t.Helper()
	args := []string{"--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run", "--user-data-dir=" + a.home,
		fmt.Sprintf("--window-size=%d,900", width), "--virtual-time-budget=60000", "--dump-dom"}
	if dark {
		args = append(args, "--blink-settings=preferredColorScheme=0")
	}
	var errs bytes.Buffer
	cmd := exec.Command("chromium", append(args, a.server.URL+path)...)
	cmd.Stderr = &errs
	out, err := cmd.Output()
	m := axeOutput.FindSubmatch(out)
	if err != nil || m == nil {
		a.t.Fatalf("%s: no result of axe-core: %v\n%s", path, err, errs.String())
	}
	var r axeResult
	if err := json.Unmarshal([]byte(html.UnescapeString(string(m[1]))), &r); err != nil {
		a.t.Fatal(err)
	}
	if r.Dark != dark || (r.Width > 700) != (width > 700) {
		a.t.Fatalf("%s: the window is %d wide (dark: %v), not %d (dark: %v)", path, r.Width, r.Dark, width, dark)
	}
	return r
}

// TestAccessible lets axe-core look at the pages of the server and at the report of the
// concordance in a browser: wide and light, narrow and dark, everything folded out.
func TestAccessible(t *testing.T) {
	if !outside.Long() {
		t.Skip("NOT TESTED here: ROPEWALK_LONG=1 runs it, as .ci/run does")
	}
	s := serveDemo(t)
	report := filepath.Join(t.TempDir(), "concordance.html")
	s.run("concordance", s.dir, "--format", "html", "--out", report)
	a := newAxe(t, func(path string) []byte {
		switch path {
		case "/concordance-report":
			b, err := os.ReadFile(report)
			if err != nil {
				t.Error(err)
			}
			return b
		case "/bad":
			return []byte(`<!doctype html><html><head><title>x</title></head><body><img src="data:,"><p style="color:#ccc;background:#fff">pale</p></body></html>`)
		}
		_, body := s.get(path, "Accept: text/html")
		return body
	})
	// What it can find: a page that is wrong in three ways.
	found := fmt.Sprint(a.look("/bad", 1280, false).Violations)
	for _, rule := range []string{"image-alt", "color-contrast", "html-has-lang"} {
		if !strings.Contains(found, rule) {
			t.Errorf("a page that breaks %s is let pass: %s", rule, found)
		}
	}
	for _, path := range []string{"/concordance-report", "/", "/object/", "/object/1926.17", "/object/1908.3.2"} {
		for _, view := range []struct {
			width int
			dark  bool
		}{{1280, false}, {400, true}} {
			r := a.look(path, view.width, view.dark)
			if len(r.Passes) < 10 {
				t.Errorf("%s: only %v were asked", path, r.Passes)
			}
			for _, v := range r.Violations {
				t.Errorf("%s, %+v: %s: %s\n\t%s", path, view, v.Rule, v.Help, strings.Join(v.Nodes[:min(5, len(v.Nodes))], "\n\t"))
			}
			for _, v := range r.Open {
				t.Logf("%s, %+v: axe-core can't tell: %s, %d elements, such as %s", path, view, v.Rule, len(v.Nodes), v.Nodes[0])
			}
		}
	}
}
