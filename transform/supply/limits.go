package supply

import "math"

// Limit is one published voltage range.
type Limit struct {
	Nominal  string // as the source names it
	Kind     string
	Min, Max float64 // V; NaN where the source gives none
	Source   string
	Label    string // "seen", "seen (secondary)" or "memory": how the value is known
}

// Recalled says whether the value was not read in its source.
func (l Limit) Recalled() bool { return l.Label == "memory" }

// Provenance says in words how the value is known.
func (l Limit) Provenance() string {
	if l.Recalled() {
		return "recalled, not checked against the text: look it up before you rely on it"
	}
	return l.Label
}

// Holds says whether a voltage is within the range.
func (l Limit) Holds(v float64) bool {
	return !(v < l.Min) && !(v > l.Max)
}

// Limits gives the published ranges: COMAR 20.50.07.02 and EN 50160 as seen,
// ANSI C84.1 from memory. testdata/voltage_limits.csv is the same table.
func Limits() []Limit {
	nan := math.NaN()
	return []Limit{
		{"120", "service, state regulation", 114, 126, "COMAR 20.50.07.02", "seen"},
		{"120/208 L-N", "service, state regulation", 114, 126, "COMAR 20.50.07.02", "seen"},
		{"120/208 L-L", "service, state regulation", 197, 219, "COMAR 20.50.07.02", "seen"},
		{"120/240 L-N", "service, state regulation", 114, 126, "COMAR 20.50.07.02", "seen"},
		{"120/240 L-L", "service, state regulation", 228, 252, "COMAR 20.50.07.02", "seen"},
		{"208", "service, state regulation", 197, 219, "COMAR 20.50.07.02", "seen"},
		{"240", "service, state regulation", 216, 252, "COMAR 20.50.07.02", "seen"},
		{"277/480 L-N", "service, state regulation", 249, 291, "COMAR 20.50.07.02", "seen"},
		{"277/480 L-L", "service, state regulation", 432, 504, "COMAR 20.50.07.02", "seen"},
		{"480", "service, state regulation", 432, 504, "COMAR 20.50.07.02", "seen"},
		{"600", "service, state regulation", 540, 630, "COMAR 20.50.07.02", "seen"},
		{"120", "Range A service", 114, 126, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"120", "Range A utilization minimum", 108, nan, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"120", "Range B service", 110, 127, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"120", "Range B utilization minimum", 104, nan, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"240", "Range A service", 228, 252, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"240", "Range A utilization minimum", 216, nan, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"240", "Range B service", 220, 254, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"240", "Range B utilization minimum", 208, nan, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"208Y/120 L-L", "Range A service", 197, 218, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"208Y/120 L-L", "Range A utilization minimum", 187, nan, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"208Y/120 L-L", "Range B service", 191, 220, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"208Y/120 L-L", "Range B utilization minimum", 180, nan, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"208Y/120 L-N", "Range A service", 114, 126, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"208Y/120 L-N", "Range A utilization minimum", 108, nan, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"208Y/120 L-N", "Range B service", 110, 127, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"208Y/120 L-N", "Range B utilization minimum", 104, nan, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"480Y/277 L-L", "Range A service", 456, 504, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"480Y/277 L-L", "Range A utilization minimum", 432, nan, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"480Y/277 L-L", "Range B service", 440, 508, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"480Y/277 L-L", "Range B utilization minimum", 416, nan, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"480Y/277 L-N", "Range A service", 263, 291, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"480Y/277 L-N", "Range A utilization minimum", 249, nan, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"480Y/277 L-N", "Range B service", 254, 293, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"480Y/277 L-N", "Range B utilization minimum", 240, nan, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"600Y/347 L-L", "Range A service", 570, 630, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"600Y/347 L-L", "Range A utilization minimum", 540, nan, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"600Y/347 L-L", "Range B service", 550, 635, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"600Y/347 L-L", "Range B utilization minimum", 520, nan, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"600Y/347 L-N", "Range A service", 329, 364, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"600Y/347 L-N", "Range A utilization minimum", 312, nan, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"600Y/347 L-N", "Range B service", 318, 367, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"600Y/347 L-N", "Range B utilization minimum", 300, nan, "ANSI C84.1 Table 1 (2011 and later)", "memory"},
		{"230 (EN 50160, 95 % of 10-min means in a week)", "supply", 207, 253, "EN 50160", "seen (secondary)"},
		{"230 (EN 50160, all 10-min means)", "supply", 195.5, 253, "EN 50160", "seen (secondary)"},
	}
}

// LimitOf finds the range of a nominal and kind; ok is false where none is published here.
func LimitOf(nominal, kind string) (l Limit, ok bool) {
	for _, l := range Limits() {
		if l.Nominal == nominal && l.Kind == kind {
			return l, true
		}
	}
	return Limit{}, false
}
