package survey

import (
	"math"
	"strings"
	"testing"
)

// Entries of the published viridis table that lie between the anchors kept.
func TestColoursFollowThePublishedTable(t *testing.T) {
	for _, c := range []struct {
		i    int
		want [3]float64
	}{
		{0, [3]float64{.267004, .004874, .329415}}, {25, [3]float64{.282623, .140926, .457517}},
		{51, [3]float64{.253935, .265254, .529983}},
		{102, [3]float64{.163625, .471133, .558148}}, {128, [3]float64{.127568, .566949, .550556}},
		{153, [3]float64{.134692, .658636, .517649}},
		{179, [3]float64{.266941, .748751, .440573}}, {204, [3]float64{.477504, .821444, .318195}},
		{230, [3]float64{.741388, .873449, .149561}},
		{248, [3]float64{.926106, .897330, .104071}}, {255, [3]float64{.993248, .906157, .143936}},
	} {
		got := rgb(float64(c.i) / 255)
		for k := range got {
			if math.Abs(float64(got[k])-255*c.want[k]) > 5 {
				t.Errorf("entry %d channel %d: got %d, want %.1f", c.i, k, got[k], 255*c.want[k])
			}
		}
	}
}

func lightness(lum float64) float64 { // CIE 1976 L*
	if lum > 216.0/24389 {
		return 116*math.Cbrt(lum) - 16
	}
	return lum * 24389 / 27
}

// Even steps in value are even steps in lightness, and the order survives the
// loss of red-green vision (matrices of Machado et al. 2009, severity 1, from
// memory, applied to linear light).
func TestScaleIsEvenAndColourBlindSafe(t *testing.T) {
	const n = 50
	least, most := math.Inf(1), 0.0
	prev := -1.0
	for i := 0; i <= n; i++ {
		l := lightness(luminance(rgb(float64(i) / n)))
		if i > 0 {
			least, most = math.Min(least, l-prev), math.Max(most, l-prev)
		}
		prev = l
	}
	t.Logf("lightness steps from %.2f to %.2f", least, most)
	if least <= .8 || most/least > 2.5 {
		t.Errorf("lightness steps from %.2f to %.2f", least, most)
	}
	for name, m := range map[string][3]float64{
		// luminance row of each simulated colour = luma weights x matrix
		"deuteranopia": mix([3][3]float64{{.367322, .860646, -.227968}, {.280085, .672501, .047413},
			{-.011820, .042940, .968881}}),
		"protanopia": mix([3][3]float64{{.152286, 1.052583, -.204868}, {.114503, .786281, .099216},
			{-.003882, -.048116, 1.051998}}),
	} {
		prev := -1.0
		for i := 0; i <= n; i++ {
			c := rgb(float64(i) / n)
			y := 0.0
			for k := range c {
				one := [3]int{}
				one[k] = c[k]
				y += m[k] * luminance(one) / [3]float64{.2126, .7152, .0722}[k]
			}
			if y <= prev {
				t.Errorf("%s: step %d is not lighter", name, i)
			}
			prev = y
		}
	}
}

func mix(m [3][3]float64) (w [3]float64) {
	luma := [3]float64{.2126, .7152, .0722}
	for k := range w {
		for j := range luma {
			w[k] += luma[j] * m[j][k]
		}
	}
	return w
}

func TestScaleEnds(t *testing.T) {
	s := Scale{100, 900}
	if s.Colour(50) != s.Colour(100) || s.Colour(2000) != s.Colour(900) || s.Colour(100) != "#440154" ||
		s.Colour(900) != "#fde725" {
		t.Errorf("ends: %s %s", s.Colour(100), s.Colour(900))
	}
	if s.Colour(math.NaN()) != "#808080" || s.Ink(100) != "#ffffff" || s.Ink(900) != "#000000" {
		t.Error("NaN is grey, dark cells take white ink")
	}
	if (Scale{5, 5}).Colour(5) != (Scale{0, 1}).Colour(.5) {
		t.Error("a scale without width is its middle")
	}
	if s := ScaleOf(); s.Lo != 0 || s.Hi != 1 {
		t.Error("no survey, no scale")
	}
	for i := 0; i <= 100; i++ { // WCAG AA for text asks for 4.5
		v := s.Lo + (s.Hi-s.Lo)*float64(i)/100
		l := luminance(rgb(s.at(v)))
		if c := math.Max((l+.05)/.05, 1.05/(l+.05)); c < 4.5 {
			t.Errorf("contrast %v at %v", c, v)
		}
	}
}

func TestHeatMap(t *testing.T) {
	m := [][]float64{{100, 500}, {300, 900}}
	s := grid("s", "F", m)
	s.Cols = 3
	got := Heat(s, ScaleOf(s), false)
	want := "" +
		"    100 .        500 ...        -\n" +
		"    300 ..       900 .....      -\n" +
		"scale 100 to 900 umol/m2/s\n"
	if got != want {
		t.Errorf("got\n%s", got)
	}
	if c := Heat(s, ScaleOf(s), true); !strings.Contains(c, "\x1b[48;2;68;1;84m\x1b[38;2;255;255;255m    100 \x1b[0m") {
		t.Errorf("got %q", c)
	}
	if Heat(Survey{}, Scale{}, false) != "no grid to draw\n" {
		t.Error("an empty survey")
	}
}

func TestSheet(t *testing.T) {
	got, err := Sheet(SheetSpec{Fixture: "F7", Rows: 5, Cols: 5, HeightM: .6, Geometry: Geometry{SpacingM: .25},
		Declared: Declared{SupplyV: 240, WarmUpMin: 30}, Reference: "REF"})
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range []string{"F7", "| 25", "0.6 m", "0.25 m apart", "at least 30", "declared 240", "Read spot 13 again",
		"reference fixture REF first", "licensed electrician", "locked out", "Do not look into",
		"survey,taken_at,fixture,height_m,row,col,ppfd", "never write 0"} {
		if !strings.Contains(got, w) {
			t.Errorf("the sheet lacks %q", w)
		}
	}
	for _, l := range strings.Split(got, "\n") {
		if strings.HasSuffix(l, " ") && strings.TrimSpace(l) == "" {
			t.Errorf("a line of blanks: %q", l)
		}
	}
	if _, err := Sheet(SheetSpec{Rows: 5, Cols: 50}); err == nil {
		t.Error("fifty columns on a page")
	}
	if s, _ := Sheet(SheetSpec{Rows: 1, Cols: 9}); !strings.Contains(s, "No reference fixture is named") {
		t.Error("no word on the missing reference")
	}
}
