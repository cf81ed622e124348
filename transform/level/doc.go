// Package level turns a lamp life's daily readings into levels: output
// relative to its own baseline, with what is not the lamp's taken out.
//
//  1. Gain: between two recalibrations a sensor's gain is taken to have drifted
//     evenly (in ln) to its as-found value; after the last one it goes on at
//     the sensor's own past rate.
//  2. Dim state, supply voltage and ambient temperature are brought to full
//     power, the reference voltage and the reference temperature by declared
//     coefficients.
//  3. The baseline is the median of the first days after seasoning, with its
//     own standard error. It is 1.00.
//
// Corrected and uncorrected levels stand side by side, with the size of each
// correction, and flags say what a day rests on. Dirt is not taken out here:
// what it is worth can only be estimated (see package forecast).
package level

import (
	"slices"
	"strings"
)

// Day is what the roll-up says of one day of one lamp life. A float that is
// not known is NaN.
type Day struct {
	Day      int32
	RunHours float64 // of the lamp life, at the end of the day
	PPFD     float64 // umol/m2/s, as read with the registered factor, at the day's dim state
	Spread   float64 // relative sd of the moments behind it
	Usable   int     // how many moments
	DimPct   float64
	SupplyV  float64
	AmbientC float64
	Sensor   string // which sensor read it, for its gain
}

// Flags are what a day's level rests on, as bits.
type Flags uint16

// The flags.
const (
	GainAhead     Flags = 1 << iota // after the last recalibration: gain by the sensor's past rate
	GainUnknown                     // the sensor was never recalibrated with an as-found value
	NoSupply                        // no supply reading: none corrected
	NoAmbient                       // no ambient reading: none corrected
	Dimmed                          // brought up from a dim state
	Seasoning                       // before the baseline
	LateBaseline                    // the baseline is not one of a new lamp
	BaselineShort                   // the baseline rests on fewer days than declared
)

var flagNames = []string{"gain-ahead", "gain-unknown", "no-supply", "no-ambient", "dimmed", "seasoning",
	"late-baseline", "short-baseline"}

// String joins the names with spaces, in a fixed order.
func (f Flags) String() string {
	s := ""
	for i, n := range flagNames {
		if f&(1<<i) != 0 {
			if s != "" {
				s += " "
			}
			s += n
		}
	}
	return s
}

// Level is one day of one lamp life. Corrections are in ln: what each added to
// ln(output); their sum takes Raw to Output.
type Level struct {
	Day      int32
	RunHours float64
	Raw      float64 // umol/m2/s at full power, otherwise as read
	Output   float64 // umol/m2/s, corrected
	Gain     float64 // ln
	Supply   float64 // ln
	Ambient  float64 // ln
	LevelRaw float64 // Raw relative to the baseline of raw values; NaN before there is one
	Level    float64 // Output relative to the baseline
	Flags    Flags
}

// ParseFlags reads what String wrote.
func ParseFlags(s string) Flags {
	var f Flags
	for _, name := range strings.Fields(s) {
		if i := slices.Index(flagNames, name); i >= 0 {
			f |= 1 << i
		}
	}
	return f
}
