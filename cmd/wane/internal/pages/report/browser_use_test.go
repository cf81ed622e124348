// The pages in a real browser: `go test -tags browser`, as .ci/run does. The
// plain test command stays one that needs no browser on the machine.

//go:build browser

package report

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"wane/cmd/wane/internal/measures"
	"wane/cmd/wane/internal/pages/inbrowser"
	"wane/cmd/wane/internal/plans"
	"wane/transform/measure"
)

// threeRoomsShown writes the three rooms' pages and starts a browser.
func threeRoomsShown(t *testing.T) inbrowser.Shown {
	dir := t.TempDir()
	in := threeRoomsInput(t)
	in.Plan = planFor(t, in, priced())
	in.Measure = measure.Choose(measures.Gather(in.Result, in.Plan, priced()), measure.Limits{Count: 3})
	if err := errors.Join(plans.Write(dir, in.Config.Name, in.Plan), Write(dir, in)); err != nil {
		t.Fatal(err)
	}
	return inbrowser.Start(t, dir)
}

const firstColumn = `[...document.querySelectorAll("#lamps tbody tr:not([hidden]):not(.heading)")].map(r => r.cells[0].innerText.trim())`

func TestTablesSortAndFilterInABrowser(t *testing.T) {
	s := threeRoomsShown(t)
	s.Open("lamps.html")
	own := s.List(firstColumn)
	level := `[...document.querySelectorAll("#lamps thead th")].find(h => h.innerText.trim() === "Level").querySelector("button").click()`
	s.Do(chromedp.Evaluate[chromedp.Void](level))
	levels := s.List(`[...document.querySelectorAll("#lamps tbody tr")].map(r => words(r.cells[3]))`)
	known := slices.DeleteFunc(slices.Clone(levels), func(v string) bool { return v == "not known" })
	if !slices.IsSorted(known) || len(levels) != len(own) || len(known) == 0 || levels[0] == "not known" {
		t.Errorf("sorted by level: %v", levels)
	}
	s.Do(chromedp.Evaluate[chromedp.Void](level))
	down := s.List(`[...document.querySelectorAll("#lamps tbody tr")].map(r => words(r.cells[3]))`)
	if last := down[len(down)-1]; down[0] < levels[0] || levels[len(levels)-1] == "not known" && last != "not known" {
		t.Errorf("sorted the other way: %v", down)
	}
	s.Do(chromedp.Evaluate[chromedp.Void](level))
	if again := s.List(firstColumn); !slices.Equal(own, again) {
		t.Errorf("a third time does not bring back the table's own order: %v", again)
	}
	s.Do(chromedp.SendKeys(`#lamps input[type=search]`, "flower 1 under"))
	for _, id := range s.List(firstColumn) {
		if !strings.HasPrefix(id, "A") {
			t.Errorf("a filter by room and status leaves %s", id)
		}
	}
	if n := len(s.List(firstColumn)); n == 0 || n == len(own) {
		t.Errorf("%d of %d rows are left", n, len(own))
	}
}

func TestTablesAndDrawingsAreSavedInABrowser(t *testing.T) {
	s := threeRoomsShown(t)
	s.Open("lamps.html")
	lines := s.List(`csv(document.querySelector("#lamps table")).trim().split("\r\n")`)
	if want := "group,Fixture,Lamp,Lamp note,Run-hours,Run-hours from,Run-hours to,Level,Level from,Level to"; !strings.HasPrefix(lines[0], want) {
		t.Errorf("the columns are %s", lines[0])
	}
	if len(lines) != 1+len(s.List(firstColumn)) || !slices.ContainsFunc(lines,
		func(l string) bool { return strings.HasPrefix(l, "Room flower 1,A01,") }) {
		t.Errorf("the table as CSV:\n%s", strings.Join(lines, "\n"))
	}
	if got := s.List(`["=1+2", "-5", "−1,240 h", "2 Mar 2027", "@x"].map(v => safe(day(v) || v))`); !slices.Equal(got,
		[]string{"'=1+2", "-5", "−1,240 h", "2027-03-02", "'@x"}) {
		t.Errorf("cells become %q", got)
	}
	s.Open("fixtures/A01.html")
	svg := s.List(`[picture(document.querySelector("#decline-figure svg"))]`)[0]
	if !strings.HasPrefix(svg, "<svg ") || !strings.Contains(svg, `xmlns="http://www.w3.org/2000/svg"`) ||
		!strings.Contains(svg, "A01") {
		t.Errorf("the drawing as a file: %.300s", svg)
	}
	if n := s.List(`[...document.querySelectorAll("main table")].filter(t => t.tBodies[0].rows.length > 1 && ![...t.closest(".scroll").previousElementSibling.querySelectorAll("button")].some(b => b.textContent.includes("CSV"))).map(t => t.caption.textContent)`); len(n) > 0 {
		t.Errorf("tables without their CSV: %v", n)
	}
}

func TestDeclinesAreLaidOverEachOtherInABrowser(t *testing.T) {
	s := threeRoomsShown(t)
	s.Open("overlay.html")
	s.Do(chromedp.SendKeys("#add", "A0"))
	s.Until(`document.querySelectorAll("#overlay .offers button").length > 3`)
	s.Do(chromedp.Evaluate[chromedp.Void](`[...document.querySelectorAll("#overlay .offers button")].find(b => b.dataset.name === "A01").click()`))
	s.Until(`document.querySelectorAll("#overlay-place svg").length === 1`)
	s.Open("overlay.html#A01,A06,K2-DE-a")
	s.Until(`document.querySelectorAll("#overlay-place svg text[font-weight=bold]").length === 3`)
	said := s.List(`[document.getElementById("overlay-said").innerText]`)[0]
	if !strings.HasPrefix(said, "At ") || !strings.Contains(said, "interval") {
		t.Errorf("the finding reads %q", said)
	}
	if rows := s.List(`[...document.querySelectorAll("#overlay-place tbody th")].map(e => e.innerText)`); len(rows) < 5 {
		t.Errorf("the numbers of the drawing: %v", rows)
	}
	s.Open("overlay.html#N01")
	s.Until(`document.getElementById("overlay-place").innerText.includes("level yet")`)
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
	s := inbrowser.Start(t, dir)
	s.Open("lamps.html")
	if n := s.List(`[String(document.querySelectorAll("#lamps .names a").length)]`); n[0] == "0" {
		t.Error("without its script the page names no fixture")
	}
	s.Do(chromedp.SendKeys("#find", "7123"))
	s.Until(`document.querySelectorAll(".offers a").length === 1`)
	s.Do(chromedp.KeyEvent("\r"))
	s.Until(`document.querySelector("h1")?.innerText === "G07123"`)
}

// Without a script every page still holds its content, and nothing that does not
// work.
func TestPagesWithoutScriptInABrowser(t *testing.T) {
	s := threeRoomsShown(t)
	count := func(js string) string { return s.List(`[String(document.querySelectorAll('` + js + `').length)]`)[0] }
	s.Open("lamps.html")
	with := count("#lamps tbody tr:not(.heading)")
	if _, err := chromedp.Call(s.Ctx, emulation.SetScriptExecutionDisabled,
		emulation.SetScriptExecutionDisabledParams{Value: true}); err != nil {
		t.Fatal(err)
	}
	for _, file := range []string{"index.html", "lamps.html", "overlay.html", "rooms/nursery.html", "fixtures/A01.html"} {
		s.Open(file)
		if n := count("button, input, select"); n != "0" {
			t.Errorf("%s has %s controls that do nothing", file, n)
		}
	}
	s.Open("lamps.html")
	if n := count("#lamps tbody tr:not(.heading)"); n != with || n == "0" {
		t.Errorf("%s lamps without script, %s with", n, with)
	}
	s.Open("overlay.html")
	if n := count(`#overlay-said a[href="makes.html"]`); n != "1" {
		t.Error("the page of overlaid declines does not say where else they stand")
	}
}

// Every page of the site, of all kinds and with hostile names, is fit for people.
func TestPagesAreFitForPeopleInABrowser(t *testing.T) {
	dir := t.TempDir()
	in := threeRoomsInput(t)
	in.Plan = planFor(t, in, priced())
	if err := errors.Join(plans.Write(dir, in.Config.Name, in.Plan), Write(dir, in)); err != nil {
		t.Fatal(err)
	}
	group := filepath.Join(dir, "group")
	if err := WriteGroup(group, inventedGroup()); err != nil {
		t.Fatal(err)
	}
	if _, err := WriteGroupYear(group, "Lowland", true, inventedGroupYear()); err != nil {
		t.Fatal(err)
	}
	inbrowser.Walk(t, dir, "../../../../../.ci/node_modules/axe-core/axe.min.js", "overlay.html#A01,A06")
}

// By the keyboard alone: the first stop leads to the content, and every stop can be
// seen.
func TestPagesByKeyboardInABrowser(t *testing.T) {
	s := threeRoomsShown(t)
	s.Open("index.html")
	var stops []string
	for range 14 {
		s.Do(chromedp.KeyEvent("\t"))
		stops = append(stops, s.List(`(() => { const e = document.activeElement, c = getComputedStyle(e); return [e.innerText?.trim().slice(0, 30) || e.id, c.outlineStyle]; })()`)...)
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
	{"manager", "what if lamps were replaced only when they fail?", []string{"Relamp plan"}, "#ways", "replace on failure"},
	{"manager", "how far down is each room?", []string{"Relamp plan"}, "#rooms", "Mean level"},
	{"manager", "do the spares last until the next delivery?", []string{"Order list"}, "#orders", "Chance that they last"},
	{"operator", "what comes first, and when do we go up next?", nil, ".lead", "the next visit is on"},
	{"operator", "what is to be minded before anyone goes up?", nil, "#week", "isolate and lock out"},
	{"operator", "which lamp of flower 1 is the lowest?", []string{"flower 1"}, "#declines", "A08 level"},
	{"operator", "when was A01 last cleaned?", []string{"find A01"}, "#events", "cleaned: all"},
	{"engineer", "what measurement would help most, and how long does it take?", nil, "#week", "minutes: "},
	{"engineer", "how much of A01's loss is dirt?", []string{"find A01"}, "#shares", "dirt on lamp"},
	{"engineer", "is the voltage what the register says?", []string{"The supply"}, "main", "Not what the register says"},
	{"engineer", "how even is the light under a fixture?", []string{"Canopy surveys"}, "main", "min/avg"},
	{"engineer", "what would settle an open question?", nil, "#week", "Recalibrate the sensor of"},
}

// Each question has its answer at most one click from the front page.
func TestQuestionsAreAnsweredInABrowser(t *testing.T) {
	s := threeRoomsShown(t)
	for _, q := range questions {
		s.Open("index.html")
		for _, c := range q.clicks {
			if name, ok := strings.CutPrefix(c, "find "); ok {
				s.Do(chromedp.SendKeys("#find", name))
				s.Until(`document.querySelectorAll(".offers a").length > 0`)
				s.Do(chromedp.KeyEvent("\r"))
				s.Until(`document.readyState === "complete" && document.querySelector("h1")?.innerText === "` + name + `"`)
				continue
			}
			s.Do(chromedp.Evaluate[chromedp.Void](`[...document.querySelectorAll("a")].find(a => a.innerText.trim() === "` + c +
				`").click()`))
			s.Until(`document.readyState === "complete" && !location.pathname.endsWith("index.html")`)
		}
		if len(q.clicks) > 1 {
			t.Errorf("%s: %d clicks", q.question, len(q.clicks))
		}
		text := s.List(`[document.querySelector("` + q.place + `").innerText.replace(/\s+/g, " ")]`)[0]
		if !strings.Contains(text, q.answer) {
			t.Errorf("%s asks %q: no %q in %.600s", q.who, q.question, q.answer, text)
		}
		file := s.List(`[location.pathname.split("/").slice(-2).join("/")]`)[0]
		t.Logf("%s | %s | %s%s | %d", q.who, q.question, filepath.Base(filepath.Dir(file))+"/"+filepath.Base(file), q.place,
			len(q.clicks))
	}
}
