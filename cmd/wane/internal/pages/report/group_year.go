package report

import (
	"fmt"
	"os"
	"path/filepath"

	"wane/cmd/wane/internal/pages/chart"
	"wane/ingest/site"
	"wane/transform/estimate"
	"wane/transform/fleet"
)

// GroupYear is a calendar year of a group of sites.
type GroupYear struct {
	Year  int
	Sites []GroupSiteYear
	Types []GroupTypeYear
	Left  []Need // sites that could not be summed up
}

// GroupSiteYear is that of one site.
type GroupSiteYear struct {
	Site                                     string
	AsOf                                     int32
	Days                                     int // of the year, with a record
	AtStart, AtEnd, Relamped, Failed, Claims int
	Hours                                    float64 // that its lamps burned
}

// GroupTypeYear is that of one lamp type at all sites.
type GroupTypeYear struct {
	LampType               string
	Sites, Lamps, Failures int
	Hours                  float64
	Rate                   estimate.Estimate // failures an hour
}

// groupYear is the page.
type groupYear struct {
	Year         int
	Lead         string
	Left         []Need
	Types, Sites Table
}

// WriteGroupYear writes the page of a year beside the group's others, and gives its path.
func WriteGroupYear(dir, name string, invented bool, y GroupYear) (string, error) {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return "", fmt.Errorf("make reports folder: %w", err)
	}
	in := Input{Config: site.Config{Name: name}}
	if invented {
		in.Invented = inventedWords
	}
	for _, s := range y.Sites {
		in.AsOf = max(in.AsOf, s.AsOf)
	}
	b := newBook(in)
	w := writer{dir: dir, kept: map[string]bool{}}
	f := frame{Title: fmt.Sprintf("Reliability in %d", y.Year), Zone: "each site's own", Body: y.page(),
		Menu: groupMenu(groupYearFile(y.Year), append(groupYears(dir), y.Year))}
	if err := b.page("groupyear", groupYearFile(y.Year), f, w.put); err != nil {
		return "", err
	}
	if err := b.assets(w.put); err != nil {
		return "", err
	}
	return filepath.Join(dir, groupYearFile(y.Year)), w.flush()
}

func (y GroupYear) page() groupYear {
	out := groupYear{Year: y.Year, Left: y.Left}
	lamps, failed := 0, 0
	t := Table{Caption: "Lamp types at all sites: failures against the hours that their lamps burned",
		Head: columns("Lamp type", "#Sites", "#Lamp lives", "#Run-hours in the year", "#Failures",
			"#Failures per million lamp-hours"), Empty: "No lamp burned under watch."}
	for _, x := range y.Types {
		rate := valueOf(x.Rate.Scale(1e6), "at least", func(v float64) string { return chart.Number(v, 1) })
		if x.Failures == 0 && estimate.Finite(x.Rate.Hi) {
			rate = Value{Centre: "none seen", Interval: "up to " + chart.Number(1e6*x.Rate.Hi, 1)}
		}
		t.Rows = append(t.Rows, Row{Cells: []Cell{cell(lampType(fleet.LampType(x.LampType))), number(x.Sites), number(x.Lamps),
			cell(chart.Number(x.Hours, 0)), number(x.Failures), of(rate)}})
	}
	s := Table{Caption: "The sites in the year", Head: columns("Site", "#Days with a record", "#Fixtures at the start",
		"#At the end", "#Relamped", "#Failed", "#Run-hours of lamps", "#Warranty claims"), Empty: "No site could be summed up."}
	for _, x := range y.Sites {
		lamps, failed = lamps+x.AtEnd, failed+x.Failed
		s.Rows = append(s.Rows, Row{Cells: []Cell{cell(x.Site), number(x.Days), number(x.AtStart), number(x.AtEnd),
			number(x.Relamped), number(x.Failed), cell(chart.Number(x.Hours, 0)), number(x.Claims)}})
	}
	out.Types, out.Sites = t, s
	out.Lead = fmt.Sprintf("%s at %s at the end of the year; %s in it. Each site's own summary (wane yearly) has "+
		"the evidence.",
		count(lamps, "fixture hung", "fixtures hung"), count(len(y.Sites), "site", "sites"),
		count(failed, "lamp failed", "lamps failed"))
	return out
}
