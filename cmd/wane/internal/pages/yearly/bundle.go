package yearly

import (
	"encoding/json"
	"fmt"
	"path"
	"slices"
	"sort"
	"strings"
	"time"

	"wane/cmd/wane/internal/show"
	"wane/ingest"
	"wane/ingest/archive"
	"wane/queries"
	"wane/transform/calendar"
	"wane/transform/fleet"
	"wane/transform/yearly"
)

// sorted gives the year's files by name, then hash: not by when they came.
func (m *Measured) sorted() []archive.File { return byName(m.files) }

func byName(files []archive.File) []archive.File {
	out := append([]archive.File(nil), files...)
	sort.SliceStable(out, func(i, j int) bool {
		if out[i].Name != out[j].Name {
			return out[i].Name < out[j].Name
		}
		return out[i].SHA256 < out[j].SHA256
	})
	return out
}

// bundles lays out the evidence of each claim: what is claimed, the rows it rests
// on, and the originals behind them.
func (g *gatherer) bundles(claims []yearly.Claim, originals bool) (map[string][]byte, error) {
	out := map[string][]byte{}
	if len(claims) == 0 {
		return out, nil
	}
	origins, err := ingest.OriginsOf(g.a)
	if err != nil {
		return nil, err
	}
	taken := map[string]bool{}
	for _, c := range claims {
		dir := path.Join("warranty", folderName(c.Fixture, c.LampLife, taken))
		if err := g.bundle(out, dir, c, origins, originals); err != nil {
			return nil, fmt.Errorf("warranty evidence of %s: %w", c.Fixture, err)
		}
	}
	return out, nil
}

func (g *gatherer) bundle(out map[string][]byte, dir string, c yearly.Claim, origins *ingest.Origins,
	originals bool) error {
	local := map[string][]byte{}
	claim, err := json.MarshalIndent(c, "", " ")
	if err != nil {
		return err
	}
	local["claim.json"] = append(claim, '\n')
	rows, err := queries.DailyLevels(g.ctx, g.db, calendar.Date(-25567), calendar.Date(g.in.AsOf), c.Fixture)
	if err != nil {
		return err
	}
	levels := newSheet("levels", append(plain("date"), number("run_hours", 2), number("run_hours_lo", 2),
		number("run_hours_hi", 2), number("hours_by", 0), number("output_raw", 3), number("gain_ln", 6),
		number("supply_ln", 6), number("ambient_ln", 6), number("output", 3), number("level", 5), number("level_raw", 5),
		number("readings", 0), number("supply_v", 2), number("ambient_c", 2), number("dim_pct", 1), number("flags", 0))...)
	var from, to time.Time
	for _, r := range rows {
		if int(r.LampLife) != c.LampLife {
			continue
		}
		if from.IsZero() {
			from = r.Day
		}
		to = r.Day
		levels.row(show.Date(r.Day), r.RunHours, r.RunHoursLo, r.RunHoursHi, r.Witness, null(r.OutputRaw), null(r.GainLn),
			null(r.SupplyLn), null(r.AmbientLn),
			null(r.Output), null(r.Level), null(r.LevelRaw), r.Usable, null(r.SupplyV), null(r.AmbientC), null(r.DimPct),
			r.Flags)
	}
	if local["levels.csv"], err = levels.bytes(); err != nil {
		return err
	}
	local["logbook.csv"], err = g.logbook(c.Fixture)
	if err != nil {
		return err
	}
	behind := g.behind(c.Fixture, from, to, origins)
	list := newSheet("originals", plain("name", "sha256", "rows", "stored", "quarantined")...)
	for _, f := range behind {
		list.row(f.Name, f.SHA256, f.Rows, f.Stored, f.Quarantined)
		if originals {
			data, err := g.a.ReadOriginal(&f)
			if err != nil {
				return err
			}
			local["originals/"+f.SHA256] = data
		}
	}
	if local["originals.csv"], err = list.bytes(); err != nil {
		return err
	}
	local["README.txt"] = []byte(readme(c, originals))
	local["manifest.sha256"] = manifest(local)
	for name, data := range local {
		out[dir+"/"+name] = data
	}
	return nil
}

// behind lists the files that hold readings of the lamp's light within its life.
func (g *gatherer) behind(fixture string, from, to time.Time, origins *ingest.Origins) []archive.File {
	f := g.reg.Fixture(fixture)
	if f == nil || from.IsZero() {
		return nil
	}
	start, end := calendar.Start(calendar.DayOf(from, time.UTC), g.loc),
		calendar.Start(calendar.DayOf(to, time.UTC)+1, g.loc)
	var out []archive.File
	for _, o := range origins.Behind(g.reg.Watched(f, fleet.PPFD), start, end) {
		if !slices.ContainsFunc(out, func(x archive.File) bool { return x.Sequence == o.File.Sequence }) {
			out = append(out, o.File)
		}
	}
	return byName(out)
}

// logbook gives the lines that speak of the fixture or of the sensors that read it.
func (g *gatherer) logbook(fixture string) ([]byte, error) {
	f := g.reg.Fixture(fixture)
	t := newSheet("logbook", plain("line", "at", "what", "scope", "id", "value", "note")...)
	if f != nil {
		sensors := map[string]bool{}
		for _, w := range g.reg.Watched(f, fleet.PPFD) {
			sensors[w.Row.Sensor] = true
		}
		for i := range g.reg.Logbook {
			e := &g.reg.Logbook[i]
			if e.Scope == fleet.OfSensor && sensors[e.ID] || e.Scope != fleet.OfSensor && g.reg.Covers(e, f) {
				t.row(e.Line, e.At.In(g.loc).Format(time.RFC3339), string(e.What), string(e.Scope), e.ID, e.Value, e.Note)
			}
		}
	}
	return t.bytes()
}

func null(n queries.Null) any {
	if !n.Valid {
		return nil
	}
	return n.V
}

// manifest lists files as `sha256sum -c` reads them.
func manifest(files map[string][]byte) []byte {
	names := make([]string, 0, len(files))
	for n := range files {
		names = append(names, n)
	}
	sort.Strings(names)
	var b strings.Builder
	for _, n := range names {
		fmt.Fprintf(&b, "%s  %s\n", hash(files[n]), n)
	}
	return []byte(b.String())
}

// folderName makes a folder's name of a fixture's, which may hold anything.
func folderName(fixture string, life int, taken map[string]bool) string {
	clean := strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '-', r == '_':
			return r
		}
		return '_'
	}, fixture)
	name := fmt.Sprintf("lamp-%s-life%d", clean, life)
	if clean != fixture || taken[strings.ToLower(name)] {
		name += "-" + hash([]byte(fixture))[:8]
	}
	taken[strings.ToLower(name)] = true
	return name
}

func readme(c yearly.Claim, originals bool) string {
	where := "The originals are not in this folder: they lie in the site's archive under their SHA-256, and `wane yearly --originals` puts copies beside this file."
	if originals {
		where = "The originals lie in originals/, each named by its SHA-256."
	}
	return fmt.Sprintf(`Evidence for a warranty claim: fixture %s, lamp life %d

Terms      %s (level %.3f until %.0f run-hours; from site.yaml, %s)
Verdict    %s: %s

claim.json       the claim in numbers, with method, interval and warnings
levels.csv       every day of this lamp: run-hours, output as read, each correction
                 as a logarithm, and the level. output = output_raw x
                 exp(gain_ln + supply_ln + ambient_ln)
logbook.csv      what was done to the fixture and to the sensors that read it
originals.csv    the logger files that these days were read from, with SHA-256
manifest.sha256  SHA-256 of all files of this folder; check: sha256sum -c manifest.sha256

%s
`, c.Fixture, c.LampLife, c.Description, c.Warranted, c.Hours, c.Path, c.Verdict, c.Say, where)
}
