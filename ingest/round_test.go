package ingest

import (
	"context"
	"slices"
	"testing"

	"wane/ingest/archive"
)

// Of files with the same content the first in order counts, whichever a core
// met first.
func TestSameContentInAnyOrder(t *testing.T) {
	for _, order := range [][]int{{0, 1, 2}, {0, 2, 1}, {1, 0, 2}, {1, 2, 0}, {2, 0, 1}, {2, 1, 0}} {
		folder := newSite(t, map[string]string{"a.csv": sheet, "b.csv": sheet, "c.csv": sheet})
		locked(t, folder, func(l *archive.Lock) {
			ctx := context.Background()
			imp, err := archive.Begin(l, archive.Options{Now: now})
			if err != nil {
				t.Fatal(err)
			}
			defer imp.Discard()
			files, _, err := find(Options{Site: folder}, nil)
			if err != nil {
				t.Fatal(err)
			}
			r := &round{imp: imp, now: now, progress: func(string) {}, summary: &Summary{}}
			r.offer(files)
			for _, i := range order {
				if err := r.file(ctx, i); err != nil {
					t.Fatal(err)
				}
			}
			if err := r.inOrder(ctx); err != nil {
				t.Fatal(err)
			}
			res, err := imp.Commit(ctx)
			if err != nil {
				t.Fatal(err)
			}
			if len(res.Files) != 1 || res.Files[0].Name != "a.csv" || res.Files[0].Stored != 2 {
				t.Errorf("%v: imported %+v", order, res.Files)
			}
			var again []string
			for _, k := range res.Again {
				again = append(again, k.Name)
			}
			if !slices.Equal(again, []string{"b.csv", "c.csv"}) || len(res.Left) > 0 {
				t.Errorf("%v: again %v, left %v", order, again, res.Left)
			}
		})
		sound(t, folder)
	}
}
