package report

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"wane/transform/estimate"
)

// inventedGroup is three sites, one of which is left out, with two makes of one type.
func inventedGroup() Group {
	g := Group{Name: "Lowland <group>", Invented: true, Interval: .8,
		Sites: []GroupSite{
			{Site: "north", Name: "Invented north", Link: "../north/index.html", AsOf: 20300, Lamps: 40, Gone: 3, Soon: 7, Year: 19,
				Unsure: 2, Work: 21, Cost: 4250, Currency: "EUR"},
			{Site: "south", Name: "Invented south", AsOf: 20299, Lamps: 12, Soon: 1, Year: 2},
		},
		Spares: []GroupSpares{{LampType: "hps-de", Sites: 2, Lamps: 52, OnHand: 3, Alone: 6, Together: 4, Level: .95,
			Failures: estimate.Estimate{Centre: 1.6, Lo: 0, Hi: 3, Level: .8, N: 52}}},
		Needs: []Need{{Where: "west", What: "its night failed: the archive is being written to"}},
	}
	for _, m := range []struct {
		model string
		fade  float64
	}{{"", .008}, {"Invented-K", .007}, {"Invented-P", .011}} {
		for h := 1.0; h <= 12; h++ {
			level := 1 - m.fade*h
			g.Makes = append(g.Makes, GroupMake{"hps-de", m.model, 40, 2, 1000 * h, level, level - .02, level + .01})
		}
	}
	return g
}

func inventedGroupYear() GroupYear {
	return GroupYear{Year: 2025,
		Sites: []GroupSiteYear{{Site: "north", AsOf: 20300, Days: 365, AtStart: 40, AtEnd: 40, Relamped: 3, Failed: 2,
			Claims: 1, Hours: 175200}},
		Types: []GroupTypeYear{{LampType: "hps-de", Sites: 1, Lamps: 43, Failures: 2, Hours: 175200,
			Rate: estimate.Estimate{Centre: 1.1e-5, Lo: 1.4e-6, Hi: 4.1e-5, Level: .95, N: 2}},
			{LampType: "led", Sites: 1, Lamps: 4, Hours: 9000, Rate: estimate.Estimate{Hi: 3e-4, Level: .95}}},
		Left: []Need{{Where: "west", What: "its register cannot be read"}}}
}

func TestGroupPages(t *testing.T) {
	dir := t.TempDir()
	read := func(name string) string {
		b, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	if _, err := WriteGroupYear(dir, "Lowland", true, inventedGroupYear()); err != nil {
		t.Fatal(err)
	}
	if err := WriteGroup(dir, inventedGroup()); err != nil {
		t.Fatal(err)
	}
	index := read("index.html")
	for _, want := range []string{"Invented data", "Lowland &lt;group&gt;", "8 are due within 90 days", `href="../north/index.html"`,
		"its night failed", "4,250", "no prices are stated", "1.6 (0 to 3)", "Isolate and lock out", `href="yearly-2025.html"`} {
		if !strings.Contains(strings.NewReplacer("<small>", "", "</small>", "", "\u2009", ",", "\u00a0", " ").Replace(index), want) {
			t.Errorf("the page of the sites lacks %q", want)
		}
	}
	if m := read("makes.html"); !strings.Contains(m, "Invented-P") || !strings.Contains(m, "40 lamp lives at 2 sites") {
		t.Error("the page of makes lacks the makes, or the lamps behind them")
	}
	if y := read("yearly-2025.html"); !strings.Contains(y, "none seen") || !strings.Contains(y, "its register cannot be read") {
		t.Error("the year's page lacks a type without failures, or the site that is left out")
	}
	if err := WriteGroup(dir, inventedGroup()); err != nil {
		t.Fatal(err)
	}
	if read("index.html") != index {
		t.Error("the same input gives other bytes")
	}
}
