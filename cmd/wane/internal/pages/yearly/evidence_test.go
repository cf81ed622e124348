package yearly

import (
	"archive/zip"
	"bytes"
	"slices"
	"testing"

	"wane/transform/yearly"
)

// The evidence against one maker holds its own claims and nobody else's, the
// same bytes each time.
func TestEvidenceIsOneFileAMake(t *testing.T) {
	claims := []yearly.Claim{{Fixture: "A", LampLife: 1, Make: "Invented-P"},
		{Fixture: "B", LampLife: 2, Make: "Invented/K"}, {Fixture: "C", LampLife: 1, Make: "Invented-P"}}
	make := func() map[string][]byte {
		files := map[string][]byte{"warranty/lamp-A-life1/claim.json": []byte("a"),
			"warranty/lamp-B-life2/claim.json": []byte("b"), "warranty/lamp-C-life1/levels.csv": []byte("c"),
			"index.html": []byte("x")}
		if err := byMake(files, claims); err != nil {
			t.Fatal(err)
		}
		return files
	}
	files, again := make(), make()
	want := map[string][]string{
		"warranty/evidence-Invented-P.zip": {"claims.csv", "lamp-A-life1/claim.json", "lamp-C-life1/levels.csv"},
	}
	for _, m := range makesOf(claims) {
		if m.name == "Invented/K" {
			want[m.file] = []string{"claims.csv", "lamp-B-life2/claim.json"}
		}
	}
	if len(want) != 2 {
		t.Fatalf("files: %v", want)
	}
	for name, inside := range want {
		data := files[name]
		if !bytes.Equal(data, again[name]) {
			t.Errorf("%s differs from one run to the next", name)
		}
		z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		var got []string
		for _, f := range z.File {
			got = append(got, f.Name)
		}
		if !slices.Equal(got, inside) {
			t.Errorf("%s holds %v, want %v", name, got, inside)
		}
	}
}

// A long table is cut where its file has all of it, and says by how much.
func TestLongTablesAreCutWhereAFileHasThem(t *testing.T) {
	long, bare, short := newTable("x", "", "", "A"), newTable("", "", "", "A"), newTable("y", "", "", "A")
	wide, seen := newTable("", "", "", "A"), newTable("", "", "", "A")
	seen.Open = true
	for range mostRows + 10 {
		long.add(text("row"))
		bare.add(text("row"))
		wide.add(text("a row that is wider than the page of a phone"))
		seen.add(text("a row that is wider than the page of a phone"))
	}
	short.add(text("row"))
	s := section{}
	for _, x := range []*table{long, bare, short, wide, seen} {
		s.table(x)
	}
	s.shorten()
	if len(long.Rows) != mostRows || long.More != 10 || len(bare.Rows) != mostRows+10 || bare.More != 0 ||
		len(short.Rows) != 1 {
		t.Errorf("%d and %d more, %d, %d", len(long.Rows), long.More, len(bare.Rows), len(short.Rows))
	}
	if bare.Fold || short.Fold || seen.Fold || !wide.Fold {
		t.Errorf("folded are %t, %t, %t, %t", bare.Fold, short.Fold, seen.Fold, wide.Fold)
	}
}
