package report

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"wane/ingest/site"
	"wane/transform/due"
	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/forecast"
)

// read gives every file below a folder.
func read(t testing.TB, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		body, err := os.ReadFile(path)
		rel, _ := filepath.Rel(dir, path)
		out[filepath.ToSlash(rel)] = string(body)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// htmlOf leaves the pages.
func htmlOf(files map[string]string) map[string]string {
	out := map[string]string{}
	for name, body := range files {
		if strings.HasSuffix(name, ".html") {
			out[name] = body
		}
	}
	return out
}

// element is what the checks need of one tag.
type element struct {
	name string
	attr map[string]string
}

// elements parses a page; the templates write it so that an XML reader can
// follow.
func elements(t testing.TB, page string) []element {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(page))
	d.Entity = xml.HTMLEntity
	var out []element
	for {
		tok, err := d.Token()
		if err == io.EOF {
			return out
		}
		if err != nil {
			t.Fatalf("not well-formed: %v", err)
		}
		if e, ok := tok.(xml.StartElement); ok {
			m := map[string]string{}
			for _, a := range e.Attr {
				m[a.Name.Local] = a.Value
			}
			out = append(out, element{e.Name.Local, m})
		}
	}
}

// ownScript is the one script element that a page may hold.
var ownScript = regexp.MustCompile(`<script src="(\.\./)?wane\.js" data-root="(\.\./)?" defer="defer"></script>`)

var outside = regexp.MustCompile(`(?i)https?://|url\(|@import|<script|\son[a-z]+=`)

// sound checks what holds for every page.
func sound(t testing.TB, files map[string]string, name string) {
	t.Helper()
	page := ownScript.ReplaceAllString(files[name], "")
	if m := outside.FindString(page); m != "" {
		t.Errorf("%s refers outside or runs something: %q", name, m)
	}
	for _, bad := range []string{"NaN", "+Inf", "-Inf", "ZgotmplZ", "%!", "<no value>"} {
		if strings.Contains(page, bad) {
			t.Errorf("%s holds %q", name, bad)
		}
	}
	ids := map[string]bool{}
	list := elements(t, page)
	for _, e := range list {
		if id := e.attr["id"]; id != "" {
			if ids[id] {
				t.Errorf("%s: id %q twice", name, id)
			}
			ids[id] = true
		}
	}
	captions, tables, h1 := 0, 0, 0
	for _, e := range list {
		switch e.name {
		case "html":
			if e.attr["lang"] != "en-GB" {
				t.Errorf("%s: no language", name)
			}
		case "h1":
			h1++
		case "table":
			tables++
		case "caption":
			captions++
		case "th":
			if e.attr["scope"] == "" {
				t.Errorf("%s: a heading without scope", name)
			}
		case "svg":
			if e.attr["role"] == "group" && e.attr["aria-label"] != "" {
				continue
			}
			if e.attr["role"] == "img" {
				for _, id := range strings.Fields(e.attr["aria-labelledby"]) {
					if !ids[id] {
						t.Errorf("%s: a drawing is labelled by %q, which is not there", name, id)
					}
				}
			} else if e.attr["aria-hidden"] != "true" {
				t.Errorf("%s: a drawing is neither named nor hidden", name)
			}
		case "a":
			href := e.attr["href"]
			if page, _, ok := strings.Cut(href, "overlay.html#"); ok { // the names of fixtures follow
				href = page + "overlay.html"
			}
			if strings.HasPrefix(href, "#") {
				if !ids[href[1:]] {
					t.Errorf("%s: no place %s", name, href)
				}
				continue
			}
			href, place, _ := strings.Cut(href, "#")
			to := filepath.ToSlash(filepath.Join(filepath.Dir(name), href))
			if _, ok := files[to]; !ok {
				t.Errorf("%s: link to %q leads nowhere", name, href)
			} else if place != "" && !strings.Contains(files[to], `id="`+place+`"`) {
				t.Errorf("%s: no place %s on %s", name, place, to)
			}
		}
	}
	if tables != captions || h1 != 1 {
		t.Errorf("%s: %d tables, %d captions, %d main headings", name, tables, captions, h1)
	}
}

func TestPages(t *testing.T) {
	dir := t.TempDir()
	in := threeRoomsInput(t)
	if err := Write(dir, in); err != nil {
		t.Fatal(err)
	}
	files := read(t, dir)
	if len(files) != 7+25+3+2+3 {
		t.Errorf("%d files, want index, glossary, lamps, makes, overlay, surveys, supply, 25 fixtures, 3 rooms, style and script, 3 of data", len(files))
	}
	for name := range htmlOf(files) {
		sound(t, files, name)
		if !strings.Contains(files[name], "Invented data: this site does not exist.") {
			t.Errorf("%s does not say that its data are invented", name)
		}
	}
	for page, wants := range map[string][]string{
		"index.html": {"This week", "flower 1", "Isolate and lock out", "Mercury", "Local codes and licensed practice decide",
			"28\u00a0Feb\u00a02026",
			"14 rows in quarantine", "sensor S-B2", "dark since 24\u00a0Jan\u00a02026 (no ignition)",
			"Recalibrate the sensor of", "logbook line 7", "No date"},
		"lamps.html": {"What the words mean", "A01"},
		"makes.html": {"K2-DE-a (make K2)", "middle 80\u00a0% of the lamps"},
		"fixtures/A01.html": {"threshold 0.90", "running up", "bay A 2025-11.csv",
			"sensor recalibrated; it read 1.008 times the truth", "voltage coefficient", "wane explain A01",
			"ageing of the lamp"},
		"fixtures/A05.html": {"lamp life 3", "Earlier lamps", "lamp life 2, cohort P7-DE-b"},
		"fixtures/B02.html": {"failed and still hanging", "no ignition"},
		"fixtures/L08.html": {"Not in service", "Taken down on"},
		"fixtures/N01.html": {"no levels of this lamp to draw", "Nobody: the room",
			"neither a logger nor a survey tells of its light"},
	} {
		for _, w := range wants {
			if !strings.Contains(strings.ToLower(files[page]), strings.ToLower(strings.ReplaceAll(w, "'", "&#39;"))) {
				t.Errorf("%s does not say %q", page, w)
			}
		}
	}
}

func TestTheSameInputGivesTheSameBytes(t *testing.T) {
	a, b := t.TempDir(), t.TempDir()
	if err := Write(a, threeRoomsInput(t)); err != nil {
		t.Fatal(err)
	}
	if err := Write(b, threeRoomsInput(t)); err != nil {
		t.Fatal(err)
	}
	fa, fb := read(t, a), read(t, b)
	for name := range fa {
		if fa[name] != fb[name] {
			t.Errorf("%s differs", name)
		}
	}
	before, err := os.Stat(filepath.Join(a, "index.html"))
	if err != nil {
		t.Fatal(err)
	}
	stale := []string{".writing-123", "fixtures/.writing-9", "fixtures/Z99.html"}
	for _, s := range append(stale, "mine.txt") {
		if err := os.WriteFile(filepath.Join(a, s), []byte("x"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := Write(a, threeRoomsInput(t)); err != nil {
		t.Fatal(err)
	}
	after, err := os.Stat(filepath.Join(a, "index.html"))
	if err != nil || !os.SameFile(before, after) || before.ModTime() != after.ModTime() {
		t.Error("a page that did not change was written again")
	}
	left := read(t, a)
	for _, s := range stale {
		if _, ok := left[s]; ok {
			t.Errorf("%s was left lying about", s)
		}
	}
	if left["mine.txt"] == "" {
		t.Error("a file that is not the report's own was removed")
	}
}

func TestSiteWithoutReadings(t *testing.T) {
	for name, in := range map[string]Input{
		"nothing at all": {},
		"only needs": {Config: site.Config{Name: "New"},
			Needs: []Need{{Where: "inbox", What: "a picture named .csv", Do: "take it out"}}},
		"empty result": {AsOf: 20000, Result: &due.Result{Register: &fleet.Register{}}},
	} {
		dir := t.TempDir()
		if err := Write(dir, in); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		files := read(t, dir)
		if len(files) != 4 {
			t.Errorf("%s: %d files, want index, glossary, style and script", name, len(files))
		}
		sound(t, files, "index.html")
		if !strings.Contains(files["index.html"], "wane nightly") {
			t.Errorf("%s: the page does not say what to do", name)
		}
	}
}

func TestHostileNames(t *testing.T) {
	names := []string{"../../up", "a/b", "a\\b", `"><script>alert(1)</script>`, "=1+2", "'; rm -rf", "a b", "A B", "con",
		"ünï", "x\x00y", "", "{{.}}", "same", "SAME", "-rf",
		strings.Repeat("long", 40)}
	var list []hung
	for _, n := range names {
		list = append(list, hung{id: n, room: "<b>room & \"one\"</b>", bay: "b'ay", sensor: `s"<i>`, cohort: "co<hort>",
			model: "m&ake", lamp: fleet.HPSDE, loss: 0.2, from: 700})
	}
	s := newInvented(3, list, []fleet.Entry{{At: at(20300), What: fleet.Clean, Scope: fleet.OfRoom,
		ID: "<b>room & \"one\"</b>", Value: "</td><script>", Note: "<!-- -->\x01"}})
	r := s.result(t)
	dir := t.TempDir()
	if err := Write(filepath.Join(dir, "reports"), Input{Config: s.cfg, Result: r}); err != nil {
		t.Fatal(err)
	}
	files := read(t, dir)
	if len(htmlOf(files)) != len(names)+6 {
		t.Errorf("%d files for %d fixtures: two share a page", len(files), len(names))
	}
	folded := map[string]bool{}
	for name := range files {
		if !strings.HasPrefix(name, "reports/") {
			t.Errorf("%s lies outside the folder", name)
		}
		if f := strings.ToLower(name); folded[f] {
			t.Errorf("%s: differs from another in capitals only", name)
		} else {
			folded[f] = true
		}
		files[name] = strings.Map(func(r rune) rune { // an XML reader refuses what HTML lets pass
			if r < ' ' && r != '\n' {
				return ' '
			}
			return r
		}, files[name])
	}
	for name := range htmlOf(files) {
		sound(t, files, name)
		if m := regexp.MustCompile(`<script|<b>|<i>|<!-- `).FindString(ownScript.ReplaceAllString(files[name], "")); m != "" {
			t.Errorf("%s: %q came through", name, m)
		}
	}
}

func TestLampWithoutPosterior(t *testing.T) {
	in := threeRoomsInput(t)
	for i := range in.Result.Due {
		d := &in.Result.Due[i]
		none := estimate.None("none", "nothing is known")
		d.Posterior, d.Answer = nil, forecast.Answer{Status: forecast.StatusNoData, Level: none, DueHours: none, DueDay: none,
			Decline: forecast.Shares{Lamp: none, Dirt: none, Sensor: none}}
	}
	dir := t.TempDir()
	if err := Write(dir, in); err != nil {
		t.Fatal(err)
	}
	files := read(t, dir)
	for name := range htmlOf(files) {
		sound(t, files, name)
	}
	if !strings.Contains(files["fixtures/A01.html"], "as read, corrected") {
		t.Error("readings are not drawn where there is no forecast")
	}
}

func TestFileNames(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ids := rapid.SliceOfNDistinct(rapid.OneOf(rapid.String(), rapid.StringMatching(`[aAbB1~_.-]{0,4}`)), 0, 30,
			rapid.ID[string]).Draw(t, "ids")
		seen := map[string]string{}
		for id, f := range fileNames(ids) {
			if !regexp.MustCompile(`^[A-Za-z0-9_~][A-Za-z0-9_~-]*\.html$`).MatchString(f) || len(f) > 80 {
				t.Fatalf("%q gives the unsafe name %q", id, f)
			}
			if other, ok := seen[strings.ToLower(f)]; ok {
				t.Fatalf("%q and %q share %q", id, other, f)
			}
			seen[strings.ToLower(f)] = id
		}
	})
}

func TestWords(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	e := func(c, lo, hi float64) estimate.Estimate { return estimate.Estimate{Centre: c, Lo: lo, Hi: hi} }
	for _, c := range []struct{ got, want string }{
		{Level(e(0.914, 0.889, 0.93)).String(), "0.91 (0.89 to 0.93)"},
		{Level(estimate.None("m", "w")).String(), "not known"},
		{Hours(e(12345, 11111, 14001)).String(), "12,350\u00a0h (11,110 to 14,000\u00a0h)"},
		{Hours(e(nan, 20000, inf)).String(), "more than 20,000\u00a0h"},
		{Hours(e(15000, 12000, inf)).String(), "15,000\u00a0h (from 12,000, open above)"},
		{Percent(e(-0.012, -0.02, 0.004)).String(), "−1.2\u00a0% (−2.0 to 0.4\u00a0%)"},
		{DateOf(e(20000.4, 19999.6, 20100)).String(), "4\u00a0Oct\u00a02024 (4\u00a0Oct\u00a02024 to 12\u00a0Jan\u00a02025)"},
		{DateOf(e(nan, 20000, inf)).String(), "not before 4\u00a0Oct\u00a02024"},
		{sentence("ärger im x"), "Ärger im x."}, {sentence(""), ""},
		{dated("opens on 2026-06-01, 91 days after 2026-99-01"), "opens on 1\u00a0Jun\u00a02026, 91 days after 2026-99-01"},
		{spoken("order now: 1 lamp for cmh, needed by 2026-12-19"),
			"order now: 1 lamp for ceramic metal halide, needed by 19\u00a0Dec\u00a02026"},
		{spoken("worth EUR 102 a year"), "worth EUR\u00a0102 a year"},
		{spoken("plan.lamp_types.cmh and `hps-de`"), "plan.lamp_types.cmh and `hps-de`"},
		{Hours(e(13150, 13148, 13152)).String(), "13,150\u00a0h"},
		{tally{0, 0, 0}.value().String(), "0"}, {tally{1, 2, 3}.value().String(), "2 (1 to 3)"},
		{quoted("a'b"), `'a'\''b'`}, {quoted("A1"), "A1"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
	for _, st := range []forecast.Status{forecast.StatusForecast, forecast.StatusUnder, forecast.StatusBeyond,
		forecast.StatusTooEarly, forecast.StatusInseparable, forecast.StatusDark, forecast.StatusNoData} {
		if statusOf(st).Meaning == "" {
			t.Errorf("status %s is not explained", st)
		}
	}
}

func TestAPageIsReplacedWhole(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "p.html")
	for _, body := range []string{"one", strings.Repeat("two", 1000), "3"} {
		w := writer{dir: dir, kept: map[string]bool{}}
		if err := errors.Join(w.put(made{"p.html", []byte(body)}), w.flush()); err != nil {
			t.Fatal(err)
		}
		if got, _ := os.ReadFile(path); !bytes.Equal(got, []byte(body)) {
			t.Errorf("holds %d bytes, want %d", len(got), len(body))
		}
	}
	if list, _ := os.ReadDir(dir); len(list) != 1 {
		t.Errorf("%d files, want 1", len(list))
	}
}
