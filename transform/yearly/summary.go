package yearly

import (
	"fmt"
	"time"
)

// Summary is the year.
type Summary struct {
	Year        int           `json:"year"`
	First       int32         `json:"first_day"` // days since 1970-01-01
	AsOf        int32         `json:"as_of"`
	Known       int32         `json:"tables_as_of"`
	Record      Span          `json:"record"`
	Days        int           `json:"days"`           // of the calendar year
	SeenDays    int           `json:"days_in_record"` // of them with a record
	Level       float64       `json:"confidence"`
	Interval    float64       `json:"prediction"`
	Scope       Scope         `json:"scope"`
	Groups      []Group       `json:"survival"`
	Comparisons []Comparison  `json:"makes_compared"`
	Ends        []Ends        `json:"competing_ends"`
	Repairs     []Repair      `json:"failures_per_position"`
	Maintenance []Maintained  `json:"maintenance"`
	RoomLight   []RoomLight   `json:"light_kept_by_room"`
	Shares      []Share       `json:"shares_of_loss"`
	Efficacy    []Efficacy    `json:"efficacy"`
	Promised    int           `json:"lamps_under_warranty_terms"`
	Claims      []Claim       `json:"warranty_claims"`
	Score       Score         `json:"scorecard"`
	Outlook     []Outlook     `json:"next_year"`
	Trend       []Trend       `json:"trend"`
	Modes       []Mode        `json:"failures_by_mode"`
	Sensors     []SensorState `json:"sensors"`
	Notes       []string      `json:"notes"`
}

// Make makes the summary. The error is for input that cannot be: hours that run
// backwards, a level outside 0 and 1.
func Make(in Input) (*Summary, error) {
	if !(in.Level > 0 && in.Level < 1) || !(in.Interval > 0 && in.Interval < 1) {
		return nil, fmt.Errorf("confidence %g and interval %g must lie between 0 and 1", in.Level, in.Interval)
	}
	s := &Summary{Year: in.Year, First: in.First, AsOf: in.AsOf, Known: max(in.Known, in.AsOf), Record: in.Record,
		Days: Span{in.First, in.Last}.Days(), Level: in.Level, Interval: in.Interval}
	if !in.Record.Empty() {
		s.SeenDays = Span{max(in.First, in.Record.First), min(in.Last, in.Record.Last)}.Days()
	}
	ws, left := watch(in.Lives)
	now := indexOf(append(append([]Forecast(nil), in.Now...), in.Gone...))
	types := map[lifeKey]string{}
	for i := range in.Lives {
		types[lifeKey{in.Lives[i].Fixture, in.Lives[i].N}] = string(in.Lives[i].LampType)
	}
	s.Scope = in.scope(ws, left)
	var err error
	if s.Groups, err = in.groups(ws); err != nil {
		return nil, err
	}
	if s.Comparisons, err = compare(ws); err != nil {
		return nil, err
	}
	if s.Ends, err = in.competing(ws); err != nil {
		return nil, err
	}
	if s.Repairs, err = in.repairs(ws); err != nil {
		return nil, err
	}
	if s.Maintenance, err = in.maintenance(ws); err != nil {
		return nil, err
	}
	s.RoomLight = in.roomLight()
	s.Shares = in.shares(in.Now, func(f *Forecast) string { return types[lifeKey{f.Fixture, f.Life}] })
	s.Efficacy = in.efficacy()
	s.Claims, s.Promised = in.claims(ws, now)
	s.Score = in.score(ws, now)
	s.Outlook = in.outlook(ws, s.Groups)
	s.Trend = in.trend(ws, func(d int32) int { return date(d).Year() }, func(y int) int32 {
		return int32(time.Date(y, 1, 1, 0, 0, 0, 0, time.UTC).Unix() / 86400)
	})
	s.Modes = in.modes(ws)
	s.Sensors = in.sensors()
	s.Notes = in.notes(s)
	return s, nil
}

func date(day int32) time.Time { return time.Unix(int64(day)*86400, 0).UTC() }

// notes says in words what the reader must know before any table.
func (in *Input) notes(s *Summary) []string {
	var out []string
	switch {
	case in.Record.Empty():
		out = append(out, fmt.Sprintf("Nothing has been read up to the end of %d: there are no run-hours, so nothing can be said of lives or light. Population and logbook are from the register.", in.Year))
	case s.SeenDays == 0:
		out = append(out, fmt.Sprintf("Nothing was read in %d. What stands below rests on the record up to %s and on the register.", in.Year, date(in.Record.Last).Format("2 January 2006")))
	case s.SeenDays < s.Days:
		out = append(out, fmt.Sprintf("The record covers %d of the %d days of %d.", s.SeenDays, s.Days, in.Year))
	}
	if in.Known > in.AsOf && s.SeenDays > 0 {
		out = append(out, fmt.Sprintf("Run-hours and levels are of the tables as they stood on %s: a sensor's drift that was found after the report's date is taken out of the year's levels. Forecasts and the register are as of the report's date.", date(in.Known).Format("2 January 2006")))
	}
	failures := 0
	for _, g := range s.Groups {
		if g.By == "lamp type" {
			failures += g.Failures
		}
	}
	if len(s.Groups) > 0 {
		switch {
		case failures == 0:
			out = append(out, "No lamp of the record has failed. Lives can only be bounded from below; the bounds are one-sided.")
		case failures < fewFailures:
			out = append(out, fmt.Sprintf("Lamps of the record that failed: %d. With so few, lives and differences between makes are hardly known: read the intervals, not the centres.", failures))
		}
	}
	if s.Scope.Late > 0 {
		words := "lamps burned already when their watch began; they enter at their age"
		if s.Scope.Late == 1 {
			words = "lamp burned already when its watch began; it enters at its age"
		}
		out = append(out, fmt.Sprintf("%d %s. Lamps that died before are rightly absent.", s.Scope.Late, words))
	}
	return out
}
