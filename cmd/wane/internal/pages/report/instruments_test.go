package report

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"wane/cmd/wane/internal/circuits"
	"wane/ingest/site"
	"wane/transform/fleet"
	"wane/transform/supply"
	"wane/transform/survey"
	"wane/transform/survey/surveys"
)

// inventedSurveys is a rig that gains 2 % a year over three visits, and two
// fixtures: A01 fades by 3 % a year, A05 does not but tilts in the last year.
// A <hostile> name stands among them, and a spot was not read.
func inventedSurveys(cfg site.Config) *surveys.Book {
	cfg.Survey = site.Defaults().Survey
	cfg.Survey.Reference, cfg.Survey.HeightM, cfg.Survey.SpacingM = "REF", 1.2, .3
	var all []survey.Survey
	for year := range 3 {
		for i, f := range []string{"REF", "A01", "A05", `x"><b>`} {
			level := 1.0
			if f == "A01" {
				level = math.Pow(.97, float64(year))
			}
			s := survey.Survey{ID: fmt.Sprintf("%s-%d", f, year), Fixture: f, HeightM: 1.2,
				TakenAt: time.Date(2021+year, 3, 1, 20, i, 0, 0, time.UTC)}
			for r := 1; r <= 5; r++ {
				for c := 1; c <= 5; c++ {
					if f == "A05" && year == 1 && r == 3 && c == 3 {
						continue
					}
					x, y := float64(c-3), float64(r-3)
					v := 800 * math.Exp(-(x*x+y*y)/14) * level * math.Pow(1.02,
						float64(year)) * (1 + .004*math.Sin(float64(7*r+3*c+year+i)))
					if f == "A05" && year == 2 {
						v *= 1 + .04*x
					}
					s.Spots = append(s.Spots, survey.Spot{Row: r, Col: c, PPFD: v})
				}
			}
			all = append(all, s)
		}
	}
	return surveys.Of(all, cfg.Rig(), nil, nil, time.Time{})
}

// inventedSupply is a circuit registered as 240 V on a 208Y/120 service, one as
// registered, and one that nothing reads.
func inventedSupply(t testing.TB) *circuits.Site {
	t.Helper()
	out := &circuits.Site{NoPhases: "unbalance cannot be told"}
	for _, k := range []struct {
		name           string
		registered, at float64
	}{{"C-odd", 240, 210}, {"C-plain", 230, 230}} {
		var count supply.Counter
		for month := 1; month <= 12; month++ {
			for hour := range 24 {
				for i := range 30 {
					v := k.at + 1.5*math.Cos(float64(hour)/4) + .2*math.Sin(float64(i*month))
					count.Add(month, hour, int64(v/supply.Width), 1)
				}
			}
		}
		judged, err := supply.Judge(k.name, k.registered, supply.Histogram{Bins: count.Bins()}, false)
		if err != nil {
			t.Fatal(err)
		}
		c := &circuits.Circuit{Name: k.name, Registered: k.registered, Readings: 8640, Circuit: judged,
			Blind: "shorter ones are not seen"}
		fx := &fleet.Fixture{ID: "A01", RatedV: k.registered}
		v, err := supply.CheckRating(k.registered, judged.Profile, 10)
		if err != nil {
			t.Fatal(err)
		}
		c.Fixtures, c.Rated = []*fleet.Fixture{fx}, []circuits.Rated{{Fixture: fx, Known: true, Verdict: v}}
		c.Events = []supply.Event{{Kind: supply.Sag, Start: at(19000), End: at(19000), Samples: 2, ExtremeV: 180, AtMost: -1,
			Class: "not known"}}
		for range mostEvents {
			c.Events = append(c.Events, c.Events[0])
		}
		out.Circuits = append(out.Circuits, c)
	}
	out.Circuits = append(out.Circuits, &circuits.Circuit{Name: "C-silent",
		Circuit: supply.Circuit{Why: "no voltage series watches it"}})
	return out
}

func TestSurveysPageSaysWhatTheReferenceDoes(t *testing.T) {
	dir := t.TempDir()
	in := threeRoomsInput(t)
	if err := Write(dir, in); err != nil {
		t.Fatal(err)
	}
	files := read(t, dir)
	sound(t, files, "surveys.html")
	page := files["surveys.html"]
	for _, want := range []string{
		"The rig moved: it reads the reference fixture &#43;4.1 %",
		"Only the reference fixture shows this: as read the change is",
		"without the reference the fading would not have been seen", // 6 % lost, 4 % gained: as read no change that is sure
		"Shape: changed",
		"dashed ring marks a spot that stands out",
		"no difference that this rig can see",
		"Control chart of the reference fixture REF",
		"24 of 25 spots were read above 0 both times", "<summary>The surveys between</summary>",
		"<summary>Every survey taken in (",
		"Open nothing. Gear and connectors are for a licensed electrician",
	} {
		if !strings.Contains(page, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	if strings.Contains(page, `x"><b>`) {
		t.Error("a name became markup")
	}
}

func TestSupplyPagePutsTheCautionFirst(t *testing.T) {
	dir := t.TempDir()
	if err := Write(dir, threeRoomsInput(t)); err != nil {
		t.Fatal(err)
	}
	files := read(t, dir)
	sound(t, files, "supply.html")
	page := files["supply.html"]
	caution, table := strings.Index(page, "Before anyone opens anything: a licensed electrician"),
		strings.Index(page, "<table")
	if caution < 0 || caution > table {
		t.Errorf("the caution stands at %d, the first table at %d", caution, table)
	}
	for _, want := range []string{
		"Circuit C-odd is registered as 240 V but reads 209 to 212 V", "most likely 208Y/120, line to line (208 V)",
		"high leg", "Not what the register says: C-odd.",
		"1 fixture is not rated for the voltage read there", "Nothing is known of C-silent.", "COMAR 20.50.07.02",
		"Unbalance cannot be told.", "<summary>Circuits that are what the register says (", "and 1 more: <code>wane supply C-odd --show events</code>",
	} {
		if !strings.Contains(page, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
}

func TestNoInstrumentsNoPages(t *testing.T) {
	dir := t.TempDir()
	in := threeRoomsInput(t)
	in.Surveys, in.Supply = nil, nil
	if err := Write(dir, in); err != nil {
		t.Fatal(err)
	}
	files := read(t, dir)
	if files["surveys.html"] != "" || files["supply.html"] != "" ||
		strings.Contains(files["index.html"], "Canopy surveys") {
		t.Error("pages of instruments that the site does not have")
	}
}

func TestChangeColoursAreApart(t *testing.T) {
	if a, b, c := changeColour(-10, 10), changeColour(0, 10), changeColour(10, 10); a != "#b35806" || b != "#f7f7f7" ||
		c != "#542788" {
		t.Errorf("%s %s %s", a, b, c)
	}
	if changeColour(-99, 10) != changeColour(-10, 10) || changeColour(3, 0) != "#f7f7f7" {
		t.Error("beyond the scale takes its end; a scale without width its middle")
	}
}
