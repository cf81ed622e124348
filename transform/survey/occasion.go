package survey

import (
	"fmt"
	"math"
	"sort"
	"time"

	"wane/transform/estimate"

	"gonum.org/v1/gonum/stat/distuv"
)

// Occasion is one visit to the rig: the surveys of that day, those of the
// reference fixture apart.
type Occasion struct {
	From, To   time.Time // first and last survey of the visit
	References []Survey
	Fixtures   []Survey
}

// Occasions groups surveys into visits: a survey belongs to a visit while it
// was taken within gap of the one before. reference names the fixture kept as
// the reference; "" = none. Within a visit surveys are in order of time, then ID.
func Occasions(surveys []Survey, reference string, gap time.Duration) []Occasion {
	ss := append([]Survey(nil), surveys...)
	sort.SliceStable(ss, func(i, j int) bool {
		if !ss[i].TakenAt.Equal(ss[j].TakenAt) {
			return ss[i].TakenAt.Before(ss[j].TakenAt)
		}
		return ss[i].ID < ss[j].ID
	})
	var out []Occasion
	for _, s := range ss {
		if n := len(out); n == 0 || s.TakenAt.Sub(out[n-1].To) > gap {
			out = append(out, Occasion{From: s.TakenAt})
		}
		o := &out[len(out)-1]
		o.To = s.TakenAt
		if reference != "" && s.Fixture == reference {
			o.References = append(o.References, s)
		} else {
			o.Fixtures = append(o.Fixtures, s)
		}
	}
	return out
}

// State says whether the rig held between two occasions.
type State string

// The three answers to whether the rig held.
const (
	RigHeld    State = "held"
	RigMoved   State = "moved"
	RigUnknown State = "unknown"
)

// Rig is what the reference fixture says of the rig between two occasions.
type Rig struct {
	State State
	// Drift is the later reading of the reference over the first; its interval
	// is that of the rig's gain, so it holds the reference fixture's own
	// possible change.
	Drift estimate.Estimate
	Words string
	sd    float64 // of ln Drift as a correction: repeat, hang and reference
}

// RigBetween compares the reference surveys of two occasions.
func RigBetween(first, later Occasion, u Uncertainty) Rig {
	const method = "mean log ratio of the reference fixture's spots"
	none := func(why string) Rig {
		return Rig{State: RigUnknown, Drift: estimate.None(method, why),
			Words: "nobody can say whether the rig held: " + why + "; survey the reference fixture on each occasion"}
	}
	if len(first.References) == 0 || len(later.References) == 0 {
		return none("the reference fixture was not surveyed on both occasions")
	}
	a, err := pool(first.References)
	if err != nil {
		return none(err.Error())
	}
	b, err := pool(later.References)
	if err != nil {
		return none(err.Error())
	}
	l, err := logRatio(a, b)
	if err != nil {
		return none(err.Error())
	}
	na, nb := float64(len(first.References)), float64(len(later.References))
	n := float64(len(l))
	sd := hypot(u.rep()*math.Sqrt(1/(na*n)+1/(nb*n)), u.hang()*math.Sqrt(1/na+1/nb), u.ref())
	d := math.Exp(meanOf(l))
	r := Rig{State: RigHeld, Drift: u.aroundLog(d, sd, len(l), method), sd: sd}
	pct := 100 * (d - 1)
	if r.Drift.Lo > 1 || r.Drift.Hi < 1 {
		r.State = RigMoved
		r.Words = fmt.Sprintf("the rig moved: it reads the reference fixture %+.1f %% (%+.1f to %+.1f) against the first occasion; the change below is taken relative to the reference",
			pct, 100*(r.Drift.Lo-1), 100*(r.Drift.Hi-1))
		return r
	}
	r.Words = fmt.Sprintf("the rig held as far as the reference fixture can show: %+.1f %% (%+.1f to %+.1f)", pct,
		100*(r.Drift.Lo-1), 100*(r.Drift.Hi-1))
	return r
}

// pool averages repeated surveys of one fixture in the logarithm, spot by spot.
func pool(ss []Survey) (Survey, error) {
	for i, s := range ss {
		if err := s.Check(); err != nil {
			return Survey{}, err
		}
		if w := sameGeometry(ss[0], s); w != "" {
			return Survey{}, fmt.Errorf("%s and %s cannot be pooled: %s", ss[0].name(), ss[i].name(), w)
		}
		if fmt.Sprint(s.Sensors()) != fmt.Sprint(ss[0].Sensors()) {
			return Survey{}, fmt.Errorf("%s and %s cannot be pooled: they were read with different sensors", ss[0].name(),
				ss[i].name())
		}
	}
	if len(ss) == 1 {
		return ss[0], nil
	}
	out := ss[0]
	_, cols := out.Size()
	sum, n, spot := map[int]float64{}, map[int]int{}, map[int]Spot{}
	for _, s := range ss {
		for _, p := range s.Spots {
			if p.PPFD > 0 {
				k := Number(p.Row, p.Col, cols)
				sum[k] += math.Log(p.PPFD)
				n[k]++
				spot[k] = p
			}
		}
	}
	out.Spots = nil
	for k := range n {
		if n[k] == len(ss) {
			p := spot[k]
			p.PPFD = math.Exp(sum[k] / float64(n[k]))
			out.Spots = append(out.Spots, p)
		}
	}
	sort.Slice(out.Spots, func(i, j int) bool {
		return Number(out.Spots[i].Row, out.Spots[i].Col, cols) < Number(out.Spots[j].Row, out.Spots[j].Col, cols)
	})
	if len(out.Spots) == 0 {
		return Survey{}, fmt.Errorf("%s: no spot was read above 0 in every repeat", out.name())
	}
	return out, nil
}

// logRatio gives ln(later/first) for the spots read above 0 in both, by number.
func logRatio(first, later Survey) ([]float64, error) {
	if w := sameGeometry(first, later); w != "" {
		return nil, fmt.Errorf("%s and %s cannot be compared: %s", first.name(), later.name(), w)
	}
	logs := commonLogs([]Survey{first, later})
	if len(logs) == 0 {
		return nil, fmt.Errorf("%s and %s have no spot that was read above 0 in both", first.name(), later.name())
	}
	out := make([]float64, len(logs))
	for i, l := range logs {
		out[i] = l[1] - l[0]
	}
	return out, nil
}

func meanOf(x []float64) float64 {
	s := 0.0
	for _, v := range x {
		s += v
	}
	return s / float64(len(x))
}

// Slope is the rig's drift in per cent a year: the least-squares slope of the
// log average of the reference against time, with Student's t interval. It
// needs three occasions with the reference.
func Slope(occasions []Occasion, level float64) estimate.Estimate {
	const method = "least squares of ln(reference average) on years, Student's t interval"
	var x, y []float64
	var t0 time.Time
	for _, o := range occasions {
		if len(o.References) == 0 {
			continue
		}
		p, err := pool(o.References)
		if err != nil {
			return estimate.None(method, err.Error())
		}
		if t0.IsZero() {
			t0 = o.From
		}
		x = append(x, o.From.Sub(t0).Hours()/(24*365.25))
		y = append(y, math.Log(plainMean(p)))
	}
	if len(x) < 3 || !(level > 0 && level < 1) {
		return estimate.None(method, fmt.Sprintf("the reference was surveyed on %d occasions; a drift a year with an interval needs three", len(x)))
	}
	mx, my := meanOf(x), meanOf(y)
	sxx, sxy := 0.0, 0.0
	for i := range x {
		sxx += (x[i] - mx) * (x[i] - mx)
		sxy += (x[i] - mx) * (y[i] - my)
	}
	if sxx == 0 {
		return estimate.None(method, "all occasions are at one time")
	}
	b := sxy / sxx
	rss := 0.0
	for i := range x {
		d := y[i] - my - b*(x[i]-mx)
		rss += d * d
	}
	df := float64(len(x) - 2)
	h := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile(.5+level/2) * math.Sqrt(rss/df/sxx)
	pct := func(v float64) float64 { return 100 * math.Expm1(v) }
	return estimate.Estimate{Centre: pct(b), Lo: pct(b - h), Hi: pct(b + h), Level: level, N: len(x), Method: method}
}

func plainMean(s Survey) float64 {
	t := 0.0
	for _, p := range s.Spots {
		t += p.PPFD
	}
	return t / float64(len(s.Spots))
}
