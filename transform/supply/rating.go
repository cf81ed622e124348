package supply

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

// Rating is what a fixture is rated for, as the register gives it.
type Rating struct {
	Text   string
	Lo, Hi float64   // a range such as 120-277; both 0 for taps
	Taps   []float64 // single voltages, such as 240 or 120/208/240/277
}

var ratingForm = regexp.MustCompile(`^\d+(\.\d+)?([-/]\d+(\.\d+)?)*$`)

// ParseRating reads a rated voltage: one voltage (240), taps (120/208/240/277)
// or a range (120-277), with or without a V.
func ParseRating(s string) (Rating, error) {
	t := strings.TrimSpace(s)
	t = strings.TrimSpace(strings.TrimSuffix(strings.TrimSuffix(t, "V"), "v"))
	t = strings.ReplaceAll(strings.ReplaceAll(t, "–", "-"), " ", "")
	bad := fmt.Errorf("rated voltage %q: give one voltage (240), taps (120/208/240/277) or a range (120-277)", s)
	if !ratingForm.MatchString(t) || strings.Contains(t, "-") && (strings.Contains(t, "/") || strings.Count(t, "-") > 1) {
		return Rating{}, bad
	}
	r := Rating{Text: strings.TrimSpace(s)}
	var vs []float64
	for _, p := range strings.FieldsFunc(t, func(c rune) bool { return c == '-' || c == '/' }) {
		v, err := strconv.ParseFloat(p, 64)
		if err != nil || v < 1 || v > 1000 {
			return Rating{}, bad
		}
		vs = append(vs, v)
	}
	if strings.Contains(t, "-") {
		if vs[0] >= vs[1] {
			return Rating{}, bad
		}
		r.Lo, r.Hi = vs[0], vs[1]
		return r, nil
	}
	r.Taps = vs
	return r, nil
}

// GearTolerancePct is used where a site declares no tolerance for its gear:
// plus and minus 10 % of the rated voltage, common practice, no source.
const GearTolerancePct = 10

// Verdict is whether a fixture is rated for its supply.
type Verdict struct {
	OK    bool
	Tap   float64 // the nearest rated voltage, V; 0 for a range
	Words string
}

// CheckRating holds a rating against the span in which nine readings in ten
// lie. tolerancePct is declared by the site; see GearTolerancePct.
func CheckRating(r Rating, p Profile, tolerancePct float64) (Verdict, error) {
	w, ok := p.Whole()
	if !ok {
		return Verdict{}, fmt.Errorf("no voltage readings to hold the rating against")
	}
	if !(tolerancePct >= 0 && tolerancePct < 100) {
		return Verdict{}, fmt.Errorf("tolerance %v %%: give the gear's allowance from 0 to 100", tolerancePct)
	}
	lo, hi, m := w.P5.Centre, w.P95.Centre, w.Median.Centre
	k := tolerancePct / 100
	v := Verdict{}
	min, max := r.Lo*(1-k), r.Hi*(1+k)
	name := r.Text + " V"
	if len(r.Taps) > 0 {
		v.Tap = r.Taps[0]
		for _, t := range r.Taps {
			if abs(m/t-1) < abs(m/v.Tap-1) {
				v.Tap = t
			}
		}
		min, max = v.Tap*(1-k), v.Tap*(1+k)
		name = fmt.Sprintf("%.4g V", v.Tap)
	}
	v.OK = lo >= min && hi <= max
	switch {
	case v.OK && len(r.Taps) > 1:
		v.Words = fmt.Sprintf("rated on its %s tap for the %.1f to %.1f V it gets; a licensed electrician confirms which tap is connected", name, lo, hi)
	case v.OK:
		v.Words = fmt.Sprintf("rated %s, gets %.1f to %.1f V: within %.3g %%", name, lo, hi, tolerancePct)
	default:
		v.Words = fmt.Sprintf("not rated for its supply: %s gear with %.3g %% allowance takes %.1f to %.1f V, nine readings in ten lie from %.1f to %.1f V", name, tolerancePct, min, max, lo, hi)
	}
	return v, nil
}

func abs(x float64) float64 {
	if x < 0 {
		return -x
	}
	return x
}
