package batch

import (
	"context"

	"wane/cmd/wane/internal/measures"
	"wane/cmd/wane/internal/pages/report"
	"wane/cmd/wane/internal/plans"
	"wane/cmd/wane/internal/sitefolder"
	"wane/queries"
	"wane/transform/due"
	"wane/transform/measure"
)

// mostWeighed is how many lives a site may have for its fit to be held until the plan
// is made: a larger one asks `wane measure`, so that the night needs no more memory.
const mostWeighed = 3000

// mostMeasured is how many measurements the plan's page asks for.
const mostMeasured = 3

// addPlan makes the relamp plan for the report. What is wrong with its settings
// waits for a person; the plan is made for the rest.
func addPlan(ctx context.Context, db *queries.DB, s sitefolder.Site, r *due.Result, in *report.Input) (err error) {
	if in.Plan, err = plans.Nightly(ctx, db, s, r); err != nil {
		return err
	}
	if r.Fit != nil {
		in.Measure = measure.Choose(measures.Gather(r, in.Plan, s.Config.Plan),
			measure.Limits{Count: mostMeasured, Paying: true})
		r.Fit, r.Fleet = nil, nil // the pages need neither
	}
	for _, p := range s.Config.PlanFaults {
		in.Needs = append(in.Needs, report.Need{Where: p.File, What: p.What, Do: p.Do, Link: "plan.html"})
	}
	return nil
}
