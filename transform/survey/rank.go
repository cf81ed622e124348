package survey

import (
	"fmt"
	"math"
	"sort"

	"wane/transform/estimate"

	"gonum.org/v1/gonum/stat/distuv"
)

// Entry is one fixture in a side-by-side comparison.
type Entry struct {
	Fixture string
	Average float64 // umol/m2/s under the common geometry
	// OwnPct is the standard deviation, per cent, of what this entry does not
	// share with the others (repeat, hang, and between occasions the rest).
	OwnPct float64
	N      int // spots
}

// Ranked is one fixture's place.
type Ranked struct {
	Entry
	Best, Worst int // the places it can hold by this comparison; equal = certain
	Words       string
}

// Pair is one fixture against another, the brighter first.
type Pair struct {
	A, B  string
	Ratio estimate.Estimate // A over B
	Seen  bool              // the interval leaves 1 out
	Words string
}

// Ranking is fixtures side by side, brightest first.
type Ranking struct {
	Order  []Ranked
	Pairs  []Pair
	Method string
	Rig    string // whether the rig held between the entries, in words
}

// NoDifference is what is said of two fixtures that the rig cannot tell apart.
const NoDifference = "no difference that this rig can see"

// EntryOf makes an entry from a survey taken on the same occasion and with the
// same sensor as its rivals: what they share (sensor, occasion) cancels.
func EntryOf(s Survey, u Uncertainty) (Entry, error) {
	if err := s.Check(); err != nil {
		return Entry{}, err
	}
	r := newReadings(s, u)
	rel := r.repeatSD(r.even()) / r.mean
	return Entry{Fixture: s.Fixture, Average: r.mean, OwnPct: 100 * hypot(rel, u.hang()), N: len(r.y)}, nil
}

// SideBySide ranks surveys taken under one geometry. Surveys from several
// occasions or sensors keep what no longer cancels as their own uncertainty; a
// differing geometry is an error, as is one fixture entered twice.
func SideBySide(surveys []Survey, sameOccasion bool, u Uncertainty) (Ranking, error) {
	if err := u.Check(); err != nil {
		return Ranking{}, err
	}
	var es []Entry
	sensors := map[string]bool{}
	for _, s := range surveys {
		if w := sameGeometry(surveys[0], s); w != "" {
			return Ranking{}, fmt.Errorf("%s and %s cannot stand side by side: %s", surveys[0].name(), s.name(), w)
		}
		if len(s.Missing()) > 0 {
			return Ranking{}, fmt.Errorf("%s has spots missing (%s): averages over different spots cannot stand side by side; read the whole grid", s.name(), numberList(s.Missing()))
		}
		e, err := EntryOf(s, u)
		if err != nil {
			return Ranking{}, err
		}
		sensors[fmt.Sprint(s.Sensors())] = true
		es = append(es, e)
	}
	for i := range es {
		if !sameOccasion {
			es[i].OwnPct = hypot(es[i].OwnPct, u.OccasionPct)
		}
		if len(sensors) > 1 {
			es[i].OwnPct = hypot(es[i].OwnPct, u.SensorPct)
		}
	}
	r, err := Rank(es, u.level())
	r.Rig = "all were surveyed on one occasion: what the rig has drifted by is common to all and cancels"
	if !sameOccasion {
		r.Rig = fmt.Sprintf("surveyed on several occasions: nobody can say here whether the rig held between them; %.2g %% is allowed for it, as declared", u.OccasionPct)
	}
	return r, err
}

// Rank orders entries and compares each two. The level is shared out over all
// pairs (Bonferroni), so that it holds for the whole table at once.
func Rank(entries []Entry, level float64) (Ranking, error) {
	if len(entries) < 2 {
		return Ranking{}, fmt.Errorf("%d fixture: a comparison needs at least two", len(entries))
	}
	if !(level > 0 && level < 1) {
		return Ranking{}, fmt.Errorf("level %v is not between 0 and 1", level)
	}
	es := append([]Entry(nil), entries...)
	seen := map[string]bool{}
	for _, e := range es {
		if seen[e.Fixture] {
			return Ranking{}, fmt.Errorf("fixture %s is entered twice; choose one survey of it", e.Fixture)
		}
		seen[e.Fixture] = true
		if !estimate.Finite(e.Average) || e.Average <= 0 || !estimate.Finite(e.OwnPct) || e.OwnPct < 0 {
			return Ranking{}, fmt.Errorf("fixture %s: average %v with %v %% cannot be ranked; both must be numbers, the average above 0", e.Fixture, e.Average, e.OwnPct)
		}
	}
	sort.SliceStable(es, func(i, j int) bool {
		if es[i].Average != es[j].Average {
			return es[i].Average > es[j].Average
		}
		return es[i].Fixture < es[j].Fixture
	})
	k := len(es)
	pairs := k * (k - 1) / 2
	z := distuv.UnitNormal.Quantile(1 - (1-level)/float64(2*pairs))
	r := Ranking{Method: fmt.Sprintf("ratio of averages, level %.3g for all %d pairs together (Bonferroni)", level, pairs)}
	better, worse := make([]int, k), make([]int, k)
	for i := range es {
		for j := i + 1; j < k; j++ {
			q := es[i].Average / es[j].Average
			h := z * hypot(es[i].OwnPct, es[j].OwnPct) / 100
			p := Pair{A: es[i].Fixture, B: es[j].Fixture, Ratio: estimate.Estimate{Centre: q, Lo: q * math.Exp(-h),
				Hi: q * math.Exp(h), Level: level, N: es[i].N + es[j].N, Method: r.Method}}
			p.Seen = p.Ratio.Lo > 1
			if p.Seen {
				better[j]++
				worse[i]++
				p.Words = fmt.Sprintf("%s gives %.1f %% more than %s (%.1f to %.1f)", p.A, 100*(q-1), p.B, 100*(p.Ratio.Lo-1),
					100*(p.Ratio.Hi-1))
			} else {
				p.Words = fmt.Sprintf("%s and %s: %s (it would see one from about %.1f %%)", p.A, p.B, NoDifference,
					100*math.Expm1(h))
			}
			r.Pairs = append(r.Pairs, p)
		}
	}
	for i, e := range es {
		x := Ranked{Entry: e, Best: better[i] + 1, Worst: k - worse[i]}
		x.Words = fmt.Sprintf("place %d", x.Best)
		if x.Best != x.Worst {
			x.Words = fmt.Sprintf("place %d to %d", x.Best, x.Worst)
		}
		r.Order = append(r.Order, x)
	}
	return r, nil
}
