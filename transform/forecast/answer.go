package forecast

import (
	"fmt"

	"wane/transform/estimate"
)

// Status says what kind of answer a lamp got.
type Status string

// The words of the `due` table.
const (
	StatusForecast    Status = "forecast"    // due hours and date with their interval
	StatusUnder       Status = "under"       // already under the threshold
	StatusBeyond      Status = "beyond"      // past the extrapolation limit: only a lower bound is claimed
	StatusTooEarly    Status = "too-early"   // too few hours; Reason says what is missing and when
	StatusInseparable Status = "inseparable" // ageing and its Rival can't be told apart; Reason says what would settle it
	StatusDark        Status = "dark"        // failed, still hanging
	StatusNoData      Status = "no-data"     // no usable bin
)

// Rival is what would give the same readings as ageing of the lamp.
type Rival string

// What a lamp of StatusInseparable cannot be told from.
const (
	RivalDrift  Rival = "drift of the sensor"
	RivalDirt   Rival = "dirt"
	RivalStep   Rival = "a step that nothing logged explains"
	RivalUnread Rival = "supply or air that nobody reads"
)

// Answer is what is said about one lamp life in service.
//
// DueHours are run-hours of the lamp life, DueDay days since 1970-01-01 UTC.
// Their Hi is +Inf where only a lower bound can be claimed. With StatusBeyond
// Centre is NaN: a bound is all that is said. With StatusTooEarly,
// StatusDark and StatusNoData nothing is claimed, all is NaN.
type Answer struct {
	Lamp     int // index into Input.Lamps
	Status   Status
	Rival    Rival  // of StatusInseparable only
	Reason   string // in words; empty only for a forecast with nothing to add
	Level    estimate.Estimate
	DueHours estimate.Estimate
	DueDay   estimate.Estimate
	// Expected is the day from which an answer can be expected where there is
	// none now; 0 where there is one, or none can be expected.
	Expected int
	Decline  Shares
	Identity Identifiability
	// Dirt is half the log ratio of the due hours with twice the usual dirt and
	// with none, where no cleaning tells; else 0.
	Dirt float64
	// Step is the same by what upward steps may mean that nothing explains.
	Step    float64
	Unread  bool // hangs on conditions that nobody reads
	Assumed []Assumption
}

// Shares splits what the readings lost since the lamp's first bin. Each is a
// fraction of the output: 0.03 is a loss of 3 %, a negative value a gain.
type Shares struct {
	Lamp   estimate.Estimate // ageing of the lamp
	Dirt   estimate.Estimate // dirt on lamp, reflector or optic
	Sensor estimate.Estimate // drift of the sensor's gain
}

// Identifiability says what the data can and cannot tell apart for one lamp.
type Identifiability struct {
	// Drift is the relative change of the due hours for each 1 %/year by
	// which the sensor's drift differs from the assumed one (0.02: 2 %).
	Drift float64
	// DirtShare is the fraction of the dirt amplitude's assumed variance that
	// the data left: near 1, dirt is what was assumed.
	DirtShare float64
	// SlopeShare is the slope's posterior spread over its prior spread. Over
	// 0.7 the answer is mostly the typical behaviour of the lamp type.
	SlopeShare float64
	// DueLessDrift and DueMoreDrift are the due hours, had the sensor's
	// assumed drift been 1 %/year lower and higher.
	DueLessDrift, DueMoreDrift float64

	Cannot  []string // what cannot be told apart, in words
	Instead []string // what was assumed in its place
	Settle  string   // the cheapest act that would settle it; empty when nothing is needed
}

// Assumption is one assumed number an answer rests on.
type Assumption struct {
	Name  string
	Value float64
	SD    float64
	Unit  string
	Basis string
}

// Words give the number with its spread, where it has one: a number without is a
// spread itself.
func (a Assumption) Words() string {
	if a.SD == 0 {
		return fmt.Sprintf("%.4g %s", a.Value, a.Unit)
	}
	return fmt.Sprintf("%.4g ± %.4g %s", a.Value, a.SD, a.Unit)
}

// BandPoint is one point of a lamp's own relative output against run-hours.
type BandPoint struct {
	Hours, Centre, Lo, Hi float64
}
