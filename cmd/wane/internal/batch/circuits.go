package batch

import (
	"context"
	"time"

	"wane/cmd/wane/internal/circuits"
	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/pages/report"
	"wane/ingest"
	"wane/ingest/archive"
	"wane/queries"
	"wane/transform/calendar"
	"wane/transform/survey/surveys"
)

// addInstruments gives the pages what the lab's own two instruments say: the
// canopy surveys and the circuits' voltages, as of the day of the result.
func addInstruments(ctx context.Context, a *archive.Archive, db *queries.DB, s derive.Site, r *derive.Result,
	in *report.Input) error {
	end := calendar.Start(r.AsOf+1, s.Config.Location).Add(-time.Microsecond)
	all, err := ingest.Surveys(a)
	if err != nil {
		return err
	}
	in.Surveys = surveys.Of(all, s.Config.Rig(), r.Register, s.Beside, end)
	in.Supply, err = circuits.Gather(ctx, db, circuits.Asking{Site: derive.Site{Config: s.Config,
		Register: r.Register}, Lives: r.Lives, AsOf: r.AsOf})
	return err
}
