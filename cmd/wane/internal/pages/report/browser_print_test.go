//go:build browser

package report

import (
	"errors"
	"regexp"
	"strings"
	"testing"

	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// onePage is how a printed page begins in a PDF.
var onePage = regexp.MustCompile(`/Type\s*/Page\b`)

// paper is a size of paper, inches.
type paper struct{ wide, high float64 }

var a4, letter = paper{8.27, 11.69}, paper{8.5, 11}

// printed counts the pages on which the page that is open is printed.
func (s shown) printed(on paper) int {
	s.t.Helper()
	got, err := chromedp.Call(s.ctx, cdppage.PrintToPDF, cdppage.PrintToPDFParams{PaperWidth: on.wide,
		PaperHeight: on.high, PreferCSSPageSize: new(true), PrintBackground: new(true)})
	if err != nil {
		s.t.Fatal(err)
	}
	return len(onePage.FindAll(got.Data, -1))
}

func TestPagesPrintInABrowser(t *testing.T) {
	s := threeRoomsShown(t)
	s.open("index.html")
	for _, p := range []paper{a4, letter} {
		if n := s.printed(p); n != 1 {
			t.Errorf("on paper of %v this week is printed on %d pages", p, n)
		}
	}
	s.open("visits.html")
	visits := s.list(`[...document.querySelectorAll(".sheet h2")].map(e => e.innerText)`)
	if n := s.printed(a4); n != len(visits) || n < 2 {
		t.Errorf("%d visits are printed on %d pages: %q", len(visits), n, visits)
	}
	if bare := s.list(`[...document.querySelectorAll(".sheet")].filter(e => !e.querySelector(".box") ||
		!e.innerText.includes("Isolate and lock out")).map(e => e.innerText.slice(0, 80))`); len(bare) > 0 {
		t.Errorf("sheets without boxes or cautions: %q", bare)
	}
	s.do(chromedp.Evaluate[chromedp.Void](`document.querySelector("main").innerHTML =
		"<p style='break-after:page'>1</p><p style='break-after:page'>2</p><p>3</p>"`))
	if n := s.printed(a4); n != 3 {
		t.Errorf("three pages are counted as %d: the count does not work", n)
	}
}

// Of a great site what is of the least weight is left out, and that is said.
func TestAGreatSitesWeekPrintsOnOnePageInABrowser(t *testing.T) {
	in := greatInput(t, 1000)
	in.Plan = planFor(t, in, priced())
	b, w := newBook(in), writer{dir: t.TempDir(), kept: map[string]bool{}}
	week, _ := overviewOf(b)
	if err := errors.Join(b.page("overview", "index.html", frame{Title: "This week", Body: week}, w.put),
		b.assets(w.put), w.flush()); err != nil {
		t.Fatal(err)
	}
	s := shown{t, browser(t), w.dir}
	s.open("index.html")
	for _, p := range []paper{a4, letter} {
		if n := s.printed(p); n != 1 {
			t.Errorf("on paper of %v this week is printed on %d pages", p, n)
		}
	}
	if said := s.list(`[...document.querySelectorAll(".printed")].map(e => e.textContent)`); len(said) != 2 ||
		!strings.Contains(said[0], "more lines") {
		t.Errorf("what is left out of print is not said: %q", said)
	}
}
