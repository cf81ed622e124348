//go:build browser

package report

import (
	"errors"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"wane/cmd/wane/internal/pages/inbrowser"
)

func TestPagesPrintInABrowser(t *testing.T) {
	s := threeRoomsShown(t)
	s.Open("index.html")
	for _, p := range []inbrowser.Paper{inbrowser.A4, inbrowser.Letter} {
		if n := s.Printed(p); n != 1 {
			t.Errorf("on paper of %v this week is printed on %d pages", p, n)
		}
	}
	s.Open("plan.html") // visits, orders, spending and rooms; each lamp's reasons stay on the page
	if n := s.Printed(inbrowser.A4); n > 5 {
		t.Errorf("the plan is printed on %d pages", n)
	}
	s.Open("visits.html")
	visits := s.List(`[...document.querySelectorAll(".sheet h2")].map(e => e.innerText)`)
	if n := s.Printed(inbrowser.A4); n != len(visits) || n < 2 {
		t.Errorf("%d visits are printed on %d pages: %q", len(visits), n, visits)
	}
	if bare := s.List(`[...document.querySelectorAll(".sheet")].filter(e => !e.querySelector(".box") ||
		!e.innerText.includes("Isolate and lock out")).map(e => e.innerText.slice(0, 80))`); len(bare) > 0 {
		t.Errorf("sheets without boxes or cautions: %q", bare)
	}
	s.Do(chromedp.Evaluate[chromedp.Void](`document.querySelector("main").innerHTML =
		"<p style='break-after:page'>1</p><p style='break-after:page'>2</p><p>3</p>"`))
	if n := s.Printed(inbrowser.A4); n != 3 {
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
	s := inbrowser.Start(t, w.dir)
	s.Open("index.html")
	for _, p := range []inbrowser.Paper{inbrowser.A4, inbrowser.Letter} {
		if n := s.Printed(p); n != 1 {
			t.Errorf("on paper of %v this week is printed on %d pages", p, n)
		}
	}
	if said := s.List(`[...document.querySelectorAll(".printed")].map(e => e.textContent)`); len(said) != 2 ||
		!strings.Contains(said[0], "more lines") {
		t.Errorf("what is left out of print is not said: %q", said)
	}
}
