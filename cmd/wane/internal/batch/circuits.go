package batch

import (
	"context"

	"wane/cmd/wane/internal/circuits"
	"wane/cmd/wane/internal/pages/report"
	"wane/cmd/wane/internal/sitefolder"
	"wane/queries"
	"wane/transform/due"
)

// addInstruments gives the pages what the lab's own two instruments say: the
// canopy surveys and the circuits' voltages, as of the day of the result.
func addInstruments(ctx context.Context, db *queries.DB, s sitefolder.Site, r *due.Result,
	in *report.Input) (err error) {
	in.Surveys = r.Surveys
	in.Supply, err = circuits.Gather(ctx, db, circuits.Asking{Site: sitefolder.Site{Config: s.Config,
		Register: r.Register}, Lives: r.Lives, AsOf: r.AsOf})
	return err
}
