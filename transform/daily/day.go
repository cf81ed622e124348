package daily

import "wane/transform/fleet"

// Reason is why a reading was left out of the day's level.
type Reason int

// The reasons, in the order in which they are tried.
const (
	Unlit       Reason = iota // the lamp is off
	Daylight                  // the sun is up, or not far enough down, where its light reaches the sensor
	Implausible               // above the highest plausible PPFD, not above 0, or the head at its upper limit most of the day
	RunningUp                 // not steady yet after switching on
	Edge                      // the last reading before the lamp goes off
	Stuck                     // the same printed value for too long
	OddDim                    // another dim state than most of the day, or none known
	OddSupply                 // supply far from the day's median
	Shadowed                  // a dip or a spike against the day's median
	Reasons                   // how many there are
)

var reasonNames = [Reasons]string{"unlit", "daylight", "implausible", "running-up", "edge", "stuck", "odd-dim",
	"odd-supply", "shadowed"}

// String is the name as it stands in tables.
func (r Reason) String() string { return reasonNames[r] }

// Input is what is known of one fixture over a stretch of days, from the Since of
// the first day asked for.
type Input struct {
	LampType  fleet.LampType
	Light     Track // umol/m2/s
	Supply    Track // V
	Ambient   Track // degC
	Dim       Track // per cent of full power
	Power     Track // W
	Current   Track // A
	Counter   Track // h, as on the meter's face
	Energy    Track // kWh, as on the meter's face
	SetPoints []SetPoint
	Sky       *Sky // where daylight reaches the sensor; nil: it does not
}

// Sky is the place of a greenhouse, degrees north and east.
type Sky struct{ Latitude, Longitude float64 }

// SetPoint is a logged dim state from At (microseconds UTC) on.
type SetPoint struct {
	At      int64
	Percent float64
}

// Day is the roll-up of one day. A float that the day does not give is NaN.
type Day struct {
	Day      int32
	Hours    float64 // length of the day, h
	Readings int     // of the light series
	Usable   int     // readings behind PPFD
	PPFD     float64 // median of the usable readings, umol/m2/s, as read (dimmed, uncorrected)
	Spread   float64 // robust relative sd of the usable readings
	DimPct   float64 // dim state of the usable readings, per cent of full power
	SupplyV  float64 // median at the usable moments
	AmbientC float64 // mean at the usable moments
	PowerW   float64 // median at the usable moments
	CurrentA float64 // median at the usable moments

	LitH   float64 // h between two lit readings
	EdgeH  float64 // h between a lit and an unlit reading, either way
	GapH   float64 // h of the day that no pair of readings covers
	Starts int     // times that the lamp came on

	Counter Meter // run-hours meter, h
	Energy  Meter // energy meter, kWh

	Left [Reasons]int // readings left out, by reason
}

// Meter is what a counter's face said first and last on a day; At is in
// microseconds UTC, 0 where it was not read.
type Meter struct {
	First, Last     float64
	FirstAt, LastAt int64
}

// Read says whether the meter was read that day.
func (m Meter) Read() bool { return m.LastAt != 0 }
