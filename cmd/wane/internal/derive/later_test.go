package derive

import (
	"context"
	"testing"
	"time"

	"wane/ingest"
	"wane/ingest/archive"
)

// A fixture hung after the readings ended has no days, and keeps nobody else
// from having theirs.
func TestFixtureHungLater(t *testing.T) {
	folder, s := counterSite(t)
	s.Register.Fixtures[0].Installed = time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)
	l, err := archive.Acquire(folder.Path("archive"), archive.Holder{})
	if err != nil {
		t.Fatal(err)
	}
	defer l.Release()
	if _, err := ingest.Import(context.Background(), l,
		ingest.Options{Site: folder, Register: s.Register, Now: time.Date(2024, 6, 1, 0, 0, 0, 0, time.UTC)}); err != nil {
		t.Fatal(err)
	}
	a, err := Daily(context.Background(), l, s)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range a.Parts(TableDaily) {
		if p.Rows != 0 {
			t.Errorf("%s has %d rows", p.Path, p.Rows)
		}
	}
}
