package yearly

import (
	"fmt"
	"sort"

	"wane/transform/fleet"
	"wane/transform/survival"
	"wane/transform/survival/exact"
)

// earlyHours is the age up to which a failure is an early one.
const earlyHours = 1000

// assumedShape is the shape of the Weibull where one or no failure gives none:
// a moderate wear-out. Common practice, no source.
const assumedShape = 3.0

// LeastAtRisk is how many lamps under watch a curve is begun and drawn with.
const LeastAtRisk = 10

// fewFailures is from how many failures on a fitted shape is leant on (Meeker
// and Escobar 1998 warn below about ten; the limit is a choice).
const fewFailures = 10

// Group is how the lamps of one kind lasted.
type Group struct {
	By        string  `json:"by"` // lamp type, make or cohort
	Name      string  `json:"name"`
	LampType  string  `json:"lamp_type"`
	Units     int     `json:"units"`
	Late      int     `json:"entered_late"`
	Failures  int     `json:"failures"`
	OnArrival int     `json:"dead_on_arrival"`        // of the failures: no Weibull can hold them
	AtVisits  int     `json:"failures_between_looks"` // of the failures: known between two ages only
	Working   int     `json:"working_or_taken_out"`
	UnitHours float64 `json:"unit_hours"`
	Oldest    float64 `json:"oldest_hours"`

	B10    Value `json:"b10_kaplan_meier"` // h
	Median Value `json:"b50_kaplan_meier"` // h

	Shape      Value  `json:"weibull_shape"`
	Scale      Value  `json:"weibull_scale"` // h
	WeibullB10 Value  `json:"b10_weibull"`   // h
	WeibullB50 Value  `json:"b50_weibull"`   // h
	Mean       Value  `json:"mean_weibull"`  // h
	NoFit      string `json:"no_fit,omitempty"`
	AssumedB10 Value  `json:"b10_assumed_shape"` // h, of an assumed shape, where none can be fitted
	Rate       Value  `json:"failures_per_1e6_hours"`
	Early      Value  `json:"early_failure_share"`
	EarlyCount int    `json:"early_failures"`
	Say        string `json:"say"`

	Curve  survival.Curve   `json:"-"`
	End    float64          `json:"-"` // h: up to here enough lamps are under watch to draw the curve; 0 = nowhere
	Fit    survival.Weibull `json:"-"`
	Points []survival.Point `json:"-"`
	Axes   string           `json:"-"` // the plotting position

	key groupKey
}

type groupKey struct{ by, name, lampType string }

// groups sorts the lives by lamp type, make and cohort.
func (in *Input) groups(ws []watched) ([]Group, error) {
	members := map[groupKey][]*watched{}
	for i := range ws {
		w := &ws[i]
		t := string(w.LampType)
		for _, k := range []groupKey{{"lamp type", t, t}, {"make", known(w.Model), t}, {"cohort", known(w.Cohort), t}} {
			members[k] = append(members[k], w)
		}
	}
	keys := make([]groupKey, 0, len(members))
	for k := range members {
		keys = append(keys, k)
	}
	order := map[string]int{"lamp type": 0, "make": 1, "cohort": 2}
	sort.Slice(keys, func(i, j int) bool {
		a, b := keys[i], keys[j]
		if a.by != b.by {
			return order[a.by] < order[b.by]
		}
		if a.lampType != b.lampType {
			return typeRank(a.lampType) < typeRank(b.lampType)
		}
		return a.name < b.name
	})
	out := make([]Group, 0, len(keys))
	for _, k := range keys {
		g, err := in.group(k, members[k])
		if err != nil {
			return nil, fmt.Errorf("survival of %s %s: %w", k.by, k.name, err)
		}
		out = append(out, g)
	}
	return out, nil
}

func typeRank(t string) int {
	for i, k := range fleet.LampTypes {
		if string(k) == t {
			return i
		}
	}
	return len(fleet.LampTypes)
}

func known(name string) string {
	if name == "" {
		return "not known"
	}
	return name
}

func (in *Input) group(k groupKey, ws []*watched) (Group, error) {
	g := Group{By: k.by, Name: k.name, LampType: k.lampType, key: k}
	units := make([]survival.Unit, len(ws))
	var burned []survival.Unit // without the dead on arrival
	early := 0
	for i, w := range ws {
		units[i] = w.unit()
		u := w.middle()
		g.AtVisits += one(units[i].Gap > 0)
		if u.Failed && u.Exit == 0 {
			g.OnArrival++
		} else {
			burned = append(burned, u)
		}
		g.Units++
		g.Late += one(u.Entry > 0)
		g.Failures += one(u.Failed)
		g.Oldest = max(g.Oldest, u.Exit)
		g.UnitHours += u.Exit - u.Entry
		if u.Entry == 0 {
			if u.Failed && u.Exit <= earlyHours {
				g.EarlyCount++
			}
			if u.Exit > earlyHours || u.Failed && u.Exit <= earlyHours {
				early++
			}
		}
	}
	g.Working = g.Units - g.Failures
	from, end := survival.Enough(units, LeastAtRisk)
	g.End = end
	var err error
	if g.Curve, err = survival.Turnbull(units, from, survival.LogLog, in.Level); err != nil {
		return g, err
	}
	if from > 0 {
		g.Curve.Warnings = append(g.Curve.Warnings, fmt.Sprintf(
			"of lamps that reached %.0f h: fewer than %d were under watch before", from, LeastAtRisk))
	}
	g.B10, g.Median = Value{g.Curve.Quantile(0.1)}, Value{g.Curve.Quantile(0.5)}
	if g.Fit, err = survival.FitWeibull(burned, in.Level); err != nil {
		return g, err
	}
	g.NoFit = g.Fit.Reason
	g.Shape, g.Scale = Value{g.Fit.Beta(survival.Profile)}, Value{g.Fit.Eta(survival.Profile)}
	g.WeibullB10, g.WeibullB50 = Value{g.Fit.Life(0.1, survival.Profile)}, Value{g.Fit.Life(0.5, survival.Profile)}
	g.Mean = Value{g.Fit.Mean()}
	if g.Points, g.Axes, err = survival.PlotPoints(burned); err != nil {
		return g, err
	}
	g.AssumedB10 = none("Weibull of assumed shape", "not needed: the shape is fitted")
	if g.Failures-g.OnArrival <= 1 {
		e, err := survival.FitScale(burned, assumedShape, 0.1, in.Level)
		g.AssumedB10 = orNone(e, err, "Weibull of assumed shape")
		g.AssumedB10.Estimate = g.AssumedB10.Warn(fmt.Sprintf("a shape of %g is assumed (common practice, no source)",
			assumedShape))
	}
	g.Rate = in.rate(g.Failures, g.UnitHours)
	if early == 0 {
		g.Early = none("exact binomial", fmt.Sprintf("no lamp that was watched from new has reached %d h", earlyHours))
	} else {
		e, err := exact.Share(g.EarlyCount, early, in.Level)
		g.Early = orNone(e, err, "exact binomial")
	}
	g.Say = g.words()
	if g.AtVisits > 0 {
		g.add(fmt.Sprintf("found dark long after they were last seen lit: %d; "+
			"all but the curve, B10 and B50 by it, takes the middle of that time",
			g.AtVisits))
	}
	if g.OnArrival > 0 {
		g.add(fmt.Sprintf("dead on arrival, and so not in the Weibull: %d", g.OnArrival))
	}
	return g, nil
}

// add says one thing more.
func (g *Group) add(words string) {
	if g.Say != "" {
		words = g.Say + "; " + words
	}
	g.Say = words
}

// rate is failures per million unit-hours.
func (in *Input) rate(failures int, hours float64) Value {
	if !(hours > 0) {
		return none("chi-square", "no unit-hours")
	}
	e, err := exact.Rate(failures, hours, in.Level)
	if err != nil {
		return none("chi-square", err.Error())
	}
	return Value{e.Scale(1e6)}
}

// words says plainly what the numbers allow.
func (g *Group) words() string {
	switch {
	case g.Units == 1:
		return "one lamp: nothing can be said of its kind"
	case g.Failures == 0:
		return "no failures: only a bound can be given"
	case g.Failures == 1:
		return "one failure: the form of ageing cannot be known, only bounds hold"
	case g.Failures == g.Units:
		return "all have failed: nothing is censored"
	case g.Failures < fewFailures:
		return fmt.Sprintf("%d failures: fewer than %d, the fitted curve is not to be leant on", g.Failures, fewFailures)
	}
	return ""
}

// Comparison asks whether the makes of one lamp type fail alike.
type Comparison struct {
	LampType   string     `json:"lamp_type"`
	Groups     []Compared `json:"makes"`
	Chi2       Number     `json:"chi2"`
	DF         int        `json:"df"`
	P          Number     `json:"p"`
	Detectable Number     `json:"detectable_hazard_ratio"`
	Enough     bool       `json:"enough"`
	Say        string     `json:"say"`
}

// Compared is one make of a comparison.
type Compared struct {
	Name     string  `json:"make"`
	Units    int     `json:"units"`
	Observed int     `json:"failures"`
	Expected float64 `json:"expected_failures"` // were all makes alike
}

// compare tests the makes of each lamp type that has several.
func compare(ws []watched) ([]Comparison, error) {
	by := map[string]map[string][]survival.Unit{}
	for i := range ws {
		t := string(ws[i].LampType)
		if by[t] == nil {
			by[t] = map[string][]survival.Unit{}
		}
		m := known(ws[i].Model)
		by[t][m] = append(by[t][m], ws[i].middle())
	}
	var out []Comparison
	for _, t := range types(by) {
		if len(by[t]) < 2 {
			continue
		}
		names := make([]string, 0, len(by[t]))
		for n := range by[t] {
			names = append(names, n)
		}
		sort.Strings(names)
		gs := make([]survival.Group, len(names))
		for i, n := range names {
			gs[i] = survival.Group{Name: n, Units: by[t][n]}
		}
		c, err := survival.LogRank(gs)
		if err != nil {
			return nil, fmt.Errorf("compare makes of %s: %w", t, err)
		}
		parts := make([]Compared, len(c.Groups))
		for i, g := range c.Groups {
			parts[i] = Compared(g)
		}
		out = append(out, Comparison{t, parts, Number(c.Chi2), c.DF, Number(c.P), Number(c.Detectable), c.Enough, c.Say})
	}
	return out, nil
}

func types[T any](by map[string]T) []string {
	out := make([]string, 0, len(by))
	for t := range by {
		out = append(out, t)
	}
	sort.Slice(out, func(i, j int) bool {
		if a, b := typeRank(out[i]), typeRank(out[j]); a != b {
			return a < b
		}
		return out[i] < out[j]
	})
	return out
}

// Ends is the competing ends of one lamp type at an age.
type Ends struct {
	LampType string  `json:"lamp_type"`
	Hours    float64 `json:"hours"`
	Units    int     `json:"units"`
	Dark     Value   `json:"dark_share"`
	Faded    Value   `json:"faded_share"`
}

// endAges are where the competing ends are read off, h.
var endAges = []float64{2000, 5000, 10000, 15000, 20000}

// competing gives dark and faded against each other.
func (in *Input) competing(ws []watched) ([]Ends, error) {
	by := map[string][]survival.Ending{}
	oldest := map[string]float64{}
	for i := range ws {
		t := string(ws[i].LampType)
		e := ws[i].ending()
		by[t] = append(by[t], e)
		oldest[t] = max(oldest[t], e.Exit)
	}
	var out []Ends
	for _, t := range types(by) {
		inc, err := survival.Incidence(by[t], 2, in.Level)
		if err != nil {
			return nil, fmt.Errorf("competing ends of %s: %w", t, err)
		}
		for _, h := range endAges {
			if h <= oldest[t] {
				out = append(out, Ends{t, h, len(by[t]), Value{inc.At(h, 1)}, Value{inc.At(h, 2)}})
			}
		}
	}
	return out, nil
}
