//go:build browser

package inbrowser

import (
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// watch notes what a page says on its console, throws, or fetches.
type watch struct {
	mu     sync.Mutex
	faults []string
	urls   []string
}

func (w *watch) on(ev any) {
	w.mu.Lock()
	defer w.mu.Unlock()
	switch e := ev.(type) {
	case *runtime.EventConsoleAPICalled:
		w.faults = append(w.faults, "console."+string(e.Type))
	case *runtime.EventExceptionThrown:
		w.faults = append(w.faults, "exception: "+e.ExceptionDetails.Text)
	case *log.EventEntryAdded:
		w.faults = append(w.faults, "log: "+e.Entry.Text)
	case *network.EventRequestWillBeSent:
		w.urls = append(w.urls, e.Request.URL)
	}
}

// take gives what was noted and forgets it.
func (w *watch) take() (said, fetched []string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	said, fetched = w.faults, w.urls
	w.faults, w.urls = nil, nil
	return said, fetched
}

// mostOfAFolder is how many pages of a folder are walked: those of fixtures are alike.
const mostOfAFolder = 4

// pagesOf lists the pages of a folder and below it; of many in one folder the first,
// the last and some between.
func pagesOf(t testing.TB, dir string) (out []string) {
	t.Helper()
	by := map[string][]string{}
	err := filepath.WalkDir(dir, func(p string, e fs.DirEntry, err error) error {
		if err == nil && !e.IsDir() && strings.HasSuffix(p, ".html") {
			name, _ := filepath.Rel(dir, p) // below dir: cannot fail
			name = filepath.ToSlash(name)
			by[path.Dir(name)] = append(by[path.Dir(name)], name)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for folder, list := range by {
		if n := len(list); folder != "." && n > mostOfAFolder {
			for i := range mostOfAFolder {
				list[i] = list[i*(n-1)/(mostOfAFolder-1)]
			}
			list = list[:mostOfAFolder]
		}
		out = append(out, list...)
	}
	slices.Sort(out)
	return out
}

// way is one way of looking at a page.
type way struct {
	scheme string
	width  int64
	axe    bool // axe-core looks too, which takes longer
}

var ways = []way{{"light", 1440, true}, {"light", 820, false}, {"dark", 390, true}}

// Walk opens every page of the folder and fails where one says something on its console,
// throws, fetches what does not lie beside it, scrolls sideways, cuts its writing off or
// writes it over each other, leads nowhere, or holds what axe-core, whose script is at
// axe, calls serious. More are places of pages that only their script makes.
func Walk(t testing.TB, dir, axe string, more ...string) {
	t.Helper()
	lib, err := os.ReadFile(axe)
	if err != nil {
		t.Fatalf("%v: run `npm ci` in .ci and the test again", err)
	}
	s, w := Start(t, dir), &watch{}
	w.listen(s)
	w.works(s)
	s.axeWorks(string(lib))
	w.take()
	pages := append(pagesOf(t, dir), more...)
	if len(pages) < 3 {
		t.Fatalf("%d pages in %s", len(pages), dir)
	}
	for _, how := range ways {
		s.Prefer(how.scheme)
		s.Do(chromedp.EmulateViewport(how.width, 900))
		for _, page := range pages {
			s.Open(page)
			found := s.List(faults)
			if how.axe {
				s.Do(chromedp.Evaluate[chromedp.Void](string(lib) + ";0"))
				found = append(found, s.List(serious)...)
			}
			said, fetched := w.take()
			for _, u := range fetched {
				if !strings.HasPrefix(u, "data:,") && u != "about:blank" && (!strings.HasPrefix(u, "file://"+dir+"/") || !beside.MatchString(u)) {
					found = append(found, "fetches "+u)
				}
			}
			if len(fetched) == 0 {
				found = append(found, "nothing was fetched for it: the watch does not work")
			}
			for _, f := range append(found, said...) {
				t.Errorf("%s, %s, %d px: %s", page, how.scheme, how.width, f)
			}
		}
	}
}

var beside = regexp.MustCompile(`/(wane\.(js|css)|data/[a-z0-9-]+\.js|[^/]+\.html)(#.*)?$`)

// serious is what axe-core calls that of a page that is open.
const serious = `axe.run(document, {preload: false, resultTypes: ["violations"]}).then(r => r.violations.filter(v => v.impact === "serious" || v.impact === "critical").map(v => v.id + ": " + v.help + ": " + v.nodes.slice(0, 3).map(n => n.html.slice(0, 160)).join(" | ")))`

func (w *watch) listen(s Shown) {
	s.t.Helper()
	err := chromedp.Listen(s.Ctx, w.on)
	if err == nil {
		_, err = chromedp.Call(s.Ctx, network.Enable, network.EnableParams{})
	}
	if err == nil {
		_, err = chromedp.Call(s.Ctx, log.Enable, cdp.Empty{})
	}
	if err != nil {
		s.t.Fatalf("start Chromium: %v", err)
	}
}

// works fails where a page that errs, and whose writing lies over each other, is
// not seen to.
func (w *watch) works(s Shown) {
	s.t.Helper()
	canary := Shown{s.t, s.Ctx, s.t.TempDir()}
	if err := os.WriteFile(filepath.Join(canary.Dir, "canary.html"), []byte(`<!DOCTYPE html><img src="gone.png"><div class="chart"><svg width="200" height="20"><text x="5" y="15">one word</text><text x="20" y="15">another</text></svg></div><script>console.error("x"); throw new Error("y")</script>`), 0o644); err != nil {
		s.t.Fatal(err)
	}
	canary.Open("canary.html")
	if said, fetched := w.take(); len(said) < 2 || len(fetched) != 2 {
		s.t.Fatalf("of a page that errs the watch saw %q and %q: it does not work", said, fetched)
	}
	if got := canary.List(faults); len(got) != 1 || !strings.Contains(got[0], "lies over") {
		s.t.Fatalf("of writing over writing is said %q: it does not work", got)
	}
}

// axeWorks fails where axe-core does not see a picture without words.
func (s Shown) axeWorks(lib string) {
	s.t.Helper()
	s.Open("index.html")
	s.Do(chromedp.Evaluate[chromedp.Void](`document.querySelector("h1").outerHTML = "<img src='data:,'>"` + ";" +
		lib + ";0"))
	if got := s.List(`axe.run(document, {preload: false, runOnly: ["image-alt"]}).then(r => r.violations.map(v => v.id))`); !slices.Contains(got, "image-alt") {
		s.t.Errorf("of a picture without words axe says %v only: it does not work", got)
	}
}

// faults finds a page that scrolls sideways, writing in a drawing that is cut off by
// its edge or lies over other writing, links that lead nowhere on the page, and ids used twice.
const faults = `(() => {
	const out = [];
	const wide = document.documentElement.scrollWidth;
	if (wide > window.innerWidth) out.push('the page is ' + wide + ' px wide and scrolls sideways');
	for (const svg of document.querySelectorAll('.chart svg')) {
		const box = svg.getBoundingClientRect();
		if (box.width === 0) continue;
		const drawn = [...svg.querySelectorAll('text')];
		for (const t of drawn) {
			const r = t.getBoundingClientRect();
			if (r.left < box.left - 2 || r.right > box.right + 2 || r.top < box.top - 2 || r.bottom > box.bottom + 2)
				out.push('"' + t.textContent + '" is cut off');
			for (const u of drawn.slice(drawn.indexOf(t) + 1)) {
				const q = u.getBoundingClientRect();
				const wide = Math.min(r.right, q.right) - Math.max(r.left, q.left), high = Math.min(r.bottom, q.bottom) - Math.max(r.top, q.top);
				if (wide > 3 && high > 0.45 * Math.min(r.height, q.height))
					out.push('"' + t.textContent + '" lies over "' + u.textContent + '"');
			}
		}
	}
	for (const a of document.querySelectorAll('a[href^="#"]'))
		if (!document.getElementById(a.getAttribute('href').slice(1))) out.push('no ' + a.getAttribute('href'));
	const seen = new Set();
	for (const e of document.querySelectorAll('[id]')) {
		if (seen.has(e.id)) out.push('id ' + e.id + ' twice');
		seen.add(e.id);
	}
	return out;
})()`
