package supply

import (
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"
)

// Input is what is known when a service is to be named.
type Input struct {
	Circuit    string
	Registered float64 // V the register gives, 0 = none
	Profile    Profile
}

// Candidate is one connection with its weight among all.
type Candidate struct {
	Connection
	Weight   float64 // 0 to 1; all sum to 1
	Evidence []string
}

// Finding is what the service most likely is.
type Finding struct {
	Circuit      string
	Registered   float64
	Best         Candidate
	Alternatives []Candidate // with a weight of 0.02 and more, likeliest first
	Confidence   string      // "strong", "fair", "weak" or "none"
	Agrees       bool        // the best nominal is the registered one, or none is registered
	Words        string
	Settles      []string // what would settle it
	Caution      string
}

// Choices of this program, no source: how far a service's voltage usually lies
// from its nominal (one sigma of a Student's t with 4 degrees of freedom, so
// that a far reading weighs little but is not ruled out), and how much the
// register counts beforehand.
const (
	spread         = 0.025
	registerWeight = 3
)

// Identify weighs the services by the hourly medians of the whole year, each
// hour counting alike: a line that sags under load comes back by night, another
// service does not. It needs a profile with readings.
func Identify(in Input) (Finding, error) {
	whole, ok := in.Profile.Whole()
	if !ok {
		return Finding{}, fmt.Errorf("circuit %s has no voltage readings; log the supply voltage first", in.Circuit)
	}
	if math.IsNaN(in.Registered) || in.Registered < 0 {
		return Finding{}, fmt.Errorf("circuit %s: registered %v V; give volts, or 0 for unknown", in.Circuit, in.Registered)
	}
	var hours []float64
	for _, c := range in.Profile.Cells {
		if c.Season == Year && c.Hour != AllHours {
			hours = append(hours, c.Median.Centre)
		}
	}
	m := whole.Median.Centre
	if m <= 0 {
		return Finding{}, fmt.Errorf("circuit %s reads 0 V at the median: the circuit was dead or the logger is not connected", in.Circuit)
	}
	cs, sum := weigh(in, hours)
	for i := range cs {
		cs[i].Weight /= sum
	}
	sort.SliceStable(cs, func(i, j int) bool { return cs[i].Weight > cs[j].Weight })
	f := Finding{Circuit: in.Circuit, Registered: in.Registered, Best: cs[0], Caution: Cautions}
	for _, c := range cs[1:] {
		if c.Weight >= .02 {
			f.Alternatives = append(f.Alternatives, c)
		}
	}
	lowest, highest, _ := in.Profile.HourSpread()
	f.Best.Evidence = evidence(f.Best, in, whole, lowest, highest)
	for i := range f.Alternatives {
		f.Alternatives[i].Evidence = evidence(f.Alternatives[i], in, whole, lowest, highest)
	}
	f.Agrees = in.Registered == 0 || sameNominal(in.Registered, f.Best.Nominal)
	off := math.Abs(m/f.Best.Nominal - 1)
	next := 0.0
	if len(f.Alternatives) > 0 {
		next = f.Alternatives[0].Weight
	}
	switch {
	case off > 4*spread:
		f.Confidence = "none"
	case f.Best.Weight >= 20*next:
		f.Confidence = "strong"
	case f.Best.Weight >= 3*next:
		f.Confidence = "fair"
	default:
		f.Confidence = "weak"
	}
	f.Words = f.sentence(m, lowest, highest)
	f.Settles = f.settles()
	return f, nil
}

func weigh(in Input, hours []float64) (cs []Candidate, sum float64) {
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: 4}
	for _, c := range Connections() {
		ll := 0.0
		for _, h := range hours {
			ll += t.LogProb((h/c.Nominal-1)/spread) / float64(len(hours))
		}
		w := c.prior * math.Exp(ll)
		if in.Registered > 0 && sameNominal(in.Registered, c.Nominal) {
			w *= registerWeight
		}
		cs = append(cs, Candidate{Connection: c, Weight: w})
		sum += w
	}
	return cs, sum
}

// sameNominal allows for names of one nominal: 220 and 230 are not, 207.8 and
// 208, 277 and 277.1 are.
func sameNominal(a, b float64) bool { return math.Abs(a/b-1) < .01 }

func evidence(c Candidate, in Input, whole, lowest, highest Cell) []string {
	m := whole.Median.Centre
	e := []string{fmt.Sprintf("median %.1f V is %+.1f %% from %.0f V", m, 100*(m/c.Nominal-1), c.Nominal)}
	if c.Range.Min > 0 {
		known := ""
		if c.Range.Recalled() {
			known = ", from memory"
		}
		inside := "inside"
		if !c.Range.Holds(whole.P5.Centre) || !c.Range.Holds(whole.P95.Centre) {
			inside = "partly or wholly outside"
		}
		e = append(e, fmt.Sprintf("nine readings in ten lie from %.1f to %.1f V, %s the service range of %.0f to %.0f V (%s%s)",
			whole.P5.Centre, whole.P95.Centre, inside, c.Range.Min, c.Range.Max, c.Range.Source, known))
	}
	e = append(e, fmt.Sprintf("hourly medians run from %.1f V at %d h to %.1f V at %d h", lowest.Median.Centre,
		lowest.Hour, highest.Median.Centre, highest.Hour))
	if in.Registered > 0 {
		if sameNominal(in.Registered, c.Nominal) {
			e = append(e, fmt.Sprintf("the register says %.0f V too", in.Registered))
		} else {
			e = append(e, fmt.Sprintf("the register says %.0f V", in.Registered))
		}
	}
	return e
}

func (f Finding) sentence(m float64, lowest, highest Cell) string {
	span := fmt.Sprintf("%.0f to %.0f V", lowest.Median.Centre, highest.Median.Centre)
	switch {
	case f.Confidence == "none":
		return fmt.Sprintf("circuit %s reads %.1f V, which is more than %.0f %% from every service known here; check the sensor's factor in the register and what it is connected to", f.Circuit, m, 400*spread)
	case !f.Agrees:
		why := "some hours come near the registered voltage, so a loaded line is not ruled out"
		switch {
		case lowest.Median.Centre > f.Registered*(1+2*spread):
			why = "load lowers a voltage and does not raise it"
		case highest.Median.Centre < f.Registered*(1-2*spread):
			why = fmt.Sprintf("load does not explain it, since the voltage does not come back to %.0f V at any hour",
				f.Registered)
		}
		return fmt.Sprintf("circuit %s is registered as %.0f V but reads %s through the day: this is most likely %s; %s",
			f.Circuit, f.Registered, span, f.Best.Label(), why)
	case f.Registered == 0:
		return fmt.Sprintf("circuit %s reads %s: most likely %s; the register gives no voltage", f.Circuit, span,
			f.Best.Label())
	}
	return fmt.Sprintf("circuit %s reads %s, as registered: most likely %s", f.Circuit, span, f.Best.Label())
}

// settles lists the measurements that would tell the candidates left apart.
func (f Finding) settles() []string {
	has := func(service string, nominal float64) bool {
		for _, c := range append([]Candidate{f.Best}, f.Alternatives...) {
			if c.Service == service && sameNominal(c.Nominal, nominal) {
				return true
			}
		}
		return false
	}
	var s []string
	if has(Wye208, 208) || has(HighLeg, 208) {
		s = append(s, "each line to neutral, and each line to line: 120 three times with 208 between lines is 208Y/120; 120, 120 and 208 with 240 between lines is a 240 delta with a high leg")
	}
	if has(SplitPhase, 240) || has(HighLeg, 240) {
		s = append(s, "count the line conductors and read all pairs: two lines with 120 to neutral are split phase; three lines with 240 between each are a delta")
	}
	if has(SplitPhase, 120) || has(Wye208, 120) {
		s = append(s, "line to line: 208 V is 208Y/120, 240 V is split phase or delta")
	}
	if has(Wye400, 230) && (has(SplitPhase, 240) || has(HighLeg, 240)) {
		s = append(s, "line to the other conductor and neutral, and the frequency: 230 V to neutral at 50 Hz is 230/400; 240 V with 120 V to neutral at 60 Hz is not")
	}
	if !f.Agrees || f.Confidence == "none" {
		s = append(s, "the voltage with the lights off: a sag under load goes away, a service's nominal stays",
			"the transformer's name plate or the supplier's contract")
	}
	return s
}
