package survey

import (
	"fmt"
	"strings"
)

// SheetSpec is what a printed survey sheet is made for.
type SheetSpec struct {
	Site, Fixture string
	Rows, Cols    int
	HeightM       float64
	Geometry      Geometry
	Declared      Declared
	Reference     string // the reference fixture's name, "" = none
}

// Sheet gives the text of a sheet to carry: what to set up, what to be careful
// of, the numbered spots with room to write, and how to enter them. A grid that
// cannot be printed is an error.
func Sheet(p SheetSpec) (string, error) {
	if p.Rows < 1 || p.Cols < 1 || p.Rows > 30 || p.Cols > 12 {
		return "", fmt.Errorf("a sheet of %d x %d spots does not fit a page; give 1 to 30 rows and 1 to 12 columns",
			p.Rows, p.Cols)
	}
	var b strings.Builder
	line := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	blank := "____________"
	or := func(s string) string {
		if s == "" {
			return blank
		}
		return s
	}
	line("CANOPY SURVEY")
	line("")
	line("Site     %-28s Fixture  %s", or(p.Site), or(p.Fixture))
	line("Date, time and zone  %s   By  %s", blank+blank, blank)
	line("")
	line("Set up")
	if p.HeightM > 0 {
		line("  Height from fixture to sensor: %.3g m, measured: %s m", p.HeightM, blank)
	} else {
		line("  Height from fixture to sensor, measured: %s m", blank)
	}
	switch g := p.Geometry; {
	case g.Uneven():
		line("  Rows at (m): %s", metres(g.RowAtM))
		line("  Columns at (m): %s", metres(g.ColAtM))
	case g.SpacingM > 0:
		line("  Spots %.3g m apart, the middle of the grid under the middle of the fixture", g.SpacingM)
	default:
		line("  Distance between spots: %s m", blank)
	}
	line("  Full power, no dimming. Sensor level, cosine cap clean. Stand clear: no shadow, no bright clothes.")
	if p.Reference != "" {
		line("  Survey the reference fixture %s first, with the same sensor, on a sheet of its own.", p.Reference)
	} else {
		line("  No reference fixture is named: rig and fixture cannot be told apart later.")
	}
	line("")
	line("Conditions")
	warm := "until two readings a minute apart agree"
	if p.Declared.WarmUpMin > 0 {
		warm = fmt.Sprintf("at least %.3g", p.Declared.WarmUpMin)
	}
	line("  Warm-up, minutes (%s): %s   Sensor: %s", warm, blank, blank)
	supply := ""
	if p.Declared.SupplyV > 0 {
		supply = fmt.Sprintf(" (declared %.4g)", p.Declared.SupplyV)
	}
	line("  Supply, V%s: %s   Power, W: %s   Ambient, C: %s", supply, blank, blank, blank)
	line("")
	line("Be careful")
	for _, c := range Cautions() {
		line("  - %s", c)
	}
	line("")
	line("PPFD, umol/m2/s. Walk row by row; leave a spot that cannot be read empty, never write 0 for it.")
	line("")
	rule := strings.Repeat("+-----------", p.Cols) + "+"
	for r := 1; r <= p.Rows; r++ {
		line("%s", rule)
		for c := 1; c <= p.Cols; c++ {
			fmt.Fprintf(&b, "|%3d        ", Number(r, c, p.Cols))
		}
		line("|")
	}
	line("%s", rule)
	line("")
	line("Read spot %d again at the end: %s (a settled lamp gives the same within the repeat)",
		(p.Rows/2)*p.Cols+p.Cols/2+1, blank)
	line("")
	line("Enter it with `wane survey add FILE`: the grid in a spreadsheet as it stands here, with Fixture, Date, " +
		"Height, Supply, Power, Warm-up and")
	line("Meter in cells over it; or as a CSV with the header survey,taken_at,fixture,height_m,row,col,ppfd; or %d "+
		"lines of %d numbers, pasted.", p.Rows, p.Cols)
	return b.String(), nil
}

// Cautions are what a person with a sensor under a lit fixture must know. They
// rest on IEC 62471 (optical radiation), 21 CFR 1040.30 (broken outer bulbs) and
// 29 CFR 1910.333 and NFPA 70E (electrical work).
func Cautions() []string {
	return []string{
		"Do not look into the lit fixture; cover skin and wear glasses that stop UV. If an outer bulb or lens is broken " +
			"or missing, switch off and leave.",
		"Lamps and reflectors are hot enough to burn; a lamp that went out may come back by itself.",
		"Ladders and lifts: nobody alone, nothing loose above people.",
		"Open nothing. Gear and connectors are for a licensed electrician, isolated, locked out, to the local code. A " +
			"switch or timer is not isolation.",
		"Keep leads and meters off wet floors.",
	}
}

func metres(xs []float64) string {
	parts := make([]string, len(xs))
	for i, x := range xs {
		parts[i] = fmt.Sprintf("%.3g", x)
	}
	return strings.Join(parts, ", ")
}
