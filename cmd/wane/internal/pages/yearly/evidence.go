package yearly

import (
	"archive/zip"
	"bytes"
	"fmt"
	"slices"
	"strings"

	"wane/transform/yearly"
)

// madeBy is the claims against one maker, and the file that holds their
// evidence.
type madeBy struct {
	name, file string
	claims     []yearly.Claim
	folders    []string
}

// makesOf sorts the claims by make, in order of name.
func makesOf(claims []yearly.Claim) []*madeBy {
	by := map[string]*madeBy{}
	var out []*madeBy
	taken := map[string]bool{}
	for _, c := range claims {
		m := by[c.Make]
		if m == nil {
			m = &madeBy{name: c.Make}
			by[c.Make] = m
			out = append(out, m)
		}
		m.claims = append(m.claims, c)
		m.folders = append(m.folders, "warranty/"+folderName(c.Fixture, c.LampLife, taken))
	}
	slices.SortFunc(out, func(a, b *madeBy) int { return strings.Compare(a.name, b.name) })
	names := map[string]bool{}
	for _, m := range out {
		m.file = "warranty/evidence-" + strings.Replace(strings.TrimPrefix(folderName(m.name, 0, names), "lamp-"), "-life0",
			"", 1) + ".zip"
	}
	return out
}

// byMake adds a file a make that holds the folders of all its claims and a list
// of them, to be handed over alone. The same folders give the same bytes.
func byMake(files map[string][]byte, claims []yearly.Claim) error {
	for _, m := range makesOf(claims) {
		list := claimTable(&yearly.Summary{Claims: m.claims})
		data, err := list.bytes()
		if err != nil {
			return err
		}
		inside := map[string][]byte{"claims.csv": data}
		for name, body := range files {
			for _, folder := range m.folders {
				if rest, ok := strings.CutPrefix(name, folder+"/"); ok {
					inside[strings.TrimPrefix(folder, "warranty/")+"/"+rest] = body
				}
			}
		}
		if files[m.file], err = zipped(inside); err != nil {
			return fmt.Errorf("warranty evidence of %s: %w", m.name, err)
		}
	}
	return nil
}

// zipped packs files in order of name, with no time of their own.
func zipped(files map[string][]byte) ([]byte, error) {
	names := make([]string, 0, len(files))
	for n := range files {
		names = append(names, n)
	}
	slices.Sort(names)
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, n := range names {
		w, err := z.Create(n)
		if err != nil {
			return nil, err
		}
		if _, err := w.Write(files[n]); err != nil {
			return nil, err
		}
	}
	err := z.Close()
	return b.Bytes(), err
}
