package survey

import (
	"fmt"
	"math"
	"strings"
	"wane/transform/estimate"
)

// Scale is the range of values that colours span. Surveys that are compared
// share one.
type Scale struct{ Lo, Hi float64 } // umol/m2/s

// ScaleOf spans the readings of all surveys given.
func ScaleOf(ss ...Survey) Scale {
	s := Scale{math.Inf(1), math.Inf(-1)}
	for _, v := range ss {
		for _, p := range v.Spots {
			if estimate.Finite(p.PPFD) {
				s.Lo, s.Hi = math.Min(s.Lo, p.PPFD), math.Max(s.Hi, p.PPFD)
			}
		}
	}
	if s.Lo > s.Hi {
		return Scale{0, 1}
	}
	return s
}

// at gives the place of a value on the scale, 0 to 1; a scale without width
// puts everything in the middle.
func (s Scale) at(v float64) float64 {
	if !(s.Hi > s.Lo) {
		return .5
	}
	return math.Min(1, math.Max(0, (v-s.Lo)/(s.Hi-s.Lo)))
}

// viridis holds every fifteenth of the 256 colours of the map "viridis" by
// S. van der Walt, N. Smith and E. Firing (2015, public domain, CC0), from its
// published table; colours between are interpolated, within 5/255 of the table.
// The map was made even in CAM02-UCS and readable with red-green colour
// blindness; its lightness rises throughout, so it also prints in grey.
var viridis = [18][3]float64{
	{.267004, .004874, .329415}, {.281924, .089666, .412415}, {.280255, .165693, .476498},
	{.263663, .237631, .518762}, {.237441, .305202, .541921}, {.208623, .367752, .552675},
	{.182256, .426184, .557120}, {.159194, .482237, .558073}, {.137770, .537492, .554906},
	{.121148, .592739, .544641}, {.128087, .647749, .523491}, {.180653, .701402, .488189},
	{.274149, .751988, .436601}, {.395174, .797475, .367757}, {.535621, .835785, .281908},
	{.688944, .865448, .182725}, {.845561, .887322, .099702}, {.993248, .906157, .143936},
}

// rgb gives the colour at a place from 0 to 1, channels 0 to 255.
func rgb(t float64) [3]int {
	x := t * float64(len(viridis)-1)
	i := min(int(x), len(viridis)-2)
	f := x - float64(i)
	var c [3]int
	for k := range c {
		c[k] = int(math.Round(255 * ((1-f)*viridis[i][k] + f*viridis[i+1][k])))
	}
	return c
}

// Colour gives the colour of a value on a scale as #rrggbb; values beyond the
// scale take its end, a value that is not a number grey.
func (s Scale) Colour(v float64) string {
	if math.IsNaN(v) {
		return "#808080"
	}
	c := rgb(s.at(v))
	return fmt.Sprintf("#%02x%02x%02x", c[0], c[1], c[2])
}

// Ink gives #000000 or #ffffff, whichever stands out more on the colour of a
// value (contrast ratio of WCAG 2.1).
func (s Scale) Ink(v float64) string {
	c := [3]int{128, 128, 128}
	if !math.IsNaN(v) {
		c = rgb(s.at(v))
	}
	l := luminance(c)
	if (l+.05)/.05 >= 1.05/(l+.05) {
		return "#000000"
	}
	return "#ffffff"
}

// luminance is the relative luminance of an sRGB colour (WCAG 2.1).
func luminance(c [3]int) float64 {
	lin := func(v int) float64 {
		x := float64(v) / 255
		if x <= .04045 {
			return x / 12.92
		}
		return math.Pow((x+.055)/1.055, 2.4)
	}
	return .2126*lin(c[0]) + .7152*lin(c[1]) + .0722*lin(c[2])
}

// Heat draws a survey as text, the value in each cell, row 1 on top. With
// colour it paints the cells with 24-bit terminal colours; without, a mark of
// one to five dots beside the value shows the place on the scale. A spot not
// read is a dash.
func Heat(s Survey, scale Scale, colour bool) string {
	rows, cols := s.Size()
	if rows < 1 || cols < 1 || rows > MaxSide || cols > MaxSide {
		return "no grid to draw\n"
	}
	at := map[int]Spot{}
	for _, p := range s.Spots {
		at[Number(p.Row, p.Col, cols)] = p
	}
	var b strings.Builder
	for r := 1; r <= rows; r++ {
		for c := 1; c <= cols; c++ {
			p, ok := at[Number(r, c, cols)]
			switch {
			case !ok || !estimate.Finite(p.PPFD):
				fmt.Fprintf(&b, "%7s", "-")
				if !colour {
					b.WriteString("      ")
				}
			case colour:
				bg := rgb(scale.at(p.PPFD))
				ink := "255;255;255"
				if scale.Ink(p.PPFD) == "#000000" {
					ink = "0;0;0"
				}
				fmt.Fprintf(&b, "\x1b[48;2;%d;%d;%dm\x1b[38;2;%sm%7.0f \x1b[0m", bg[0], bg[1], bg[2], ink, p.PPFD)
			default:
				fmt.Fprintf(&b, "%7.0f %-5s", p.PPFD, strings.Repeat(".", 1+min(4, int(5*scale.at(p.PPFD)))))
			}
		}
		text := strings.TrimRight(b.String(), " ")
		b.Reset()
		b.WriteString(text + "\n")
	}
	fmt.Fprintf(&b, "scale %.0f to %.0f umol/m2/s\n", scale.Lo, scale.Hi)
	return b.String()
}
