package circuits

import (
	"context"
	"fmt"
	"sort"
	"time"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"wane/queries"
	"wane/transform/estimate"
	"wane/transform/fleet"
	"wane/transform/supply"
)

// Unbalance is the unbalance of one three-phase service, from hourly means.
type Unbalance struct {
	Service  string
	Circuits []string
	Hours    int
	// Median and P95 of NEMA MG 1's definition, per cent; Negative is the median
	// of the IEC's.
	Median, P95, Negative estimate.Estimate
	Why                   string // why nothing is known
}

// needsPhases says what unbalance would take.
const needsPhases = "unbalance cannot be told: it takes the three line-to-line voltages of one service at the same times; log them and name their circuits in site.yaml under supply: phases"

func unbalance(ctx context.Context, db *queries.DB, q Asking, end time.Time) ([]Unbalance, string, error) {
	phases := q.Site.Config.Supply.Phases
	if len(phases) == 0 {
		return nil, needsPhases, nil
	}
	var names []string
	for n := range phases {
		names = append(names, n)
	}
	sort.Strings(names)
	var out []Unbalance
	for _, n := range names {
		u, err := oneUnbalance(ctx, db, q, n, phases[n], end)
		if err != nil {
			return nil, "", err
		}
		out = append(out, u)
	}
	return out, "", nil
}

func oneUnbalance(ctx context.Context, db *queries.DB, q Asking, name string, circuits []string, end time.Time) (Unbalance, error) {
	u := Unbalance{Service: name, Circuits: circuits}
	var series [3][2]string
	var factor [3]float64
	for i, c := range circuits {
		var p *fleet.SensorPeriod
		for k := range q.Site.Register.Sensors {
			if s := &q.Site.Register.Sensors[k]; s.Quantity == fleet.SupplyV && s.Watches == c && s.Holds(end.Add(-time.Microsecond)) {
				p = s
			}
		}
		if p == nil {
			u.Why = fmt.Sprintf("no voltage series watches %s", c)
			return u, nil
		}
		series[i], factor[i] = [2]string{p.Sensor, p.Channel}, p.Factor
	}
	rows, err := queries.SupplyPhases(ctx, db, series, end.UTC())
	if err != nil {
		return u, err
	}
	var dev, neg []float64
	for _, r := range rows {
		a, b, c := r.First*factor[0], r.Second*factor[1], r.Third*factor[2]
		d, err := supply.MaxDeviation(a, b, c)
		if err != nil {
			continue // a dead phase is an interruption, not an unbalance
		}
		dev = append(dev, d)
		if n, err := supply.NegativeSequence(a, b, c); err == nil {
			neg = append(neg, n)
		}
	}
	u.Hours = len(dev)
	if u.Hours == 0 {
		u.Why = "no hour in which all three were read above 0 V"
		return u, nil
	}
	u.Median, u.P95 = point(dev, .5, "NEMA MG 1: largest deviation from the mean over the mean"), point(dev, .95, "NEMA MG 1")
	u.Negative = point(neg, .5, "IEC: negative over positive sequence")
	return u, nil
}

// point gives a quantile with the interval between order statistics.
func point(v []float64, q float64, method string) estimate.Estimate {
	if len(v) == 0 {
		return estimate.None(method, "the three voltages close no triangle at any hour: they are not line to line")
	}
	s := append([]float64(nil), v...)
	sort.Float64s(s)
	n := float64(len(s))
	k := n * q
	at := func(p float64) float64 { return stat.Quantile(p, stat.Empirical, s, nil) }
	lo := distuv.Beta{Alpha: k, Beta: n - k + 1}.Quantile((1 - level95) / 2)
	hi := distuv.Beta{Alpha: k + 1, Beta: n - k}.Quantile((1 + level95) / 2)
	return estimate.Estimate{Centre: at(q), Lo: at(lo), Hi: at(hi), Level: level95, N: len(s), Method: method + fmt.Sprintf(", %.0f %% point of hourly means", 100*q)}
}
