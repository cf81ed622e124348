// The pages in a real browser: `go test -tags browser`, as .ci/run does. The
// plain test command stays one that needs no browser on the machine.

//go:build browser

package report

import (
	"context"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// browser starts a Chromium that talks to nobody. Where there is none the test
// fails: that pages open cleanly is part of what the report promises.
func browser(t *testing.T) context.Context {
	t.Helper()
	path := ""
	for _, name := range []string{"chromium", "chromium-browser"} {
		if p, err := exec.LookPath(name); err == nil {
			path = p
			break
		}
	}
	if path == "" {
		t.Fatal("no Chromium found on PATH: install it (Debian: apt-get install chromium) and run the test again")
	}
	opts := []chromedp.ExecAllocatorOption{chromedp.ExecPath(path), chromedp.UserDataDir(t.TempDir()), chromedp.NoFirstRun,
		chromedp.NoDefaultBrowserCheck}
	for _, f := range []string{"headless", "no-sandbox", "disable-gpu", "disable-quic", "disable-background-networking",
		"disable-component-update", "disable-sync"} {
		opts = append(opts, chromedp.Flag(f, true))
	}
	ctx, cancel := context.WithTimeout(t.Context(), 4*time.Minute)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewExecAllocator(ctx, opts...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(func() {
		if err := chromedp.Cancel(ctx); err != nil {
			t.Logf("close Chromium: %v", err)
		}
		cancel()
	})
	return ctx
}

// writeGroupPages writes the pages of an invented group.
func writeGroupPages(t *testing.T, dir string) {
	t.Helper()
	if err := WriteGroup(dir, inventedGroup()); err != nil {
		t.Fatal(err)
	}
	if _, err := WriteGroupYear(dir, "Lowland", true, inventedGroupYear()); err != nil {
		t.Fatal(err)
	}
}

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

func TestPagesOpenCleanlyInABrowser(t *testing.T) {
	dir := t.TempDir()
	if err := Write(dir, threeRoomsInput(t)); err != nil {
		t.Fatal(err)
	}
	writeGroupPages(t, filepath.Join(dir, "group"))
	ctx := browser(t)
	w := &watch{}
	err := chromedp.Listen(ctx, w.on)
	if err == nil {
		_, err = chromedp.Call(ctx, network.Enable, network.EnableParams{})
	}
	if err == nil {
		_, err = chromedp.Call(ctx, log.Enable, cdp.Empty{})
	}
	if err != nil {
		t.Fatalf("start Chromium: %v", err)
	}
	canary := filepath.Join(t.TempDir(), "canary.html")
	if err := os.WriteFile(canary, []byte(`<!DOCTYPE html><img src="gone.png"><script>console.error("x"); throw new Error("y")</script>`), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := chromedp.Do(ctx, chromedp.Navigate((&url.URL{Scheme: "file", Path: canary}).String())); err != nil {
		t.Fatal(err)
	}
	if said, fetched := w.take(); len(said) < 2 || len(fetched) != 2 {
		t.Fatalf("of a page that errs the watch saw %q and %q: it does not work", said, fetched)
	}
	sizes := [][2]int64{{1280, 800}, {390, 844}}
	pages := []string{"index.html", "lamps.html", "makes.html", "overlay.html", "surveys.html", "supply.html",
		"rooms/nursery.html", "fixtures/A01.html", "fixtures/A05.html", "fixtures/B02.html", "fixtures/L08.html",
		"fixtures/N01.html", "group/index.html", "group/makes.html", "group/yearly-2025.html"}
	for _, size := range sizes {
		for _, page := range pages {
			address := (&url.URL{Scheme: "file", Path: filepath.Join(dir, page)}).String()
			if err := chromedp.Do(ctx, chromedp.EmulateViewport(size[0], size[1]), chromedp.Navigate(address)); err != nil {
				t.Fatalf("%s at %d px: %v", page, size[0], err)
			}
			found, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](faults))
			if err != nil {
				t.Fatalf("%s at %d px: %v", page, size[0], err)
			}
			for _, f := range found {
				t.Errorf("%s at %d px: %s", page, size[0], f)
			}
		}
	}
	said, fetched := w.take()
	for _, f := range said {
		t.Errorf("a page is not quiet: %s", f)
	}
	beside := regexp.MustCompile(`/(wane\.(js|css)|data/[a-z0-9-]+\.js|[^/]+\.html)(#.*)?$`)
	for _, u := range fetched {
		if !strings.HasPrefix(u, "data:,") && (!strings.HasPrefix(u, "file://"+dir+"/") || !beside.MatchString(u)) {
			t.Errorf("a page fetches %s", u)
		}
	}
	if len(fetched) < len(sizes)*len(pages) {
		t.Errorf("%d things were fetched for %d pages: the watch does not work", len(fetched), len(sizes)*len(pages))
	}
}

// faults finds a page that scrolls sideways, writing in a drawing that is cut
// off by its edge, links that lead nowhere on the page, and ids used twice.
const faults = `(() => {
	const out = [];
	const wide = document.documentElement.scrollWidth;
	if (wide > window.innerWidth) out.push('the page is ' + wide + ' px wide and scrolls sideways');
	for (const svg of document.querySelectorAll('.chart svg')) {
		const box = svg.getBoundingClientRect();
		if (box.width === 0) continue;
		for (const t of svg.querySelectorAll('text')) {
			const r = t.getBoundingClientRect();
			if (r.left < box.left - 2 || r.right > box.right + 2 || r.top < box.top - 2 || r.bottom > box.bottom + 2)
				out.push('"' + t.textContent + '" is cut off');
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
