package circuits

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"time"

	"wane/queries"
	"wane/transform/fleet"
	"wane/transform/supply"
)

// Phases is the unbalance of one three-phase service.
type Phases struct {
	Service  string
	Circuits []string
	supply.Unbalance
}

// unbalances asks for each service whose phases site.yaml names.
func unbalances(ctx context.Context, db *queries.DB, q Asking,
	end time.Time) (out []Phases, missing string, err error) {
	phases := q.Site.Config.Supply.Phases
	if len(phases) == 0 {
		return nil, supply.NeedsPhases, nil
	}
	for _, name := range slices.Sorted(maps.Keys(phases)) {
		u, err := unbalanceOf(ctx, db, q.Site.Register, phases[name], end)
		if err != nil {
			return nil, "", err
		}
		out = append(out, Phases{name, phases[name], u})
	}
	return out, "", nil
}

func unbalanceOf(ctx context.Context, db *queries.DB, reg *fleet.Register, circuits []string,
	end time.Time) (supply.Unbalance, error) {
	var series [3][2]string
	var factor [3]float64
	for i, c := range circuits {
		var p *fleet.SensorPeriod
		for k := range reg.Sensors {
			if s := &reg.Sensors[k]; s.Quantity == fleet.SupplyV && s.Watches == c && s.Holds(end.Add(-time.Microsecond)) {
				p = s
			}
		}
		if p == nil {
			return supply.Unbalance{Why: fmt.Sprintf("no voltage series watches %s", c)}, nil
		}
		series[i], factor[i] = [2]string{p.Sensor, p.Channel}, p.Factor
	}
	rows, err := queries.SupplyPhases(ctx, db, series, end.UTC())
	if err != nil {
		return supply.Unbalance{}, err
	}
	hours := make([][3]float64, len(rows))
	for i, r := range rows {
		hours[i] = [3]float64{r.First * factor[0], r.Second * factor[1], r.Third * factor[2]}
	}
	return supply.UnbalanceOf(hours), nil
}
