package chart

import (
	"encoding/xml"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// whole fails where the markup does not parse, or holds what must not be
// written.
func whole(t interface {
	Helper()
	Fatalf(string, ...any)
}, svg string) {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader("<root>" + svg + "</root>"))
	ids := map[string]bool{}
	for {
		tok, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatalf("not well-formed: %v\n%s", err, svg)
		}
		e, ok := tok.(xml.StartElement)
		if !ok {
			continue
		}
		for _, a := range e.Attr {
			if a.Name.Local == "id" {
				if ids[a.Value] {
					t.Fatalf("id %q twice", a.Value)
				}
				ids[a.Value] = true
			}
			if a.Name.Local == "href" || strings.Contains(a.Value, "url(") {
				t.Fatalf("%s=%q: nothing may be fetched", a.Name.Local, a.Value)
			}
		}
	}
	for _, bad := range []string{"NaN", "Inf", "http:", "https:", "font-family", "<?xml", "xmlns"} {
		if strings.Contains(svg, bad) {
			t.Fatalf("holds %q:\n%s", bad, svg)
		}
	}
}

func decline() XY {
	nan := math.NaN()
	return XY{
		Title: "Decline of <A&1>", Desc: "falls from 1.00 to 0.88",
		X: Axis{Label: "run-hours, h"}, Y: Axis{Label: "level", Places: 2},
		Layers: []Layer{
			Band{Name: "band", Tone: Blue, Spans: []Span{{0, 0.99, 1.01}, {5000, 0.9, 0.95}, {nan, nan, nan},
				{9000, math.Inf(-1), 1}, {12000, 0.8, 0.9}}},
			Series{Name: "level", Look: Looks[0], Points: []Point{{0, 1}, {1000, 0.99}, {nan, nan}, {4000, 0.94}, {5000, 0.93}}},
			Level{Name: "threshold", At: 0.9, Look: Look{Tone: Vermilion, Dash: Dashed}},
			Moment{Name: "today", At: 5000, Look: Look{Tone: Ink}},
			Flags{Name: "events", List: []Flag{{"C", 1000}, {"S", 1010}, {"R", 99999}}},
			Whisker{Name: "due", Y: 0.9, Lo: 6000, Centre: 7000, Hi: math.Inf(1), Look: Look{Tone: Ink, Mark: Diamond}},
		},
	}
}

func TestXYIsFitForSettingIn(t *testing.T) {
	svg := decline().SVG("c1")
	whole(t, svg)
	for _, want := range []string{
		`class="wide" viewBox="0 0 940 420" role="img" aria-labelledby="c1-wide-t c1-wide-d"`,
		`class="narrow" viewBox="0 0 400 330"`,
		"Decline of &lt;A&amp;1&gt;", "stroke-dasharray", ">today<", `font-weight="bold"`,
	} {
		if !strings.Contains(svg, want) {
			t.Errorf("no %q in\n%s", want, svg)
		}
	}
	if again := decline().SVG("c1"); again != svg {
		t.Error("the same chart drawn twice differs")
	}
	keys := decline().Keys()
	if len(keys) != 5 {
		t.Errorf("%d entries in the key, want 5 (the moment is named where it stands)", len(keys))
	}
	for _, k := range keys {
		whole(t, k.Sample)
	}
}

func TestChartOfNothing(t *testing.T) {
	whole(t, XY{}.SVG("x"))
	whole(t, Ranges{}.SVG("x"))
	whole(t, XY{Layers: []Layer{Series{}, Band{}, Flags{}, Level{At: math.NaN()},
		Whisker{Lo: math.NaN(), Centre: math.NaN(), Hi: math.NaN()}}}.SVG("x"))
	whole(t, XY{Layers: []Layer{Series{Points: []Point{{1, 1}}, Look: Looks[0]}}}.SVG("x"))
}

func TestRanges(t *testing.T) {
	r := Ranges{Title: "due", X: Axis{Label: "date", Days: true}, Moments: []Moment{{Name: "today", At: 20000}},
		Groups: []RangeGroup{
			{Heading: "room 1", Rows: []Range{{Label: "a rather long name of a fixture that hangs here", Lo: 20100,
				Centre: 20200, Hi: 20300, Look: Looks[0]}, {Label: "b\x00c", Lo: 20100, Centre: math.NaN(), Hi: math.Inf(1),
				Look: Looks[1]}}},
			{Heading: "<room> \"2\"", Rows: []Range{{Label: "c", Lo: 20050, Centre: 20060, Hi: 20070, Look: Looks[2]}}},
		}}
	svg := r.SVG("d")
	whole(t, svg)
	for _, want := range []string{"a rather lon…", "&lt;room&gt; &#34;2&#34;", ">b c<", ">Jan 2025<"} {
		if !strings.Contains(svg, want) {
			t.Errorf("no %q in\n%s", want, svg)
		}
	}
}

// A note stands right of its interval and inside the drawing, also where the interval
// reaches the end of the axis; what lies wholly beyond the axis has it left of the arrow.
func TestNotesStandClearOfIntervals(t *testing.T) {
	row := func(lo, centre, hi float64) Range {
		return Range{Label: "a", Lo: lo, Centre: centre, Hi: hi, Look: Looks[0], Note: "held 100 %, 20 lamps"}
	}
	for name, r := range map[string]Range{"end": row(20, 60, 100), "open": row(20, math.NaN(), math.Inf(1)),
		"middle": row(20, 30, 40), "beyond": row(150, 170, 190)} {
		svg := Ranges{X: Axis{Min: 0, Max: 100}, Groups: []RangeGroup{{Rows: []Range{r}}}}.SVG("n")
		_, svg, _ = strings.Cut(svg, `class="narrow"`)
		end := 0.0
		for _, m := range regexp.MustCompile(`<path d="([^"]*)"[^>]*stroke="#005f99"`).FindAllStringSubmatch(svg, -1) {
			for _, x := range regexp.MustCompile(`[ML]([\d.]+)`).FindAllStringSubmatch(m[1], -1) {
				v, _ := strconv.ParseFloat(x[1], 64)
				end = max(end, v)
			}
		}
		m := regexp.MustCompile(`<text x="([\d.]+)"[^>]*>held`).FindStringSubmatch(svg)
		if m == nil || end == 0 {
			t.Fatalf("%s: no note or no interval in\n%s", name, svg)
		}
		at, _ := strconv.ParseFloat(m[1], 64)
		if width := float64(noteStyle().Width(r.Note)); name == "beyond" && at+width > end || name != "beyond" && at < end ||
			at+width > narrowWidth {
			t.Errorf("%s: the interval ends at %.0f, its note of %.0f begins at %.0f of %v", name, end, width, at, narrowWidth)
		}
	}
}

func TestAnyNumbersDraw(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		any := rapid.OneOf(rapid.Float64Range(-1e6, 1e6),
			rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1), 0, 1}))
		var x XY
		var line, band = Series{Look: Looks[1]}, Band{}
		for range rapid.IntRange(0, 8).Draw(t, "n") {
			line.Points = append(line.Points, Point{any.Draw(t, "x"), any.Draw(t, "y")})
			band.Spans = append(band.Spans, Span{any.Draw(t, "x"), any.Draw(t, "lo"), any.Draw(t, "hi")})
		}
		x.Layers = []Layer{band, line, Whisker{Y: any.Draw(t, "y"), Lo: any.Draw(t, "lo"), Centre: any.Draw(t, "c"),
			Hi: any.Draw(t, "hi")},
			Level{At: any.Draw(t, "level")}, Moment{Name: rapid.String().Draw(t, "name"), At: any.Draw(t, "at")}}
		whole(t, x.SVG("r"))
	})
}

func TestNumber(t *testing.T) {
	for _, c := range []struct {
		v      float64
		places int
		want   string
	}{
		{0, 0, "0"}, {999, 0, "999"}, {1000, 0, "1,000"}, {1234567.891, 1, "1,234,567.9"}, {-1234, 0, "−1,234"},
		{-0.001, 2, "0.00"}, {0.905, 2, "0.91"},
		{math.NaN(), 0, "not known"}, {math.Inf(1), 0, "not known"},
	} {
		if got := Number(c.v, c.places); got != c.want {
			t.Errorf("Number(%v, %d) = %q, want %q", c.v, c.places, got, c.want)
		}
	}
}

func TestTicks(t *testing.T) {
	ticks := ticker{Axis{Places: 2}, 5}.Ticks(0.83, 1.02)
	if len(ticks) < 3 || ticks[0].Label != "0.85" {
		t.Errorf("ticks %v", ticks)
	}
	days := ticker{Axis{Days: true}, 9}.Ticks(20000, 20000+1100)
	for _, d := range days {
		if len(d.Label) != 8 {
			t.Errorf("date label %q", d.Label)
		}
	}
	if len(days) < 4 || len(days) > 8 {
		t.Errorf("%d date ticks", len(days))
	}
}

func TestStrip(t *testing.T) {
	if Strip(math.NaN(), 0, 1, 0.9, 0.5, 1, true) != "" {
		t.Error("a strip of nothing")
	}
	b := Strip(0.88, 0.86, 0.9, 0.9, 0.6, 1.05, true)
	whole(t, b)
	if !strings.Contains(b, "strip under") {
		t.Error("a level under its threshold does not look it")
	}
}

// A band is one path with its edge, and the letters of events in a row are one word: a
// great site has thousands of drawings.
func TestDrawingsAreShort(t *testing.T) {
	got := XY{Title: "t", X: Axis{Max: 100}, Y: Axis{Max: 1}, Slim: true, Layers: []Layer{
		Band{Tone: Blue, Spans: []Span{{0, .8, .9}, {50, .7, .8}, {100, .6, .7}}},
		Flags{List: []Flag{{"C", 10}, {"S", 40}, {"C", 70}}}}}.SVG("x")
	if n := strings.Count(got, "#005f99"); n != 2 || !strings.Contains(got, `z" fill="#005f99" fill-opacity="0.18" stroke="#005f99" stroke-width=".6"/>`) {
		t.Errorf("the band is drawn in %d colours: %s", n, got)
	}
	if !regexp.MustCompile(`<text x="[0-9.]+ [0-9.]+ [0-9.]+" y="[0-9.]+"[^>]*>CSC</text>`).MatchString(got) {
		t.Errorf("the letters are not one word: %s", got)
	}
	if strings.Contains(got, "<desc") {
		t.Errorf("nothing is described: %s", got)
	}
}
