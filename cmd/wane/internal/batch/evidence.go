package batch

import (
	"context"
	"fmt"
	"strings"
	"time"

	"wane/cmd/wane/internal/pages/report"
	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest"
	"wane/ingest/archive"
	"wane/queries"
	"wane/transform/calendar"
	"wane/transform/daily"
	"wane/transform/due"
	"wane/transform/fleet"
)

// evidenceOf gathers what each fixture's levels rest on: the files that hold
// its readings of light, and what was left out of them.
func evidenceOf(ctx context.Context, a *archive.Archive, db *queries.DB, s sitefolder.Site,
	r *due.Result) (map[string]report.Evidence, error) {
	left, err := queries.LeftOut(ctx, db, calendar.Date(0), calendar.Date(r.AsOf), "")
	if err != nil {
		return nil, err
	}
	out := map[string]report.Evidence{}
	for _, x := range left {
		e := report.Evidence{Read: int(x.Readings), Used: int(x.Usable)}
		for k, n := range []int64{x.Unlit, x.Daylight, x.Implausible, x.RunningUp, x.Edge, x.Stuck, x.OddDim,
			x.OddSupply, x.Shadowed} {
			if n > 0 {
				e.LeftOut = append(e.LeftOut, report.LeftOut{Reason: daily.Reason(k).String(), Count: int(n)})
			}
		}
		out[x.Fixture] = e
	}
	return out, addFiles(out, a, s)
}

// addFiles names the files that hold readings of what watched each fixture while
// it did.
func addFiles(out map[string]report.Evidence, a *archive.Archive, s sitefolder.Site) error {
	origins, err := ingest.OriginsOf(a)
	if err != nil {
		return err
	}
	for i := range s.Register.Fixtures {
		f := &s.Register.Fixtures[i]
		e := out[f.ID]
		for _, o := range origins.Behind(s.Register.Watched(f, fleet.PPFD), time.Time{}, time.Time{}) {
			e.Files = append(e.Files, report.File{Name: o.File.Name, SHA256: o.File.SHA256, Rows: int(o.Readings)})
		}
		if len(e.Files) > 0 {
			out[f.ID] = e
		}
	}
	return nil
}

// fileNeeds is what of the files waits for a person: what this round left
// where it was, and what the archive holds that no level uses.
func fileNeeds(a *archive.Archive, s sitefolder.Site, r *due.Result, taken *ingest.Summary) ([]report.Need, error) {
	var out []report.Need
	for _, q := range r.Questions {
		out = append(out, report.Need{Where: strings.Join(q.Fixtures, ", "), What: q.String()})
	}
	if taken != nil {
		for _, what := range taken.Left {
			out = append(out, report.Need{Where: "inbox", What: what})
		}
		for _, what := range taken.Notes {
			out = append(out, report.Need{Where: "sources", What: what})
		}
	}
	quarantined, err := a.Quarantined()
	if err != nil {
		return nil, err
	}
	rows := int64(0)
	for _, q := range quarantined {
		rows += q.Rows
	}
	if rows > 0 {
		out = append(out, report.Need{Where: "quarantine", What: fmt.Sprintf("%d rows did not pass", rows),
			Do: "look at them with `wane quarantine`"})
	}
	unknown, err := ingest.Unknown(a, s.Register)
	if err != nil {
		return nil, err
	}
	for _, name := range unknown {
		out = append(out, report.Need{Where: name, What: "the register does not know this series; its readings are kept",
			Do: "add it to register/sensors.csv; the next run uses it"})
	}
	return out, nil
}
