package main

import (
	"time"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/measures"
	"wane/cmd/wane/internal/show"
	"wane/queries"
	"wane/transform/due"
	"wane/transform/measure"
)

// How far --back looks: measurements of the last backDays, at most backCount unless
// --count says otherwise, since each is a fit of the whole site.
const backDays, backCount = 400, 5

// runMeasureBack says what the last measurements were worth.
func runMeasureBack(c *cobra.Command, m measureAsked) error {
	count := backCount
	if c.Flags().Changed("count") {
		count = m.limits.Count
	}
	var past *measure.Past
	var asOf time.Time
	o, err := askFit(c, m, func(o *opened, res *derive.Asked, _ *queries.DB) (err error) {
		in := due.ToMeasure(res.Result, res.Fit, res.Fleet, o.Config.Plan)
		asOf = in.AsOf
		past, err = measure.LookBack(in, &res.Fleet.Input, backDays, count)
		return err
	})
	if err != nil {
		return err
	}
	if m.format != show.Text {
		return measures.BackTable(past).Print(c.OutOrStdout(), m.format)
	}
	p := measurePrinter(c.OutOrStdout(), o)
	p.line("What the last measurements at %s were worth to the due dates of %d lamps, by the record up to %s.",
		o.Config.Name, past.Lamps, asOf.Format(time.DateOnly))
	if len(past.Made) == 0 {
		p.line("No recalibration and no reading of a reference meter in the last %d days.", backDays)
		p.line("`wane measure` says what to measure next.")
		return p.err
	}
	for k := range past.Made {
		p.line("")
		p.line("%s", measures.BackName(&past.Made[k]))
		for _, words := range measures.BackWords(&past.Made[k]) {
			p.line("   %s", words)
		}
	}
	if past.Left > 0 {
		p.line("")
		p.line("%d older of the last %d days not looked at; --count %d looks at all.", past.Left, backDays,
			count+past.Left)
	}
	return endMeasure(p, measures.BackNotes())
}
