package yearly

import (
	"fmt"
	"math"
)

// recalEvery is after how many days a sensor is due for recalibration: a year,
// common practice, no source.
const recalEvery = 365

// SensorState is one instrument's year.
type SensorState struct {
	ID         string  `json:"sensor"`
	Watches    int     `json:"fixtures"`
	LastRecal  int32   `json:"last_recalibration"` // day; 0 = never in the record
	Recals     int     `json:"recalibrations_in_year"`
	Found      []Found `json:"drift_found"`
	References int     `json:"references_in_year"`
	Factors    int     `json:"changes_of_factor_in_year"`
	DueDay     int32   `json:"due_day"`
	Due        bool    `json:"due"` // by the end of the next year
	Say        string  `json:"say"`
}

// Found is a drift that a recalibration of the year found.
type Found struct {
	Day     int32   `json:"day"`
	AsFound float64 `json:"as_found"`
	Since   int32   `json:"since"` // the calibration before, or the record's first day
	PerYear Number  `json:"ln_per_year"`
}

func (in *Input) sensors() []SensorState {
	year := Span{in.First, min(in.Last, in.AsOf)}
	out := make([]SensorState, 0, len(in.Sensors))
	for _, s := range in.Sensors {
		st := SensorState{ID: s.ID, Watches: s.Watches, References: s.References, Factors: s.Factors}
		since := s.Since
		for _, r := range s.Recals {
			if year.holds(r.Day) {
				st.Recals++
				if r.AsFound > 0 {
					f := Found{Day: r.Day, AsFound: r.AsFound, Since: since, PerYear: Number(nan)}
					if d := r.Day - since; d >= 30 {
						f.PerYear = Number(math.Log(r.AsFound) * 365.25 / float64(d))
					}
					st.Found = append(st.Found, f)
				}
			}
			since, st.LastRecal = r.Day, r.Day
		}
		st.DueDay = since + recalEvery
		st.Due = s.Watches > 0 && st.DueDay <= in.AsOf+daysAhead
		switch {
		case s.Watches == 0:
			st.Say = "reads no fixture's light now"
		case st.DueDay <= in.AsOf:
			st.Say = fmt.Sprintf("overdue: %d days since it was last known true (one year is common practice, no source)",
				in.AsOf-since)
		default:
			st.Say = "falls due in the coming year"
		}
		out = append(out, st)
	}
	return out
}
