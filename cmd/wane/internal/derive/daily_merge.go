package derive

import (
	"cmp"
	"slices"

	"wane/ingest/archive"
)

// sameShape says whether the columns of a part are those that it should have.
func sameShape(got, want []archive.Column) bool {
	return slices.EqualFunc(got, want, func(a, b archive.Column) bool { return a.Name == b.Name && a.Type == b.Type })
}

// mergeDays puts the rows of the days kept, out of a part as it was, among rows
// made anew. Both have the same columns, fixture and day first, and are in order
// of these; so is what it gives.
func mergeDays(old []archive.Column, kept map[int32]bool, fresh []archive.Column) []archive.Column {
	from := mergeOrder(old[0].Text, old[1].Int, kept, fresh[0].Text, fresh[1].Int)
	out := make([]archive.Column, len(fresh))
	each(len(fresh), func(i int) { out[i] = gather(&old[i], &fresh[i], from) })
	return out
}

// mergeOrder gives, for each row of the whole, where it comes from: row i of the
// old ones as i, row i of the fresh ones as ^i.
func mergeOrder(fixture []string, day []int64, kept map[int32]bool, newFixture []string, newDay []int64) []int {
	out := make([]int, 0, len(fixture)+len(newFixture))
	k := 0
	for i := range fixture {
		if !kept[int32(day[i])] {
			continue
		}
		for k < len(newFixture) && cmp.Or(cmp.Compare(newFixture[k], fixture[i]), cmp.Compare(newDay[k], day[i])) < 0 {
			out = append(out, ^k)
			k++
		}
		out = append(out, i)
	}
	for ; k < len(newFixture); k++ {
		out = append(out, ^k)
	}
	return out
}

func gather(old, fresh *archive.Column, from []int) archive.Column {
	out := archive.Column{Name: fresh.Name, Type: fresh.Type}
	switch {
	case fresh.Text != nil:
		out.Text = pick(old.Text, fresh.Text, from)
	case fresh.Float != nil:
		out.Float = pick(old.Float, fresh.Float, from)
	default:
		out.Int = pick(old.Int, fresh.Int, from)
	}
	if fresh.Valid != nil {
		out.Valid = pick(old.Valid, fresh.Valid, from)
	}
	return out
}

func pick[T any](old, fresh []T, from []int) []T {
	out := make([]T, len(from))
	for k, i := range from {
		if i >= 0 {
			out[k] = old[i]
		} else {
			out[k] = fresh[^i]
		}
	}
	return out
}
