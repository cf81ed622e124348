package derive

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"wane/ingest/archive"
)

// assemble writes the parts that the orders came to.
func assemble(t *rapid.T, dir string, rolled []Rolled) (made []Part) {
	by := map[string][]Rolled{}
	for _, r := range rolled {
		by[r.Partition] = append(by[r.Partition], r)
	}
	for _, partition := range sortedKeys(by) {
		var b bytes.Buffer
		all := by[partition]
		if len(all) > 1 {
			twice := append(slices.Clone(all), all[0])
			for _, some := range [][]Rolled{slices.Clone(all[1:]), slices.Clone(all[:len(all)-1]), twice} {
				if whole, err := WriteRolled(&b, some); whole || err != nil || b.Len() > 0 {
					t.Fatalf("%d of %d orders make a whole part, %v", len(some), len(all), err)
				}
			}
		}
		if whole, err := WriteRolled(&b, all); !whole || err != nil {
			t.Fatalf("the part is not whole: %v", err)
		}
		sum := sha256.Sum256(b.Bytes())
		p := Part{partition, all[0].Key, filepath.Join(dir, fmt.Sprint(len(made))), hex.EncodeToString(sum[:])}
		if err := os.WriteFile(p.Path, b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		made = append(made, p)
	}
	return made
}

// Orders of any number of fixtures, done in any order, make the parts that the
// plain roll-up makes, byte for byte; what is not offered, or is of what there was
// before, is rolled up as ever.
func TestOrdersMakeTheSameParts(t *testing.T) {
	dir := t.TempDir()
	runs := 0
	rapid.Check(t, func(t *rapid.T) {
		runs++
		n := newNights(t, filepath.Join(dir, fmt.Sprint(runs)))
		defer func() {
			if err := n.lock.Release(); err != nil {
				t.Error(err)
			}
			os.RemoveAll(string(n.folder))
		}()
		for range rapid.IntRange(1, 6).Draw(t, "steps") {
			n.step()
			if rapid.IntRange(0, 2).Draw(t, "rolled up") == 0 {
				n.rollUp()
			}
		}
		a, err := archive.Open(n.lock.Dir())
		if err != nil {
			t.Fatal(err)
		}
		most := rapid.IntRange(1, 4).Draw(t, "fixtures an order")
		todo := rapid.Permutation(orders(a, n.site, n.fewest, most)).Draw(t, "orders")
		var rolled []Rolled
		for _, o := range todo {
			some, err := o.Roll(a, n.site)
			if err != nil {
				t.Fatal(err)
			}
			rolled = append(rolled, some...)
		}
		made := assemble(t, string(n.folder), rolled)
		late := rapid.IntRange(0, 2).Draw(t, "late") == 0
		if late {
			n.step()
		}
		lost := rapid.IntRange(0, 3).Draw(t, "lost")
		if lost < len(made) {
			whole, err := os.ReadFile(made[lost].Path)
			if err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(made[lost].Path, whole[:len(whole)-1], 0o600); err != nil {
				t.Fatal(err)
			}
		}
		_, days, err := rollUp(context.Background(), n.lock, n.site, n.fewest, made...)
		if err != nil {
			t.Fatal(err)
		}
		if !late && lost >= len(made) && len(days) > 0 {
			t.Fatalf("%v were rolled up, though all parts were offered", days)
		}
		_, got := n.rollUp()
		if err := archive.DropDerived(n.lock); err != nil {
			t.Fatal(err)
		}
		if _, want := n.rollUp(); got != want {
			t.Fatalf("by orders:\n%s\nplain:\n%s", got, want)
		}
	})
}
