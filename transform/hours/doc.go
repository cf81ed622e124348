// Package hours adds up the run-hours of a lamp life from the evidence
// of its days.
//
//  1. A run-hours meter is believed where it was read: between two readings
//     the lamp burned what the face advanced, after rollover and reset have
//     been told apart. The days between share it by their lamp-on time. One that
//     stands still while the lamp is seen lit is not believed.
//  2. Elsewhere lamp-on time counts: lit time, half of each edge, and for time
//     that nobody saw the share of the day that the lamp usually burns, with
//     none and all of it as the ends of the interval.
//  3. Both are kept: where a meter and the lamp-on time disagree, the days say
//     by how much.
//
// Everything is conserved: the hours of a life are the hours of its days.
package hours

// Day is what one day tells. Days are in order; a day with no row is a gap
// of its whole length.
type Day struct {
	Day      int32   // days since 1970-01-01
	Length   float64 // h
	LitH     float64
	EdgeH    float64
	GapH     float64
	OutageH  float64 // of the gap, h known to be without power
	MeterAt  int64   // microseconds UTC of the day's last meter reading, 0 = not read
	Meter    float64 // its face, h
	FirstAt  int64   // of the day's first meter reading
	First    float64
	DarkFrom bool // the lamp is known to be dark: nothing burns
}

// Method is the evidence of a day's hours.
type Method string

// The kinds of evidence.
const (
	ByMeter  Method = "meter"
	ByLit    Method = "lamp-on time"
	ByHabit  Method = "usual hours" // nobody saw the lamp
	ByOutage Method = "outage"
)

// Total is the run-hours of the life at the end of a day.
type Total struct {
	Day      int32
	Hours    float64
	Lo, Hi   float64 // what the evidence allows; not a probability
	Burned   float64 // h of this day
	Method   Method
	Disagree float64 // lamp-on time minus meter over the last metered stretch, share of it; NaN where only one spoke
}

// Habit is how long the lamp usually burns a day where no day tells: the
// room's declared photoperiod, h; negative where the site declares none.
type Habit float64
