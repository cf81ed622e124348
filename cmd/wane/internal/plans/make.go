package plans

import (
	"context"
	"fmt"

	"wane/cmd/wane/internal/sitefolder"
	"wane/queries"
	"wane/transform/due"
	"wane/transform/plan"
)

// Seed is that of the simulations where none is asked for.
const Seed = 1

// Made is a plan with what it was made from.
type Made struct {
	Facts
	Result plan.Result
	Beside *plan.Comparison // nil where it was not asked for
}

// Of makes the plan from facts.
func Of(f *Facts) *Made {
	m := &Made{Facts: *f, Result: plan.Make(f.Input)}
	m.Result.Assumptions = append(append([]string(nil), m.Result.Assumptions...), f.Assumed...)
	m.Result.Problems = append(append([]plan.Problem(nil), f.Problems...), m.Result.Problems...)
	return m
}

// Compare simulates the plan beside alternatives and the two habits.
func (m *Made) Compare(alts []plan.Alternative) {
	c := plan.WhatIf(m.Input, alts, 0)
	m.Beside = &c
}

// Nightly is the plan that the report shows: the site's own settings, beside
// the same with thresholds held as limits and the two habits.
func Nightly(ctx context.Context, db *queries.DB, s sitefolder.Site, res *due.Result) (*Made, error) {
	f, err := Gather(ctx, db, s, res, s.Config.Plan, Seed)
	if err != nil {
		return nil, fmt.Errorf("gather the plan's facts: %w", err)
	}
	m := Of(f)
	m.Compare([]plan.Alternative{Limit(f.Input)})
	return m, nil
}

// Limit is the alternative that treats the thresholds the other way: as limits
// where the plan takes them for advice, as advice where it holds them.
func Limit(in plan.Input) plan.Alternative {
	if in.Settings.Threshold == "limit" {
		in.Settings.Threshold = "advice"
		return plan.Alternative{Name: "thresholds as advice, cost decides", Input: in}
	}
	in.Settings.Threshold = "limit"
	return plan.Alternative{Name: "thresholds held as limits", Input: in}
}
