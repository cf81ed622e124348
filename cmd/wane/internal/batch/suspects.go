package batch

import (
	"fmt"
	"time"

	"wane/cmd/wane/internal/pages/report"
	"wane/cmd/wane/internal/suspects"
	"wane/ingest/archive"
	"wane/transform/suspect"
)

// mostSuspects is how many suspicions a night tells one by one.
const mostSuspects = 8

// suspectSeries holds the last two weeks of every series against its past.
func suspectSeries(a *archive.Archive, o Options, last int32) ([]suspect.Finding, error) {
	found, err := suspects.Find(a, o.Site, last, suspects.Days)
	if err != nil {
		return nil, fmt.Errorf("hold series against their past: %w", err)
	}
	return found, nil
}

func suspectNeeds(found []suspect.Finding, loc *time.Location) []string {
	var list []string
	for i := range found {
		if i == mostSuspects {
			return append(list, fmt.Sprintf("%d more things about series; `wane check` lists them", len(found)-i))
		}
		list = append(list, found[i].Line(loc))
	}
	return list
}

func suspectPages(found []suspect.Finding, loc *time.Location) []report.Need {
	var out []report.Need
	for i := range found {
		f := &found[i]
		from, to := f.Dates(loc)
		out = append(out, report.Need{Where: f.Name(), What: fmt.Sprintf("%s (%s), %s to %s: %s", f.Kind, f.Sure,
			from, to, f.What), Do: f.Do})
	}
	return out
}
