package supply

import "fmt"

// GearTolerancePct is used where a site declares no tolerance for its gear:
// plus and minus 10 % of the rated voltage, common practice, no source.
const GearTolerancePct = 10

// Verdict is whether a fixture is rated for its supply.
type Verdict struct {
	OK    bool
	Words string
}

// CheckRating holds a rated voltage against the span in which nine readings in
// ten lie. tolerancePct is declared by the site; see GearTolerancePct.
func CheckRating(ratedV float64, p Profile, tolerancePct float64) (Verdict, error) {
	w, ok := p.Whole()
	if !ok {
		return Verdict{}, fmt.Errorf("no voltage readings to hold the rating against")
	}
	if !(tolerancePct >= 0 && tolerancePct < 100) {
		return Verdict{}, fmt.Errorf("tolerance %v %%: give the gear's allowance from 0 to 100", tolerancePct)
	}
	k := tolerancePct / 100
	least, most := ratedV*(1-k), ratedV*(1+k)
	lo, hi := w.P5.Centre, w.P95.Centre
	if lo >= least && hi <= most {
		return Verdict{true, fmt.Sprintf("rated %.4g V, gets %.1f to %.1f V: within %.3g %%", ratedV, lo, hi, tolerancePct)},
			nil
	}
	return Verdict{false, fmt.Sprintf("not rated for its supply: %.4g V gear with %.3g %% allowance takes %.1f to %.1f V, nine readings in ten lie from %.1f to %.1f V",
		ratedV, tolerancePct, least, most, lo, hi)}, nil
}
