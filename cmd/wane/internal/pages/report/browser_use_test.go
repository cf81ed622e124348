//go:build browser

package report

import (
	"context"
	"errors"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"wane/cmd/wane/internal/plans"
)

// shown is pages in a browser.
type shown struct {
	t   *testing.T
	ctx context.Context
	dir string
}

func (s shown) open(file string) {
	s.t.Helper()
	file, place, _ := strings.Cut(file, "#")
	address := (&url.URL{Scheme: "file", Path: filepath.Join(s.dir, file)}).String()
	if place != "" {
		address += "#" + place
		s.do(chromedp.Navigate("about:blank"))
	}
	s.do(chromedp.Navigate(address))
}

func (s shown) do(steps ...chromedp.Action[chromedp.Void]) {
	s.t.Helper()
	if err := chromedp.Do(s.ctx, steps...); err != nil {
		s.t.Fatal(err)
	}
}

// list evaluates an expression that gives words.
func (s shown) list(js string) []string {
	s.t.Helper()
	v, err := chromedp.Run(s.ctx, chromedp.Evaluate[[]string](js, chromedp.EvalAwaitPromise))
	if err != nil {
		s.t.Fatalf("%s: %v", js, err)
	}
	return v
}

// until waits for an expression to become true.
func (s shown) until(js string) {
	s.t.Helper()
	var err error
	for range 5 { // a page that is left takes the question with it
		if _, err = chromedp.Run(s.ctx, chromedp.Poll[bool](js)); err == nil {
			return
		}
	}
	s.t.Fatalf("%s: %v", js, err)
}

// threeRoomsShown writes the three rooms' pages and starts a browser.
func threeRoomsShown(t *testing.T) shown {
	dir := t.TempDir()
	in := threeRoomsInput(t)
	in.Plan = planFor(t, in, priced())
	if err := errors.Join(plans.Write(dir, in.Config.Name, in.Plan), Write(dir, in)); err != nil {
		t.Fatal(err)
	}
	return shown{t, browser(t), dir}
}

const firstColumn = `[...document.querySelectorAll("#lamps tbody tr:not([hidden]):not(.heading)")].map(r => r.cells[0].innerText.trim())`

func TestTablesSortAndFilterInABrowser(t *testing.T) {
	s := threeRoomsShown(t)
	s.open("lamps.html")
	own := s.list(firstColumn)
	level := `[...document.querySelectorAll("#lamps thead th")].find(h => h.innerText.trim() === "Level").querySelector("button").click()`
	s.do(chromedp.Evaluate[chromedp.Void](level))
	levels := s.list(`[...document.querySelectorAll("#lamps tbody tr")].map(r => words(r.cells[3]))`)
	known := slices.DeleteFunc(slices.Clone(levels), func(v string) bool { return v == "not known" })
	if !slices.IsSorted(known) || len(levels) != len(own) || len(known) == 0 || levels[0] == "not known" {
		t.Errorf("sorted by level: %v", levels)
	}
	s.do(chromedp.Evaluate[chromedp.Void](level))
	down := s.list(`[...document.querySelectorAll("#lamps tbody tr")].map(r => words(r.cells[3]))`)
	if last := down[len(down)-1]; down[0] < levels[0] || levels[len(levels)-1] == "not known" && last != "not known" {
		t.Errorf("sorted the other way: %v", down)
	}
	s.do(chromedp.Evaluate[chromedp.Void](level))
	if again := s.list(firstColumn); !slices.Equal(own, again) {
		t.Errorf("a third time does not bring back the table's own order: %v", again)
	}
	s.do(chromedp.SendKeys(`#lamps input[type=search]`, "flower 1 under"))
	for _, id := range s.list(firstColumn) {
		if !strings.HasPrefix(id, "A") {
			t.Errorf("a filter by room and status leaves %s", id)
		}
	}
	if n := len(s.list(firstColumn)); n == 0 || n == len(own) {
		t.Errorf("%d of %d rows are left", n, len(own))
	}
}

func TestTablesAndDrawingsAreSavedInABrowser(t *testing.T) {
	s := threeRoomsShown(t)
	s.open("lamps.html")
	lines := s.list(`csv(document.querySelector("#lamps table")).trim().split("\r\n")`)
	if want := "group,Fixture,Lamp,Lamp note,Run-hours,Run-hours from,Run-hours to,Level,Level from,Level to"; !strings.HasPrefix(lines[0], want) {
		t.Errorf("the columns are %s", lines[0])
	}
	if len(lines) != 1+len(s.list(firstColumn)) || !slices.ContainsFunc(lines,
		func(l string) bool { return strings.HasPrefix(l, "Room flower 1,A01,") }) {
		t.Errorf("the table as CSV:\n%s", strings.Join(lines, "\n"))
	}
	if got := s.list(`["=1+2", "-5", "−1,240 h", "2 Mar 2027", "@x"].map(v => safe(day(v) || v))`); !slices.Equal(got,
		[]string{"'=1+2", "-5", "−1,240 h", "2027-03-02", "'@x"}) {
		t.Errorf("cells become %q", got)
	}
	s.open("fixtures/A01.html")
	svg := s.list(`[picture(document.querySelector("#decline-figure svg"))]`)[0]
	if !strings.HasPrefix(svg, "<svg ") || !strings.Contains(svg, `xmlns="http://www.w3.org/2000/svg"`) ||
		!strings.Contains(svg, "A01") {
		t.Errorf("the drawing as a file: %.300s", svg)
	}
	if n := s.list(`[...document.querySelectorAll("main table")].filter(t => t.tBodies[0].rows.length > 1 && ![...t.closest(".scroll").previousElementSibling.querySelectorAll("button")].some(b => b.textContent.includes("CSV"))).map(t => t.caption.textContent)`); len(n) > 0 {
		t.Errorf("tables without their CSV: %v", n)
	}
}

func TestDeclinesAreLaidOverEachOtherInABrowser(t *testing.T) {
	s := threeRoomsShown(t)
	s.open("overlay.html")
	s.do(chromedp.SendKeys("#add", "A0"))
	s.until(`document.querySelectorAll("#overlay .offers button").length > 3`)
	s.do(chromedp.Evaluate[chromedp.Void](`[...document.querySelectorAll("#overlay .offers button")].find(b => b.dataset.name === "A01").click()`))
	s.until(`document.querySelectorAll("#overlay-place svg").length === 1`)
	s.open("overlay.html#A01,A06,K2-DE-a")
	s.until(`document.querySelectorAll("#overlay-place svg text[font-weight=bold]").length === 3`)
	said := s.list(`[document.getElementById("overlay-said").innerText]`)[0]
	if !strings.HasPrefix(said, "At ") || !strings.Contains(said, "interval") {
		t.Errorf("the finding reads %q", said)
	}
	if rows := s.list(`[...document.querySelectorAll("#overlay-place tbody th")].map(e => e.innerText)`); len(rows) < 5 {
		t.Errorf("the numbers of the drawing: %v", rows)
	}
	s.open("overlay.html#N01")
	s.until(`document.getElementById("overlay-place").innerText.includes("level yet")`)
}

func TestAFixtureIsFoundAmongTenThousandInABrowser(t *testing.T) {
	b := newBook(greatInput(t, 10_000))
	dir := t.TempDir()
	for _, sub := range []string{fixturesDir, dataDir} {
		if err := os.Mkdir(filepath.Join(dir, sub), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	w := writer{dir: dir, kept: map[string]bool{}}
	lamps, _ := lampsOf(b)
	err := b.page("lamps", "lamps.html", frame{Title: "All lamps", Body: lamps}, w.put)
	if err == nil {
		err = b.assets(w.put)
	}
	if err == nil {
		err = b.data(make([][]byte, 0), w.put)
	}
	if err == nil {
		err = b.page("fixture", b.links["G07123"], frame{Title: "G07123", Root: "../", Shared: true,
			Body: fixtureOf(b, "G07123")}, w.put)
	}
	if err == nil {
		err = w.flush()
	}
	if err != nil {
		t.Fatal(err)
	}
	s := shown{t, browser(t), dir}
	s.open("lamps.html")
	if n := s.list(`[String(document.querySelectorAll("#lamps .names a").length)]`); n[0] == "0" {
		t.Error("without its script the page names no fixture")
	}
	s.do(chromedp.SendKeys("#find", "7123"))
	s.until(`document.querySelectorAll(".offers a").length === 1`)
	s.do(chromedp.KeyEvent("\r"))
	s.until(`document.querySelector("h1")?.innerText === "G07123"`)
}

// Without a script every page still holds its content, and nothing that does not
// work.
func TestPagesWithoutScriptInABrowser(t *testing.T) {
	s := threeRoomsShown(t)
	count := func(js string) string { return s.list(`[String(document.querySelectorAll('` + js + `').length)]`)[0] }
	s.open("lamps.html")
	with := count("#lamps tbody tr:not(.heading)")
	if _, err := chromedp.Call(s.ctx, emulation.SetScriptExecutionDisabled,
		emulation.SetScriptExecutionDisabledParams{Value: true}); err != nil {
		t.Fatal(err)
	}
	for _, file := range []string{"index.html", "lamps.html", "overlay.html", "rooms/nursery.html", "fixtures/A01.html"} {
		s.open(file)
		if n := count("button, input, select"); n != "0" {
			t.Errorf("%s has %s controls that do nothing", file, n)
		}
	}
	s.open("lamps.html")
	if n := count("#lamps tbody tr:not(.heading)"); n != with || n == "0" {
		t.Errorf("%s lamps without script, %s with", n, with)
	}
	s.open("overlay.html")
	if n := count(`#overlay-said a[href="makes.html"]`); n != "1" {
		t.Error("the page of overlaid declines does not say where else they stand")
	}
}

// pageKinds are pages of every kind; those of rooms are added where they are needed.
var pageKinds = []string{"index.html", "lamps.html", "makes.html", "overlay.html#A01,A06", "surveys.html",
	"supply.html", "plan.html", sheetsFile, "glossary.html",
	"fixtures/A01.html", "fixtures/B02.html", "fixtures/N01.html"}

// axe finds what keeps people out: the library runs in each page, wide and narrow,
// light and dark.
func TestAxeFindsNothingSeriousInABrowser(t *testing.T) {
	lib, err := os.ReadFile("../../../../../.ci/node_modules/axe-core/axe.min.js")
	if err != nil {
		t.Fatalf("%v: run `npm ci` in .ci and the test again", err)
	}
	s := threeRoomsShown(t)
	rooms, err := filepath.Glob(filepath.Join(s.dir, roomsDir, "*.html"))
	if err != nil || len(rooms) == 0 {
		t.Fatal("no rooms", err)
	}
	writeGroupPages(t, filepath.Join(s.dir, "group"))
	kinds := append(slices.Clone(pageKinds), "group/index.html", "group/makes.html", "group/yearly-2025.html")
	for _, r := range rooms {
		kinds = append(kinds, roomsDir+"/"+filepath.Base(r))
	}
	for _, scheme := range []string{"light", "dark"} {
		media := emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme",
			Value: scheme}}}
		if _, err := chromedp.Call(s.ctx, emulation.SetEmulatedMedia, media); err != nil {
			t.Fatal(err)
		}
		for _, width := range []int64{1440, 390} {
			s.do(chromedp.EmulateViewport(width, 900))
			for _, file := range kinds {
				s.open(file)
				s.do(chromedp.Evaluate[chromedp.Void](string(lib) + ";0"))
				found := s.list(`axe.run(document, {resultTypes: ["violations"]}).then(r => r.violations.filter(v => v.impact === "serious" || v.impact === "critical").map(v => v.id + ": " + v.help + ": " + v.nodes.slice(0, 3).map(n => n.html.slice(0, 160)).join(" | ")))`)
				for _, f := range found {
					t.Errorf("%s, %s, %d px: %s", file, scheme, width, f)
				}
			}
		}
	}
	s.open("index.html")
	s.do(chromedp.Evaluate[chromedp.Void](`document.querySelector("h1").outerHTML = "<img src='data:,'>"` + ";" +
		string(lib) + ";0"))
	if got := s.list(`axe.run().then(r => r.violations.map(v => v.id))`); !slices.Contains(got, "image-alt") {
		t.Errorf("of a picture without words axe says %v only: it does not work", got)
	}
}

// By the keyboard alone: the first stop leads to the content, and every stop can be
// seen.
func TestPagesByKeyboardInABrowser(t *testing.T) {
	s := threeRoomsShown(t)
	s.open("index.html")
	var stops []string
	for range 14 {
		s.do(chromedp.KeyEvent("\t"))
		stops = append(stops, s.list(`(() => { const e = document.activeElement, c = getComputedStyle(e); return [e.innerText?.trim().slice(0, 30) || e.id, c.outlineStyle]; })()`)...)
	}
	if stops[0] != "Skip to the content" {
		t.Errorf("the first stop is %q", stops[0])
	}
	for i := 3; i < len(stops); i += 2 {
		if stops[i] == "none" {
			t.Errorf("stop %q shows no focus", stops[i-1])
		}
	}
	if !slices.Contains(stops, "find") {
		t.Errorf("the box to find a fixture is no stop: %q", stops)
	}
}

// asked is a question that people ask of the pages: the clicks from the front page
// to where the answer stands, and words of it.
type asked struct {
	who, question string
	clicks        []string // a link by its words; after "find " a name that is typed
	place, answer string
}

var questions = []asked{
	{"manager", "what do I order this week?", nil, "#week", "Order "},
	{"manager", "what does it cost to wait?", nil, "#week", "The light lost is worth about EUR"},
	{"manager", "which room is worst?", nil, "#rooms", "Under now"},
	{"manager", "what will the work cost, and when?", []string{"Relamp plan"}, "#spending", "EUR"},
	{"operator", "which lamps are dark, and since when?", nil, "#week", "Dark since"},
	{"operator", "which logger is silent?", nil, "#week", "Check sensor S-B2"},
	{"operator", "what do I take along on the next visit, and where to?", []string{"Work list by visit"}, "#visits",
		"Fixtures"},
	{"operator", "where does A06 hang?", []string{"find A06"}, "main", "Room flower 1, bay A-2"},
	{"engineer", "why is A06 due when it is?", []string{"find A06"}, "#answer", "Level of the lamp now"},
	{"engineer", "did the cleaning help?", []string{"find A01"}, "#events", "it helped"},
	{"engineer", "which make lasts longer?", []string{"Makes compared"}, "main", "keeps most"},
	{"engineer", "what would settle an open question?", nil, "#week", "Recalibrate the sensor of"},
}

// Each question has its answer at most one click from the front page.
func TestQuestionsAreAnsweredInABrowser(t *testing.T) {
	s := threeRoomsShown(t)
	for _, q := range questions {
		s.open("index.html")
		for _, c := range q.clicks {
			if name, ok := strings.CutPrefix(c, "find "); ok {
				s.do(chromedp.SendKeys("#find", name))
				s.until(`document.querySelectorAll(".offers a").length > 0`)
				s.do(chromedp.KeyEvent("\r"))
				s.until(`document.querySelector("h1")?.innerText === "` + name + `"`)
				continue
			}
			s.do(chromedp.Evaluate[chromedp.Void](`[...document.querySelectorAll("a")].find(a => a.innerText.trim() === "` + c +
				`").click()`))
			s.until(`document.readyState === "complete" && !location.pathname.endsWith("index.html")`)
		}
		if len(q.clicks) > 1 {
			t.Errorf("%s: %d clicks", q.question, len(q.clicks))
		}
		text := s.list(`[document.querySelector("` + q.place + `").innerText.replace(/\s+/g, " ")]`)[0]
		if !strings.Contains(text, q.answer) {
			t.Errorf("%s asks %q: no %q in %.600s", q.who, q.question, q.answer, text)
		}
		file := s.list(`[location.pathname.split("/").slice(-2).join("/")]`)[0]
		t.Logf("%s | %s | %s%s | %d", q.who, q.question, filepath.Base(filepath.Dir(file))+"/"+filepath.Base(file), q.place,
			len(q.clicks))
	}
}
