package demo

import (
	"bytes"
	"embed"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"text/template"

	"wane/transform/fleet"
)

//go:embed files
var files embed.FS

// roomView is a room as the templates see it.
type roomView struct {
	ID, Title, Lamp, Gear, On string
	Hours, Fixtures           int
}

// writeFolder writes all that is not a logger file.
func writeFolder(dir string, seed uint64, c *calendar, rs []room, happened []happening) error {
	view := struct {
		Seed        uint64
		Days        int
		First, Last string
		Rooms       []roomView
		Gaps        []gapView
	}{Seed: seed, Days: c.days, First: c.date(0), Last: c.date(c.days - 1), Gaps: c.gaps()}
	for _, r := range rs {
		v := roomView{ID: r.id, Title: r.title, Lamp: string(r.lamp), Gear: string(r.gear), On: string(clock(nil, r.on)),
			Hours: r.hours}
		for _, b := range r.bays {
			v.Fixtures += b.fixtures
		}
		view.Rooms = append(view.Rooms, v)
	}
	view.Rooms = append(view.Rooms, roomView{ID: labRoom, Title: "the lab, read by canopy surveys only",
		Lamp: string(fleet.LED), Gear: string(fleet.Driver),
		On: string(clock(nil, labOn)), Hours: labHours, Fixtures: len(bench)})
	for _, name := range []string{"site.yaml", "README.txt"} {
		t, err := template.ParseFS(files, "files/"+name+".tmpl")
		if err != nil {
			return fmt.Errorf("read template %s: %w", name, err)
		}
		var b bytes.Buffer
		if err := t.Execute(&b, view); err != nil {
			return fmt.Errorf("fill template %s: %w", name, err)
		}
		if err := put(b.Bytes(), dir, name); err != nil {
			return err
		}
	}
	sources, err := fs.Glob(files, "files/*.yaml")
	if err != nil {
		return err
	}
	for _, name := range sources {
		data, err := files.ReadFile(name)
		if err != nil {
			return err
		}
		if err := put(data, dir, "sources", filepath.Base(name)); err != nil {
			return err
		}
	}
	if err := put(fixturesTable(c, rs), dir, "register", "fixtures.csv"); err != nil {
		return err
	}
	if err := put(sensorsTable(c, rs, happened), dir, "register", "sensors.csv"); err != nil {
		return err
	}
	return put(logbookTable(c, happened), dir, "register", "logbook.csv")
}

// put writes one file of the site folder.
func put(data []byte, elem ...string) error {
	if err := os.WriteFile(filepath.Join(elem...), data, 0o644); err != nil {
		return fmt.Errorf("write demo file: %w", err)
	}
	return nil
}

// gapView is a yearly stretch between two crops of F1, as the plan's windows
// are written.
type gapView struct{ From, To string }

// gaps are the last four of F1's rounds between crops, which come every twelfth
// of the record, with three days on both sides.
func (c *calendar) gaps() []gapView {
	var out []gapView
	for k := 8; k < 12; k++ {
		day := c.at(float64(k)/12 - 0.004)
		out = append(out, gapView{c.moment(day-3, 0).Format("01-02"), c.moment(day+3, 0).Format("01-02")})
	}
	return out
}
