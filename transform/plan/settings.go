package plan

// Settings are the costs and constraints of a site: the `plan` section of
// site.yaml. Every field is optional; Make says what its absence means.
//
// Terms may be given for the site, for a lamp type and for a room; for each
// field the room's value comes first, then the lamp type's, then the site's.
type Settings struct {
	Currency     string                  `yaml:"currency,omitempty" json:"currency,omitempty"`           // printed with money, e.g. EUR
	HorizonDays  int                     `yaml:"horizon_days,omitempty" json:"horizon_days,omitempty"`   // how far the plan looks; 0 = 1,095
	Site         Terms                   `yaml:"site,omitempty" json:"site,omitempty"`                   // defaults of the whole site
	LampTypes    map[string]Terms        `yaml:"lamp_types,omitempty" json:"lamp_types,omitempty"`       // by lamp_type
	Rooms        map[string]Terms        `yaml:"rooms,omitempty" json:"rooms,omitempty"`                 // by room
	Stock        map[string]Stock        `yaml:"stock,omitempty" json:"stock,omitempty"`                 // on hand, by lamp_type
	Budget       *Budget                 `yaml:"budget,omitempty" json:"budget,omitempty"`               // cap on spending per period
	ServiceLevel *float64                `yaml:"service_level,omitempty" json:"service_level,omitempty"` // chance that spares last until the next delivery; 0.95
	Risk         *float64                `yaml:"risk,omitempty" json:"risk,omitempty"`                   // chance taken that a lamp crosses before its visit; 0.2
	Threshold    string                  `yaml:"threshold,omitempty" json:"threshold,omitempty"`         // "advice": cost decides where it is known, the threshold where it is not (default); "limit": never later than the threshold
	Measure      map[string]MeasureTerms `yaml:"measure,omitempty" json:"measure,omitempty"`             // what measurements cost, by kind: see MeasureTerms
}

// Terms are the costs and constraints of one scope. nil = not given here.
// Money is in Settings.Currency.
type Terms struct {
	LampPrice       *float64 `yaml:"lamp_price,omitempty" json:"lamp_price,omitempty"`                 // per lamp
	GearPrice       *float64 `yaml:"gear_price,omitempty" json:"gear_price,omitempty"`                 // per ballast or driver
	LabourSpotMin   *float64 `yaml:"labour_spot_min,omitempty" json:"labour_spot_min,omitempty"`       // minutes for one lamp, changed singly
	LabourGroupMin  *float64 `yaml:"labour_group_min,omitempty" json:"labour_group_min,omitempty"`     // minutes per lamp when the room is done at once
	LabourGearMin   *float64 `yaml:"labour_gear_min,omitempty" json:"labour_gear_min,omitempty"`       // minutes for one ballast or driver
	WagePerHour     *float64 `yaml:"wage_per_hour,omitempty" json:"wage_per_hour,omitempty"`           //
	LiftPerVisit    *float64 `yaml:"lift_per_visit,omitempty" json:"lift_per_visit,omitempty"`         // hire of a lift, and any other cost of one visit to a room
	DisposalPerLamp *float64 `yaml:"disposal_per_lamp,omitempty" json:"disposal_per_lamp,omitempty"`   //
	CleanPerFixture *float64 `yaml:"clean_per_fixture,omitempty" json:"clean_per_fixture,omitempty"`   //
	CleanPerRoom    *float64 `yaml:"clean_per_room,omitempty" json:"clean_per_room,omitempty"`         // fixed cost of one cleaning round
	EnergyPrice     *float64 `yaml:"energy_price,omitempty" json:"energy_price,omitempty"`             // per kWh
	CropValueMol    *float64 `yaml:"crop_value_per_mol,omitempty" json:"crop_value_per_mol,omitempty"` // revenue per mol of light at the canopy (lamps and sun together)
	CropValueM2Year *float64 `yaml:"crop_value_per_m2_year,omitempty" json:"crop_value_per_m2_year,omitempty"`
	CropGroup       string   `yaml:"crop_group,omitempty" json:"crop_group,omitempty"`                           // a row of CropGroups: gives YieldResponse
	YieldResponse   *Range   `yaml:"yield_response,omitempty" json:"yield_response,omitempty"`                   // % yield per 1 % light, a range
	AreaM2          *float64 `yaml:"area_m2_per_fixture,omitempty" json:"area_m2_per_fixture,omitempty"`         // m2 of canopy that one fixture serves
	LampShare       *float64 `yaml:"lamp_share,omitempty" json:"lamp_share,omitempty"`                           // the lamps' share of the crop's light over a year, 0..1
	LeadLampDays    *float64 `yaml:"lead_lamp_days,omitempty" json:"lead_lamp_days,omitempty"`                   // from order to delivery
	LeadGearDays    *float64 `yaml:"lead_gear_days,omitempty" json:"lead_gear_days,omitempty"`                   //
	FailureWaitDays *float64 `yaml:"failure_wait_days,omitempty" json:"failure_wait_days,omitempty"`             // how long a dark lamp stays dark before it is changed
	MinUniformity   *float64 `yaml:"min_uniformity,omitempty" json:"min_uniformity,omitempty"`                   // lowest level / mean level of a room, 0..1
	CleanRegain     *float64 `yaml:"clean_regain,omitempty" json:"clean_regain,omitempty"`                       // share of the dirt loss that a cleaning gives back, 0..1
	DirtDays        *float64 `yaml:"dirt_time_constant_days,omitempty" json:"dirt_time_constant_days,omitempty"` // dirt builds up as 1-exp(-t/this)
	Work            []Window `yaml:"work,omitempty" json:"work,omitempty"`                                       // when work is possible: crop gaps, weekdays; empty = any day
	Closed          []Window `yaml:"closed,omitempty" json:"closed,omitempty"`                                   // when it is not, whatever Work says
}

// Range is a low and a high value of one quantity.
type Range struct {
	Min float64 `yaml:"min" json:"min"`
	Max float64 `yaml:"max" json:"max"`
}

// Window is a span of days, both ends included. From and To are 2027-07-01 (that year) or 07-01 (every
// year; a window may run over New Year); empty = unbounded on that side.
// Weekdays, when given, keep only those days: mon, tue, wed, thu, fri, sat, sun.
type Window struct {
	From     string   `yaml:"from,omitempty" json:"from,omitempty"`
	To       string   `yaml:"to,omitempty" json:"to,omitempty"`
	Weekdays []string `yaml:"weekdays,omitempty" json:"weekdays,omitempty"`
}

// Stock is what lies in the store for one lamp type.
type Stock struct {
	Lamps int `yaml:"lamps" json:"lamps"`
	Gear  int `yaml:"gear,omitempty" json:"gear,omitempty"`
}

// Budget caps the spending of each period.
type Budget struct {
	Cap    float64 `yaml:"cap" json:"cap"`
	Period string  `yaml:"period" json:"period"` // month, quarter or year (calendar)
}
