package plan

import (
	"fmt"
	"math"
)

// Declared defaults, used where site.yaml is silent and printed in
// Result.Assumptions. The first four are common practice without a source; the
// dirt figures are those of the forecast's dirt template.
const (
	defaultHorizonDays  = 1095
	defaultServiceLevel = 0.95
	defaultRisk         = 0.2
	defaultFailureWait  = 7.0 // days
	defaultCleanRegain  = 0.82
	defaultDirtDays     = 220.0
	defaultInterval     = 0.8
	reviewDays          = 90.0 // the plan is taken to be made again each quarter
	daysPerYear         = 365.25
)

// terms are the Terms that hold for one lamp type in one room. A money or time
// field that is nowhere given is NaN here, and only here.
type terms struct {
	lamp, gear, spotMin, groupMin, gearMin, wage, lift, disposal  float64
	cleanFixture, cleanRoom, energy, cropMol, cropM2, share, area float64
	leadLamp, leadGear, wait, minUniformity, regain, dirtDays     float64
	response                                                      Range
	responseAssumed                                               bool
	cal                                                           calendar
}

// resolve merges the scopes: room before lamp type before site. Windows of a
// room replace those of the site; values that Validate objects to count as not
// given.
func (s Settings) resolve(room, lampType string) terms {
	scopes := []Terms{s.Rooms[room], s.LampTypes[lampType], s.Site}
	pick := func(f func(Terms) *float64) float64 {
		for _, t := range scopes {
			if p := f(t); p != nil && *p >= 0 && !math.IsInf(*p, 0) {
				return *p
			}
		}
		return math.NaN()
	}
	t := terms{
		lamp:          pick(func(t Terms) *float64 { return t.LampPrice }),
		gear:          pick(func(t Terms) *float64 { return t.GearPrice }),
		spotMin:       pick(func(t Terms) *float64 { return t.LabourSpotMin }),
		groupMin:      pick(func(t Terms) *float64 { return t.LabourGroupMin }),
		gearMin:       pick(func(t Terms) *float64 { return t.LabourGearMin }),
		wage:          pick(func(t Terms) *float64 { return t.WagePerHour }),
		lift:          pick(func(t Terms) *float64 { return t.LiftPerVisit }),
		disposal:      pick(func(t Terms) *float64 { return t.DisposalPerLamp }),
		cleanFixture:  pick(func(t Terms) *float64 { return t.CleanPerFixture }),
		cleanRoom:     pick(func(t Terms) *float64 { return t.CleanPerRoom }),
		energy:        pick(func(t Terms) *float64 { return t.EnergyPrice }),
		cropMol:       pick(func(t Terms) *float64 { return t.CropValueMol }),
		cropM2:        pick(func(t Terms) *float64 { return t.CropValueM2Year }),
		area:          or(pick(func(t Terms) *float64 { return t.AreaM2 }), 0),
		share:         pick(share(func(t Terms) *float64 { return t.LampShare })),
		leadLamp:      or(pick(func(t Terms) *float64 { return t.LeadLampDays }), 0),
		leadGear:      or(pick(func(t Terms) *float64 { return t.LeadGearDays }), 0),
		wait:          or(pick(func(t Terms) *float64 { return t.FailureWaitDays }), defaultFailureWait),
		minUniformity: or(pick(share(func(t Terms) *float64 { return t.MinUniformity })), 0),
		regain:        or(pick(share(func(t Terms) *float64 { return t.CleanRegain })), defaultCleanRegain),
		dirtDays:      or(pick(func(t Terms) *float64 { return t.DirtDays }), defaultDirtDays),
	}
	if t.dirtDays == 0 {
		t.dirtDays = defaultDirtDays
	}
	if math.IsNaN(t.groupMin) {
		t.groupMin = t.spotMin
	}
	t.response, t.responseAssumed = cropGroups[headline], true
	for i := len(scopes) - 1; i >= 0; i-- {
		if r, ok := cropGroups[scopes[i].CropGroup]; ok {
			t.response, t.responseAssumed = r, false
		}
		if r := scopes[i].YieldResponse; r != nil && r.Min >= 0 && r.Max >= r.Min && !math.IsInf(r.Max, 0) {
			t.response, t.responseAssumed = *r, false
		}
	}
	work, closed := s.Site.Work, s.Site.Closed
	for i := len(scopes) - 2; i >= 0; i-- {
		if len(scopes[i].Work) > 0 {
			work = scopes[i].Work
		}
		closed = append(append([]Window(nil), closed...), scopes[i].Closed...)
	}
	t.cal = newCalendar(work, closed)
	return t
}

// share refuses values above 1.
func share(f func(Terms) *float64) func(Terms) *float64 {
	return func(t Terms) *float64 {
		if p := f(t); p != nil && *p <= 1 {
			return p
		}
		return nil
	}
}

func or(x, other float64) float64 {
	if math.IsNaN(x) {
		return other
	}
	return x
}

// work is the cost of one relamp without the visit, with the inputs it lacks.
func (t terms) work(group bool) (cost float64, missing []string) {
	minutes, name := t.spotMin, "labour_spot_min"
	if group {
		minutes, name = t.groupMin, "labour_group_min"
	}
	for _, x := range []struct {
		v    float64
		name string
	}{{t.lamp, "lamp_price"}, {minutes * t.wage / 60, name + " or wage_per_hour"}, {t.disposal, "disposal_per_lamp"}} {
		if math.IsNaN(x.v) {
			missing = append(missing, x.name)
		} else {
			cost += x.v
		}
	}
	return cost, missing
}

// gearWork is the cost of one ballast or driver without the visit.
func (t terms) gearWork() (cost float64, missing []string) {
	for _, x := range []struct {
		v    float64
		name string
	}{{t.gear, "gear_price"}, {t.gearMin * t.wage / 60, "labour_gear_min or wage_per_hour"}} {
		if math.IsNaN(x.v) {
			missing = append(missing, x.name)
		} else {
			cost += x.v
		}
	}
	return cost, missing
}

// visit is the fixed cost of one visit, 0 where none is given.
func (t terms) visit() float64 { return or(t.lift, 0) }

func (s Settings) horizon() int {
	if s.HorizonDays > 0 {
		return s.HorizonDays
	}
	return defaultHorizonDays
}

func (s Settings) risk() float64         { return probability(s.Risk, defaultRisk) }
func (s Settings) serviceLevel() float64 { return probability(s.ServiceLevel, defaultServiceLevel) }
func (s Settings) limit() bool           { return s.Threshold == "limit" }

func probability(p *float64, other float64) float64 {
	if p != nil && *p > 0 && *p < 1 {
		return *p
	}
	return other
}

func (s Settings) money(x float64) string {
	if s.Currency == "" {
		return fmt.Sprintf("%.0f", x)
	}
	return fmt.Sprintf("%s %.0f", s.Currency, x)
}
