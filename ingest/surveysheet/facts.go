package surveysheet

import (
	"fmt"
	"regexp"
	"strings"
	"time"
)

// Clock is when a survey was taken, as far as its sheet says.
type Clock struct {
	Day     time.Time // midnight; zero: not said
	Time    time.Duration
	HasTime bool
}

// In gives the moment in a zone; a day without a time is its noon.
func (c Clock) In(loc *time.Location) time.Time {
	at := c.Time
	if !c.HasTime {
		at = 12 * time.Hour
	}
	y, m, d := c.Day.Date()
	return time.Date(y, m, d, 0, 0, 0, 0, loc).Add(at).UTC()
}

// fact is one thing that a sheet says beside its readings.
type fact struct {
	what     string // key of factForms
	row, col int
	value    Cell
}

// factForms are the words by which sheets name what stands beside a survey.
var factForms = []struct {
	what string
	form *regexp.Regexp
}{
	{"date", regexp.MustCompile(`^(?:(?:survey )?date(?: of (?:survey|reading|measurement))?|date ?(?:&|and|/) ?time|day|taken(?: at| on)?|measured(?: at| on)?|datum|fecha|dato)$`)},
	{"time", regexp.MustCompile(`^(?:time(?: of day)?|start(?:ed)?(?: at)?|tijd|uhrzeit|heure|hora)$`)},
	{"fixture", regexp.MustCompile(`^(?:fixture(?: ?(?:id|no\.?|name))?|luminaire|lamp(?: ?(?:id|no\.?|name))?|under|armatuur|leuchte)$`)},
	{"survey", regexp.MustCompile(`^(?:survey(?: ?(?:id|no\.?|name))?|measurement no\.?)$`)},
	{"height", regexp.MustCompile(`^(?:(?:mounting |hanging |measuring |sensor )?height(?: (?:above|over|to) (?:the )?canopy)?|distance(?: to canopy)?|hoogte|höhe)$`)},
	{"supply", regexp.MustCompile(`^(?:supply|mains|(?:supply |line |mains )?volt(?:age|s)|spanning|spannung)$`)},
	{"power", regexp.MustCompile(`^(?:(?:input )?power|watts?|leistung|vermogen)$`)},
	{"warm_up", regexp.MustCompile(`^(?:warm(?:ed)?[ -]?up(?: time)?|run-?up|opwarmtijd|einbrennzeit)$`)},
	{"ambient", regexp.MustCompile(`^(?:ambient(?: temp(?:erature)?)?|(?:air |room )?temp(?:erature|\.)?|temperatuur|temperatur)$`)},
	{"meter", regexp.MustCompile(`^(?:(?:par |ppfd |quantum )?(?:meter|sensor)(?: ?(?:id|no\.?|serial|s/n))?|instrument|serial(?: no\.?)?)$`)},
	{"unit", regexp.MustCompile(`^(?:units?|quantity|eenheid|einheit)$`)},
	{"spacing", regexp.MustCompile(`^(?:(?:grid |spot )?spacing|pitch|raster)$`)},
}

// facts finds what the sheet says beside its readings, up to a row, and marks
// those cells.
func (g *grids) facts(end int) {
	for r, row := range g.sheet.Cells[:end] {
		for c := range row {
			text := row[c].Text
			if text == "" || g.used[[2]int{r, c}] {
				continue
			}
			key, value, here := strings.Cut(text, ":")
			if !here {
				key, value, here = strings.Cut(text, "=")
			}
			if m := factInWords.FindStringSubmatch(text); m != nil && !here {
				key, value, here = m[1], m[2], true
			}
			key, unit := withUnit(key)
			what := factOf(key)
			if what == "" {
				continue
			}
			g.used[[2]int{r, c}] = true
			cell := Cell{Text: strings.TrimSpace(value)}
			if !here || cell.Text == "" {
				k := c + 1
				for k < len(row) && row[k].Text == "" {
					k++
				}
				if k >= len(row) || k > c+3 {
					continue
				}
				cell = row[k]
				g.used[[2]int{r, k}] = true
				if k+1 < len(row) && unitOnly.MatchString(strings.ToLower(row[k+1].Text)) { // its unit in a cell of its own
					unit = row[k+1].Text
					g.used[[2]int{r, k + 1}] = true
				}
			}
			if unit != "" {
				if _, err := number(cell.Text); err == nil {
					cell.Text += " " + unit
				}
			}
			g.said = append(g.said, fact{what, r, c, cell})
		}
	}
}

// factInWords is a fact without a colon: "height 120 cm", "meter Q-1".
var factInWords = regexp.MustCompile(`^(?i)([a-zö][a-zö -]*?)\s+([0-9]+(?:[.,][0-9]+)?\s*(?:mm|cm|m|ft|in|inch|inches|feet|v|volts?|w|kw|watts?|min(?:utes?)?|h|°?c|degc)|\S*[a-z]\S*[0-9]\S*)$`)

var unitOnly = regexp.MustCompile(`^(?:mm|cm|m|ft|in|inch|inches|feet|v|volts?|w|kw|watts?|min(?:utes?)?|h|°?c|degc|°?f)$`)

// withUnit parts "Height (cm)", "Supply [V]" and "Power W" into name and unit.
func withUnit(key string) (name, unit string) {
	key = strings.TrimSpace(key)
	if i := strings.IndexAny(key, "(["); i > 0 {
		return strings.TrimSpace(key[:i]), strings.Trim(key[i:], "()[] ")
	}
	if i := strings.LastIndex(key, ", "); i > 0 && unitOnly.MatchString(strings.ToLower(key[i+2:])) {
		return key[:i], key[i+2:]
	}
	if i := strings.LastIndex(key, " "); i > 0 && unitOnly.MatchString(strings.ToLower(key[i+1:])) && factOf(key[:i]) != "" {
		return key[:i], key[i+1:]
	}
	return key, ""
}

func factOf(key string) string {
	key = strings.ToLower(strings.Join(strings.Fields(key), " "))
	for _, f := range factForms {
		if f.form.MatchString(key) {
			return f.what
		}
	}
	return ""
}

// unit refuses a sheet whose readings are no PPFD.
func (g *grids) unit() error {
	for r, row := range g.sheet.Cells {
		for c := range row {
			text := strings.ToLower(row[c].Text)
			if m := otherUnit.FindString(text); m != "" && !strings.Contains(text, "mol") {
				return fmt.Errorf("%s speaks of %q: a survey holds PPFD in umol/m2/s; convert the readings with the factor of that lamp's spectrum, and name the unit", g.sheet.where(r, c), strings.TrimSpace(m))
			}
			if dliUnit.MatchString(text) {
				return fmt.Errorf("%s speaks of a daily light integral: a survey holds PPFD in umol/m2/s, read at one moment",
					g.sheet.where(r, c))
			}
		}
	}
	return nil
}

var (
	otherUnit = regexp.MustCompile(`(?:^|[^a-z])(?:k?lux|lx|klx|foot-?candles?|fc|w/m2|w/m²|lumens?)(?:$|[^a-z])`)
	dliUnit   = regexp.MustCompile(`(?:^|[^uµμa-z])mol[ ·/*]*(?:m-?2|m²|/m2|/m²)[ ·/*]*(?:d|day)|\bdli\b`)
)
