//go:build browser

package inbrowser

import (
	"context"
	"net/url"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// start begins a Chromium that talks to nobody. Where there is none the test
// fails: that pages open cleanly is part of what the report promises.
func start(t testing.TB) context.Context {
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
	ctx, cancel := context.WithTimeout(t.Context(), 8*time.Minute)
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

// Shown is a folder of pages in a browser.
type Shown struct {
	t   testing.TB
	Ctx context.Context
	Dir string
}

// Start begins a browser on a folder of pages.
func Start(t testing.TB, dir string) Shown { return Shown{t, start(t), dir} }

// Open opens a page of the folder, at a place in it where its name has a "#".
func (s Shown) Open(file string) {
	s.t.Helper()
	file, place, _ := strings.Cut(file, "#")
	address := (&url.URL{Scheme: "file", Path: filepath.Join(s.Dir, file)}).String()
	if place != "" {
		address += "#" + place
		s.Do(chromedp.Navigate("about:blank"))
	}
	s.Do(chromedp.Navigate(address))
}

// Do takes steps, such as keys.
func (s Shown) Do(steps ...chromedp.Action[chromedp.Void]) {
	s.t.Helper()
	if err := chromedp.Do(s.Ctx, steps...); err != nil {
		s.t.Fatal(err)
	}
}

// List evaluates an expression that gives words.
func (s Shown) List(js string) []string {
	s.t.Helper()
	v, err := chromedp.Run(s.Ctx, chromedp.Evaluate[[]string](js, chromedp.EvalAwaitPromise))
	if err != nil {
		s.t.Fatalf("%.300s: %v", js, err)
	}
	return v
}

// Until waits for an expression to become true.
func (s Shown) Until(js string) {
	s.t.Helper()
	var err error
	for range 5 { // a page that is left takes the question with it
		if _, err = chromedp.Run(s.Ctx, chromedp.Poll[bool](js)); err == nil {
			return
		}
	}
	s.t.Fatalf("%s: %v", js, err)
}

// Prefer has pages ask for a colour scheme.
func (s Shown) Prefer(scheme string) {
	s.t.Helper()
	media := emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme",
		Value: scheme}}}
	if _, err := chromedp.Call(s.Ctx, emulation.SetEmulatedMedia, media); err != nil {
		s.t.Fatal(err)
	}
}

// sheet is how a printed page begins in a PDF.
var sheet = regexp.MustCompile(`/Type\s*/Page\b`)

// Paper is a size of paper, inches.
type Paper struct{ Wide, High float64 }

// The papers.
var A4, Letter = Paper{8.27, 11.69}, Paper{8.5, 11}

// Printed counts the sheets on which the page that is open is printed.
func (s Shown) Printed(on Paper) int {
	s.t.Helper()
	got, err := chromedp.Call(s.Ctx, cdppage.PrintToPDF, cdppage.PrintToPDFParams{PaperWidth: on.Wide,
		PaperHeight: on.High, PreferCSSPageSize: new(true), PrintBackground: new(true)})
	if err != nil {
		s.t.Fatal(err)
	}
	return len(sheet.FindAll(got.Data, -1))
}
