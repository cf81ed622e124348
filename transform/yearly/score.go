package yearly

import (
	"fmt"
	"math"
	"sort"

	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/survival/exact"
	"wane/transform/survival/future"
)

// Scored is one due date said at the start of the year against what came.
type Scored struct {
	Fixture  string `json:"fixture"`
	LampLife int    `json:"lamp_life"`
	Status   string `json:"status_then"`
	Due      Value  `json:"due_day"`   // days since 1970-01-01
	Chance   Number `json:"chance"`    // that it would cross within the year
	Crossed  Value  `json:"crossed"`   // the day, as judged now; no centre where it did not
	By       string `json:"judged_by"` // later readings in the model, or smoothed weeks
	Outcome  string `json:"outcome"`
	ErrDays  Number `json:"error_days"` // due less crossed: negative = said too early
	InBand   bool   `json:"inside_interval"`
	Counts   bool   `json:"counts"` // whether the interval can be judged
	wasUnder bool
}

// Score is what the year's forecasts were worth.
type Score struct {
	AsOf      int32    `json:"made_on"`
	Said      int      `json:"forecasts"`
	Crossed   int      `json:"crossed"`
	Expected  Value    `json:"expected_crossings"`
	Judged    int      `json:"judged_intervals"`
	Held      int      `json:"intervals_held"`
	Coverage  Value    `json:"coverage"` // against Nominal
	Nominal   float64  `json:"nominal"`
	MedianErr Value    `json:"median_error_days"`
	Say       string   `json:"say"`
	List      []Scored `json:"list"`
}

// score holds the forecasts of the year's start against what came.
func (in *Input) score(ws []watched, now map[lifeKey]*Forecast) Score {
	s := Score{AsOf: in.First - 1, Nominal: in.Interval}
	byLife := map[lifeKey]*watched{}
	for i := range ws {
		byLife[lifeKey{ws[i].Fixture, ws[i].N}] = &ws[i]
	}
	var chances, errs []float64
	for i := range in.Was {
		f := &in.Was[i]
		w := byLife[lifeKey{f.Fixture, f.Life}]
		if w == nil || (!f.DueDay.Known() && !estimate.Finite(f.DueDay.Lo)) {
			continue
		}
		sc := in.scored(f, w, now[lifeKey{f.Fixture, f.Life}])
		s.List = append(s.List, sc)
		if sc.wasUnder {
			continue
		}
		s.Said++
		if estimate.Finite(f.YearChance) {
			chances = append(chances, f.YearChance)
		}
		s.Crossed += one(sc.Crossed.Known())
		if estimate.Finite(float64(sc.ErrDays)) {
			errs = append(errs, float64(sc.ErrDays))
		}
		if sc.Counts {
			s.Judged++
			s.Held += one(sc.InBand)
		}
	}
	sort.SliceStable(s.List, func(i, j int) bool { return s.List[i].Fixture < s.List[j].Fixture })
	s.Expected = in.expected(chances)
	if len(errs) > 0 {
		s.MedianErr = in.quantile(errs, 0.5)
	} else {
		s.MedianErr = none("order statistics", "no lamp that had a forecast crossed in the year")
	}
	if s.Judged > 0 {
		e, err := exact.Share(s.Held, s.Judged, in.Level)
		s.Coverage = orNone(e, err, "exact binomial")
	} else {
		s.Coverage = none("exact binomial", "no interval could be judged yet")
	}
	s.Say = s.words()
	return s
}

// scored compares one forecast. What came is judged by the later fit, which
// speaks of the lamp's own level as the forecast did; where that does not know the
// lamp, by its smoothed weeks.
func (in *Input) scored(f *Forecast, w *watched, now *Forecast) Scored {
	sc := Scored{Fixture: f.Fixture, LampLife: f.Life, Status: f.Status, Due: f.DueDay, Chance: Number(f.YearChance),
		ErrDays:  Number(nan),
		wasUnder: f.Status == "under"}
	sc.Crossed = none("crossing as judged at the year's end", "not crossed")
	horizon := float64(min(in.Last, in.AsOf))
	unknown := now != nil && now.Status == "inseparable"
	switch {
	case unknown:
		sc.By = "nobody"
	case now != nil && now.Status != "no-data":
		sc.By = "the model with the year's readings"
		if now.Crossed.Known() {
			sc.Crossed = now.Crossed
		}
	case w.hasFade && float64(w.faded.Day()) <= horizon && w.faded.Day() >= in.First:
		sc.By = "smoothed weeks"
		d := float64(w.faded.Day())
		sc.Crossed = Value{estimate.Estimate{Centre: d, Lo: d - 7*reach, Hi: d + 7*reach, Level: in.Interval,
			N:      len(w.smooth),
			Method: "first smoothed week under the threshold", Warnings: []string{"dirt is not taken out"}}}
	default:
		sc.By = "smoothed weeks"
	}
	until := horizon
	gone := w.Left != 0 && float64(w.Left) <= horizon
	if gone {
		until = float64(w.Left)
	}
	lo, hi := f.DueDay.Lo, f.DueDay.Hi
	switch {
	case sc.wasUnder:
		sc.Outcome = "was already under"
	case unknown:
		sc.Outcome = "cannot be judged: ageing cannot be told from drift, dirt or a step"
	case sc.Crossed.Known():
		c := sc.Crossed.Centre
		sc.Outcome = "crossed"
		if f.DueDay.Known() {
			sc.ErrDays = Number(f.DueDay.Centre - c)
		}
		sc.Counts, sc.InBand = true, c >= lo && c <= hi
	case w.Ended == fleet.Fail && gone:
		sc.Outcome = "went dark before it crossed"
	case gone:
		sc.Outcome = "taken out before it crossed"
	case hi < until: // the interval is over, and it has not crossed
		sc.Outcome, sc.Counts = "not crossed, though its interval is over", true
	default:
		sc.Outcome = "not crossed yet"
	}
	return sc
}

// expected is the number of crossings that the chances foretell.
func (in *Input) expected(chances []float64) Value {
	const method = "sum of the lamps' chances"
	if len(chances) == 0 {
		return none(method, "no lamp had a forecast")
	}
	c, err := future.Sum(chances)
	if err != nil {
		return none(method, err.Error())
	}
	e := c.Interval(in.Interval)
	e = e.Warn("lamps of one cohort err together: the interval is narrower than the truth")
	return Value{e}
}

func (s *Score) words() string {
	if s.Said == 0 {
		return "nothing was forecast at the start of the year: there was no reading yet, or no lamp was far enough"
	}
	head := fmt.Sprintf("%d forecasts stood at the start of the year; %d of their lamps crossed by the end of it.",
		s.Said, s.Crossed)
	if s.Judged == 0 {
		return head + " No interval can be judged yet."
	}
	return head + fmt.Sprintf(" %d of %d intervals that can be judged held the crossing; %.0f %% were to. Lamps whose "+
		"interval is not over and that have not crossed are not judged, so this count leans towards early crossings.",
		s.Held, s.Judged, math.Round(100*s.Nominal))
}
