package level

import "wane/transform/estimate"

// Result is what the levels of one lamp life are relative to. Baseline is in
// umol/m2/s of corrected output with a 95 % interval of the median; Warnings say
// what is odd about it.
type Result struct {
	Baseline   estimate.Estimate
	ReferenceV float64 // NaN where supply is never read
}

// Raw is the light brought to full power, umol/m2/s, nothing else corrected.
func (d *Day) Raw() float64 { return d.PPFD / (d.DimPct / 100) }

// ReferenceDays is of how many days with a voltage the reference is the median,
// where the rated one is not known.
const ReferenceDays = 30
