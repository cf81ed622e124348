package demo

import (
	"fmt"
	"math"
	"time"
)

// The canopy surveys: three makes side by side and the reference fixture, at
// one height over one grid, once a year.
const (
	surveyHeight = 1.2 // m over the grid
	surveyGrid   = 5   // rows and columns
	surveyPitch  = 0.3 // m between points
)

// surveyShares is when, as shares of the record.
var surveyShares = []float64{0.02, 0.35, 0.68}

// surveyed are the fixtures, with how each make throws its light: PPFD under
// the middle when new, and how fast it falls off to the side.
var surveyed = []struct {
	fixture string
	middle  float64
	narrow  float64
}{
	{"LED1-A01", 905, 1.0},  // Invented-K
	{"LED1-A02", 1010, 1.5}, // Invented-P: narrower
	{"LED1-A03", 840, 0.7},  // Invented-T: wider
	{reference, 905, 1.0},
}

// spotted is a fixture as it is surveyed on a visit.
type spotted struct {
	fixture                      string
	middle, narrow, watts, state float64 // state: level and dirt
}

// onVisit gives the fixtures that are surveyed on a visit, in order.
func onVisit(visit, day int, lives []Life) (out []spotted) {
	for _, f := range surveyed {
		if visit >= len(surveyShares) && f.fixture != reference {
			continue
		}
		x := spotted{f.fixture, f.middle, f.narrow, 640, 1}
		if d, ok := dayOf(lives, f.fixture, day); ok {
			x.state = d.Level * d.Dirt
		}
		out = append(out, x)
	}
	for _, b := range bench {
		out = append(out, spotted{b.fixture, b.middle, b.narrow, b.watts, b.lot.law.Level(labHoursOn(day))})
	}
	return out
}

// surveySheets are taken with one hand-held meter that is a little off on each
// day, the same for all; the reference fixture, which does not age, shows that.
func surveySheets(c *calendar, seed uint64, lives []Life) []sheet {
	var out []sheet
	for i, share := range labVisits {
		day := c.at(share)
		r := chance(seed, fmt.Sprintf("survey %d", i))
		meter := 1 + 0.012*r.NormFloat64()
		b := []byte("survey,taken_at,fixture,height_m,row,col,ppfd\n")
		for n, f := range onVisit(i, day, lives) {
			at := c.moment(day, 20*60+15*n).Format(time.RFC3339)
			for row := range surveyGrid {
				for col := range surveyGrid {
					x := float64(col-surveyGrid/2) * surveyPitch
					y := float64(row-surveyGrid/2) * surveyPitch
					spread := math.Pow(1+(x*x+y*y)/(surveyHeight*surveyHeight), -2*f.narrow)
					v := f.middle * spread * f.state * meter * (1 + 0.006*r.NormFloat64())
					b = fmt.Appendf(b, "%s,%s,%s,%.1f,%d,%d,%.0f\n", surveyName(i, f.fixture), at, f.fixture, surveyHeight, row+1,
						col+1, v)
				}
			}
		}
		out = append(out, sheet{fmt.Sprintf("survey-year-%d.csv", i+1), b})
	}
	return out
}

func surveyName(visit int, fixture string) string {
	return fmt.Sprintf("invented-year-%d-%s", visit+1, fixture)
}

// surveyNotes is what was written down beside the surveys and has no column on
// their sheets.
func surveyNotes(seed uint64) []byte {
	b := []byte("# " + invented + "\nsurvey,spots,sensor,supply_v,power_w,ambient_c,warm_up_min,spacing_m,footprint_m2,note\n")
	for i := range labVisits {
		r := chance(seed, fmt.Sprintf("survey notes %d", i))
		for _, f := range onVisit(i, 0, nil) {
			b = fmt.Appendf(b, "%s,,hand-held Q1,%.1f,%.0f,%.1f,%.0f,,,\n", surveyName(i, f.fixture), 230+0.6*r.NormFloat64(),
				f.watts*(1+0.003*r.NormFloat64()), 22+0.7*r.NormFloat64(), 40+5*math.Floor(3*r.Float64()))
		}
	}
	return b
}

// dayOf finds the truth of a fixture on a day.
func dayOf(lives []Life, fixture string, day int) (Day, bool) {
	for _, l := range lives {
		if l.Fixture != fixture || len(l.Records) == 0 {
			continue
		}
		if i := day - l.Records[0].Day; i >= 0 && i < len(l.Records) {
			return l.Records[i], true
		}
	}
	return Day{}, false
}
