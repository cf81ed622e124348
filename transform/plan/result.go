package plan

import (
	"time"

	"wane/transform/estimate"
)

// Decision is what a plan says about one lamp or room.
type Decision string

// The decisions.
const (
	Keep        Decision = "keep"
	Clean       Decision = "clean"
	SpotRelamp  Decision = "spot relamp"
	GroupRelamp Decision = "group relamp"
	ReplaceGear Decision = "replace gear"
)

// Result is a plan. Slices are sorted: lamps by room, bay, fixture; visits,
// orders and spending by date.
type Result struct {
	AsOf        time.Time
	Until       time.Time // end of the horizon
	Currency    string
	Lamps       []LampPlan
	Rooms       []RoomPlan
	Visits      []Visit
	Orders      []Order
	Spares      []SparesLine
	Spending    []PeriodSpend
	Assumptions []string  // defaults and assumptions the numbers rest on
	Notes       []string  // what was left out of the input and what follows from it
	Problems    []Problem // what is wrong with the input; the rest was planned
	Cautions    []string  // where people act
}

// LampPlan is the plan for one lamp.
type LampPlan struct {
	Fixture, Room, Bay, LampType string
	Life                         int
	Decision                     Decision
	Date                         time.Time // day of the work; zero = none within the horizon, or no open day
	Preferred                    time.Time // cost-optimal day before windows, visits and budget; zero = none
	Earliest, Latest             time.Time // the flat band of the optimum, cut at the threshold when it is a limit; zero = none
	DueAtRisk                    time.Time // day at which the chance of having crossed reaches Settings.Risk; zero = beyond knowledge
	Reasons                      []string
	Cost                         float64           // of the work, 0 when keep
	CostMissing                  []string          // inputs left out of Cost
	Interval                     Interval          // cost-optimal replacement age of this lamp's own forecast
	ChanceUnder                  float64           // probability that the lamp is under its threshold on Date (or at the end of the horizon when kept); 1 for a dark lamp
	ChanceKnown                  bool              // false: no forecast says, and ChanceUnder is 0
	LightLostMolYear             float64           // mol lost a year at the present level; 0 when PPFD or area is unknown
	LossPerYear                  estimate.Estimate // money a year at the present level; its interval is the yield response's range
	Efficacy                     float64           // umol at the canopy per J at the present level; 0 = power or PPFD unknown
	EnergyPerMol                 float64           // kWh per mol at the canopy; 0 = unknown
}

// Interval is a cost-optimal replacement age in run-hours.
type Interval struct {
	Known    bool    // false: see Why
	Hours    float64 // where the cost rate is least
	Lo, Hi   float64 // within 2 % of the least
	HiOpen   bool    // the cost rate stays within 2 % as far as it was searched
	RateYear float64 // least cost rate, money per lamp and year
	LevelAt  float64 // expected level at Hours
	// ResponseLo and ResponseHi are Hours at the high and the low end of the
	// crop's yield response; 0 = not reckoned. Given for rooms only.
	ResponseLo, ResponseHi float64
	Why                    string // why it is not known, or what limits it
	Curve                  []CurvePoint
}

// CurvePoint is one point of a cost curve.
type CurvePoint struct {
	Hours    float64
	RateYear float64 // money per lamp and year
}

// RoomPlan is the plan for one room.
type RoomPlan struct {
	Room        string
	Lamps       int
	Decision    Decision // the room's relamp policy when work falls in the horizon, else Keep or Clean
	Date        time.Time
	Reasons     []string
	SpotYear    float64 // long-run cost of spot relamping, money a year; 0 with Known false
	GroupYear   float64 // long-run cost of group relamping, money a year
	CostsKnown  bool
	ByGroup     bool     // in the long run its lamps, or the first of its lamp types, are best changed as a group
	Group       Interval // group interval and its cost curve
	Spot        Interval // spot interval of the room's mean lamp
	MeanLevel   float64  // 0 = unknown
	Uniformity  float64  // lowest / mean level; 0 = unknown
	UniformLoss float64  // money a year lost to the spread of levels
	DirtLoss    float64  // level lost to dirt, mean of the room; 0 = none known
	Clean       CleanPlan
}

// Chosen is the interval of the policy that the room is kept by.
func (r RoomPlan) Chosen() Interval {
	if r.ByGroup {
		return r.Group
	}
	return r.Spot
}

// CleanPlan says whether and when to clean a room.
type CleanPlan struct {
	Do           bool
	Date         time.Time
	IntervalDays float64 // cost-optimal days between cleanings; 0 = unknown
	GainYear     float64 // light regained, money a year, less the cleanings
	Cost         float64 // of one cleaning of the room
	Reasons      []string
}

// Visit is one day's work in one room.
type Visit struct {
	Date     time.Time
	Room     string
	Work     []WorkItem // sorted by bay, then fixture
	Cost     float64
	Disposal int      // lamps to be disposed of
	Late     int      // pieces of work later than wanted
	Notes    []string // late, no window, over budget ...
}

// WorkItem is one line of a work list.
type WorkItem struct {
	Bay, Fixture, LampType string
	Life                   int
	Do                     Decision
	Why                    string
	Cost                   float64
}

// Order is one line of the order list.
type Order struct {
	OrderBy   time.Time // never before AsOf
	NeededBy  time.Time
	Item      string // "lamp" or "gear"
	LampType  string
	Planned   int // for planned work
	Spares    int // for failures until NeededBy plus the lead time, see Result.Spares
	FromStock int
	Quantity  int // to order
	Cost      float64
	Late      bool // the lead time reaches past the wanted day
	Notes     []string
}

// SparesLine is the stock of one lamp type that keeps the service level over
// its exposure: from AsOf until a delivery ordered at the next review.
type SparesLine struct {
	LampType     string
	Days         float64           // exposure
	Lamps        int               // lamps exposed
	Failures     estimate.Estimate // prediction interval of the number of failures
	Stock        int               // spares that keep the service level
	ServiceLevel float64           // asked
	Achieved     float64           // P(failures <= Stock)
	OnHand       int
	Notes        []string
}

// PeriodSpend is the spending of one budget period.
type PeriodSpend struct {
	From, To time.Time // both included
	Planned  float64
	Cap      float64 // 0 = none
	Over     bool
	Deferred int // work items moved to a later period for want of budget
}

// Problem is one fault of the input.
type Problem struct {
	Path   string // e.g. site.rooms[R1].lamp_price
	What   string
	Remedy string
}
