package report

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"path"
	"runtime"
	"sort"

	"golang.org/x/sync/errgroup"

	"wane/cmd/wane/internal/plans"
	"wane/transform/calendar"
	"wane/transform/due"
	"wane/transform/lamp"
	"wane/transform/todo"
)

//go:embed templates script
var templates embed.FS

// page is one page that a site has once.
type page struct {
	file, template, menu string
	build                func(*book) (any, bool)
}

// pages are the pages of the menu, in its order.
var pages = []page{
	{"index.html", "overview", "This week", overviewOf},
	{"lamps.html", "lamps", "All lamps", lampsOf},
	{"plan.html", "plan", "Relamp plan", planOf},
	{sheetsFile, "sheets", "Work list to carry", sheetsOf},
	{"makes.html", "makes", "Makes compared", makesOf},
	{"compare.html", "compare", "Fixtures compared", compareOf},
	{"overlay.html", "overlay", "Overlay declines", overlayOf},
	{"surveys.html", "surveys", "Canopy surveys", surveysOf},
	{"supply.html", "supply", "The supply", supplyOf},
	{"record.html", "record", "How forecasts held", recordOf},
	{"glossary.html", "glossary", "What the words mean", glossaryOf},
}

// book is the input, sorted for building pages.
type book struct {
	in       Input
	asOf     int32
	due      []due.Lamp
	byName   map[string]*due.Lamp
	lives    map[string][]*lamp.Life
	fixtures []string          // names of those that have a page, sorted
	links    map[string]string // name -> address relative to the reports folder
	rooms    []roomBook        // sorted by name
	roomLink map[string]string
	kinds    map[string]todo.Kind // by fixture
	brief    bool                 // a great site: what can be asked for is not on every page
	todo     todo.Input           // what the list of actions is made of
}

func newBook(in Input) *book {
	b := &book{in: in, asOf: in.asOf(), byName: map[string]*due.Lamp{}, lives: map[string][]*lamp.Life{},
		links: map[string]string{}, roomLink: map[string]string{}}
	if in.Result == nil {
		return b
	}
	b.todo = plans.Todo(in.Result, in.Plan)
	for i := range in.Result.Due {
		d := &in.Result.Due[i]
		b.byName[d.Life.Fixture.ID] = d
		if !d.Reference { // which is asked for no date, so that it lacks none
			b.due = append(b.due, *d)
		}
	}
	for _, l := range in.Result.Lives {
		id := l.Fixture.ID
		if b.lives[id] == nil {
			b.fixtures = append(b.fixtures, id)
		}
		b.lives[id] = append(b.lives[id], l)
	}
	sort.Strings(b.fixtures)
	for id, file := range fileNames(b.fixtures) {
		b.links[id] = path.Join(fixturesDir, file)
	}
	b.brief = len(b.fixtures) > mostFull
	b.addRooms()
	b.kinds = map[string]todo.Kind{}
	for i := range b.todo.Lamps {
		b.kinds[b.todo.Lamps[i].Fixture] = b.todo.Lamps[i].Kind(b.todo.AsOf)
	}
	return b
}

// frame is what layout.html shows around a page.
type frame struct {
	Shared            bool // the style lies beside the pages instead of in this one
	Find              bool // there are fixtures to find
	Title, Site, Zone string
	AsOf, AsOfISO     string // empty where nothing was taken in
	Invented          string
	Root              string // from the page to the reports folder
	Menu              []menuEntry
	Body              any
}

type menuEntry struct {
	Name, Link string
	Here       bool
}

// made is a finished page.
type made struct {
	file string // relative to the reports folder, with slashes
	body []byte
}

// each makes every page, on all cores, and has put write it: the site's pages
// first, then those of the fixtures. Ten thousand of them would not fit, so each
// is written as it is made.
func (b *book) each(put func(made) error) error {
	type built struct {
		page
		body any
	}
	var list []built
	for _, p := range pages {
		if body, ok := p.build(b); ok {
			list = append(list, built{p, body})
		}
	}
	menu := func(here, root string) []menuEntry {
		var out []menuEntry
		for _, p := range list {
			out = append(out, menuEntry{p.menu, root + p.file, p.file == here})
		}
		for _, y := range b.in.Years {
			out = append(out, menuEntry{fmt.Sprintf("Reliability in %d", y), fmt.Sprintf("%syearly-%d/index.html", root, y),
				false})
		}
		return out
	}
	for _, p := range list {
		if err := b.page(p.template, p.file, frame{Title: p.menu, Menu: menu(p.file, ""), Body: p.body}, put); err != nil {
			return err
		}
	}
	if m, ok, err := b.compareFile(); err != nil {
		return err
	} else if ok {
		if err := put(m); err != nil {
			return err
		}
	}
	if err := b.assets(put); err != nil {
		return err
	}
	curves := make([][]byte, len(b.fixtures))
	multiples := make([]template.HTML, len(b.fixtures))
	var g errgroup.Group
	g.SetLimit(runtime.GOMAXPROCS(0))
	for i, id := range b.fixtures {
		g.Go(func() error {
			p := fixtureOf(b, id)
			curves[i], multiples[i] = p.curve, p.small
			return b.page("fixture", b.links[id],
				frame{Title: id, Root: "../", Shared: true, Menu: menu("", "../"), Body: p}, put)
		})
	}
	if err := g.Wait(); err != nil {
		return err
	}
	for i := range b.rooms {
		r := &b.rooms[i]
		f := frame{Title: roomWords(r.name), Root: "../", Shared: true, Menu: menu("", "../"), Body: b.room(r, multiples)}
		if err := b.page("room", b.roomLink[r.name], f, put); err != nil {
			return err
		}
	}
	return b.data(curves, put)
}

func (b *book) page(name, file string, f frame, put func(made) error) error {
	m, err := b.render(name, file, f)
	if err != nil {
		return err
	}
	return put(m)
}

// sets are the parsed templates, one set a page: all define "content".
var sets = func() map[string]*template.Template {
	out := map[string]*template.Template{}
	for _, name := range []string{"overview", "lamps", "plan", "makes", "compare", "overlay", "surveys", "supply",
		"record", "glossary", "sheets", "room", "fixture", "group", "groupmakes", "groupyear"} {
		term := func(word string) string {
			if id := termOf(word); id != "" {
				return rootOf(name) + "glossary.html#" + id
			}
			return ""
		}
		out[name] = template.Must(template.New(name).Funcs(template.FuncMap{"coded": coded, "term": term}).ParseFS(templates,
			"templates/layout.html", "templates/parts.html", "templates/style.html", "templates/"+name+".html"))
	}
	return out
}()

// rootOf leads from a page to the reports folder.
func rootOf(template string) string {
	if template == "room" || template == "fixture" {
		return "../"
	}
	return ""
}

func (b *book) render(name, file string, f frame) (made, error) {
	f.Site, f.Invented = b.in.Config.Name, b.in.Invented
	if f.Site == "" {
		f.Site = "Unnamed site"
	}
	f.Find = len(b.fixtures) > 0
	if f.Zone == "" {
		f.Zone = b.in.location().String()
	}
	if b.asOf != 0 {
		f.AsOf, f.AsOfISO = date(b.asOf), calendar.Date(b.asOf).Format("2006-01-02")
	}
	var buf bytes.Buffer
	if err := sets[name].ExecuteTemplate(&buf, "layout.html", f); err != nil {
		return made{}, fmt.Errorf("make page %s: %w", file, err)
	}
	return made{file, buf.Bytes()}, nil
}
