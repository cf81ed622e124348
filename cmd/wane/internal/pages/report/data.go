package report

import (
	"bytes"
	"encoding/json"
	"fmt"
	"path"
	"slices"
	"strconv"

	"wane/cmd/wane/internal/pages/chart"
	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/forecast"
	"wane/transform/lamp"
)

// mostFull is up to how many fixtures a site's pages hold all they can; those of a
// greater site leave to the commands what can be asked for.
const mostFull = 1000

// perChunk is how many fixtures' curves lie in one file of data.
const perChunk = 100

// Script is the script of the pages: it finds, sorts, filters, compares and saves
// what the pages hold.
func Script() []byte {
	list, err := templates.ReadDir("script")
	if err != nil {
		panic("report: the built-in script cannot be read: " + err.Error())
	}
	var out bytes.Buffer
	for _, e := range list {
		part, err := templates.ReadFile("script/" + e.Name())
		if err != nil {
			panic("report: the built-in script cannot be read: " + err.Error())
		}
		out.Write(part)
	}
	return out.Bytes()
}

// assets writes what all pages share.
func (b *book) assets(put func(made) error) error {
	if err := put(made{"wane.js", Script()}); err != nil {
		return err
	}
	return put(made{"wane.css", []byte(StyleSheet())})
}

// data writes the files that the script loads when somebody finds or compares. They
// are scripts themselves: a page that was opened from a folder may read no other.
func (b *book) data(curves [][]byte, put func(made) error) error {
	if len(b.fixtures) == 0 {
		return nil
	}
	file := func(name string, body []byte) error {
		body = slices.Concat([]byte(fmt.Sprintf("window.wane[%q](", name)), body, []byte(");\n"))
		return put(made{path.Join(dataDir, name+".js"), body})
	}
	cohorts := b.cohortCurves()
	names := []string{}
	for _, c := range cohorts {
		names = append(names, c.name)
	}
	index, err := json.Marshal(map[string]any{"per": perChunk, "fixtures": b.index(), "cohorts": names})
	if err != nil {
		return err
	}
	if err := file("find", index); err != nil {
		return err
	}
	for i := 0; i < len(curves); i += perChunk {
		if err := file(fmt.Sprintf("curves-%d", i/perChunk),
			object(b.fixtures[i:min(i+perChunk, len(curves))], curves[i:])); err != nil {
			return err
		}
	}
	var parts [][]byte
	for _, c := range cohorts {
		parts = append(parts, c.curve)
	}
	return file("cohorts", object(names, parts))
}

// object is a JSON object of parts that are JSON already.
func object(names []string, parts [][]byte) []byte {
	out := []byte{'{'}
	for i, n := range names {
		if i > 0 {
			out = append(out, ',')
		}
		name, _ := json.Marshal(n) // a string always can be
		out = slices.Concat(out, name, []byte{':'}, parts[i])
	}
	return append(out, '}')
}

// index is an entry a fixture: name, room, bay, lamp type, cohort, status, due, and
// the address of its page where that does not follow from the name.
func (b *book) index() [][]string {
	out := [][]string{}
	for _, id := range b.fixtures {
		ls := b.lives[id]
		l := ls[len(ls)-1]
		e := []string{id, l.Place.Room, l.Place.Bay, lampType(l.LampType), l.Cohort, "not in service", ""}
		if d := b.byName[id]; d != nil {
			e[5], e[6] = statusOf(d.Answer.Status).Word, dueWords(d).Centre
		}
		if at := b.links[id]; at != path.Join(fixturesDir, id+".html") {
			e = append(e, at)
		}
		out = append(out, e)
	}
	return out
}

// mostRead is how many weeks of readings a curve holds, about.
const mostRead = 80

// curveOf is a fixture's curve for laying over others: the lamp alone with its
// interval, and the readings.
func curveOf(l *lamp.Life, post *forecast.Posterior, interval float64, ws []week, lean bool) []byte {
	var out bytes.Buffer
	what, _ := json.Marshal(fmt.Sprintf("%s, lamp life %d, %s", lampType(l.LampType), l.N,
		chart.Number(l.HoursNow(), 0)+" h")) // a string always can be
	fmt.Fprintf(&out, `{"what":%s,"alone":[`, what)
	if post != nil {
		for i, p := range post.Band(grid(post.FirstHours, l.HoursNow(), 20), interval) {
			point(&out, i, p.Hours, p.Centre, p.Lo, p.Hi)
		}
	}
	out.WriteString(`],"read":[`)
	most := mostRead
	if lean {
		most /= 2
	}
	step := len(ws)/most + 1
	for i := 0; i < len(ws); i += step {
		point(&out, i, ws[i].Hours, ws[i].Level)
	}
	out.WriteString("]}")
	return out.Bytes()
}

// point writes run-hours and levels as a JSON array.
func point(out *bytes.Buffer, i int, hours float64, levels ...float64) {
	if i > 0 {
		out.WriteByte(',')
	}
	fmt.Fprintf(out, "[%.0f", hours)
	for _, v := range levels {
		if !estimate.Finite(v) {
			out.WriteString(",null")
			continue
		}
		out.WriteString("," + strconv.FormatFloat(v, 'f', 3, 64))
	}
	out.WriteByte(']')
}

// cohortCurve is a cohort's lamps alone.
type cohortCurve struct {
	name  string
	curve []byte
}

func (b *book) cohortCurves() (out []cohortCurve) {
	taken := map[string]bool{}
	for _, id := range b.fixtures {
		taken[id] = true
	}
	for _, t := range fleet.LampTypes {
		for _, c := range cohorts(b.in.Result.Lives, t) {
			bins := drawn(b.alone(c))
			if len(bins) < 2 || taken[c.name] {
				continue
			}
			taken[c.name] = true
			var buf bytes.Buffer
			what, _ := json.Marshal(fmt.Sprintf("%s, median of up to %s", lampType(t), count(len(c.lives), "lamp", "lamps")))
			fmt.Fprintf(&buf, `{"what":%s,"alone":[`, what)
			for i, x := range bins {
				point(&buf, i, x.hours, x.median, x.lo, x.hi)
			}
			buf.WriteString("]}")
			out = append(out, cohortCurve{c.name, buf.Bytes()})
		}
	}
	return out
}
