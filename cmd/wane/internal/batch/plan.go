package batch

import (
	"context"

	"wane/cmd/wane/internal/pages/report"
	"wane/cmd/wane/internal/plans"
	"wane/cmd/wane/internal/sitefolder"
	"wane/queries"
	"wane/transform/due"
)

// addPlan makes the relamp plan for the report. What is wrong with its settings
// waits for a person; the plan is made for the rest.
func addPlan(ctx context.Context, db *queries.DB, s sitefolder.Site, r *due.Result, in *report.Input) (err error) {
	if in.Plan, err = plans.Nightly(ctx, db, s, r); err != nil {
		return err
	}
	for _, p := range s.Config.PlanFaults {
		in.Needs = append(in.Needs, report.Need{Where: p.File, What: p.What, Do: p.Do, Link: "plan.html"})
	}
	return nil
}
