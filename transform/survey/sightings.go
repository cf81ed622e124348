package survey

import "math"

// Sighting is what one survey says of its fixture's output beside the others of
// the same fixture: a mean over the spots that all of them read.
type Sighting struct {
	Of int     // index of the survey among those given
	Ln float64 // mean ln PPFD of the common spots
	SD float64 // of Ln, what no other survey shares: repeat and hang
	N  int     // common spots
}

// Sightings sets surveys of one fixture side by side. Those whose geometry is not
// that of the first are left out, with the reason, by their index.
func Sightings(ss []Survey, u Uncertainty) (out []Sighting, left map[int]string) {
	left = map[int]string{}
	var kept []Survey
	var of []int
	for i, s := range ss {
		switch err := s.Check(); {
		case err != nil:
			left[i] = err.Error()
		case len(kept) > 0 && sameGeometry(kept[0], s) != "":
			left[i] = sameGeometry(kept[0], s)
		default:
			kept, of = append(kept, s), append(of, i)
		}
	}
	if len(kept) == 0 {
		return nil, left
	}
	logs := commonLogs(kept)
	if len(logs) == 0 {
		for _, i := range of {
			left[i] = "no spot was read above 0 in every survey of the fixture"
		}
		return nil, left
	}
	n := float64(len(logs))
	for k, i := range of {
		sum := 0.0
		for _, l := range logs {
			sum += l[k]
		}
		out = append(out, Sighting{Of: i, Ln: sum / n, SD: math.Hypot(u.rep()/math.Sqrt(n), u.hang()), N: len(logs)})
	}
	return out, left
}
