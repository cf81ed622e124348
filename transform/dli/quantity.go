package dli

// Quantity is one photon quantity as the horticultural standard names it.
type Quantity struct {
	Symbol, Name, Unit, Meaning string
}

// Quantities lists the photon quantities that surveys report, with units after
// ANSI/ASABE S640; the last two are survey figures that follow from them.
func Quantities() []Quantity {
	return []Quantity{
		{"PPFD", "photosynthetic photon flux density", "umol/m2/s", "photons from 400 to 700 nm falling on a square metre each second"},
		{"PPF", "photosynthetic photon flux", "umol/s", "photons from 400 to 700 nm given each second"},
		{"DLI", "daily light integral", "mol/m2/d", "PPFD summed over a day"},
		{"PPE", "photosynthetic photon efficacy", "umol/J", "PPF for each watt of electric power"},
		{"PPF on the footprint", "photon flux falling on the surveyed floor", "umol/s", "area-weighted average PPFD times the area; less than the fixture's own PPF, since light falls beside the floor"},
		{"efficacy on the footprint", "photon flux on the surveyed floor for each watt", "umol/J", "PPF on the footprint divided by the power; less than the fixture's own efficacy"},
	}
}
