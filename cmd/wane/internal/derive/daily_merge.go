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

// dayRows is rows of table daily and which days of them count; nil: all.
type dayRows struct {
	cols []archive.Column
	days map[int32]bool
}

// place is where a row of the whole comes from.
type place struct{ from, row int32 }

// mergeDays puts together the rows that count. All have the same columns, fixture
// and day first, and are in order of these; so is what it gives. No day counts
// in two of them.
func mergeDays(parts []dayRows) []archive.Column {
	places := mergeOrder(parts)
	out := make([]archive.Column, len(parts[0].cols))
	each(len(out), func(i int) { out[i] = gather(parts, i, places) })
	return out
}

// mergeOrder gives the place of each row of the whole.
func mergeOrder(parts []dayRows) []place {
	next := make([]int, len(parts))
	rows := 0
	skip := func(k int) { // to the next row that counts
		for day := parts[k].cols[1].Int; next[k] < len(day) && parts[k].days != nil && !parts[k].days[int32(day[next[k]])]; {
			next[k]++
		}
	}
	for k, p := range parts {
		rows += p.cols[0].Len()
		skip(k)
	}
	out := make([]place, 0, rows)
	for {
		least := -1
		for k, p := range parts {
			i := next[k]
			if i == p.cols[0].Len() {
				continue
			}
			if least < 0 || cmp.Or(cmp.Compare(p.cols[0].Text[i], parts[least].cols[0].Text[next[least]]),
				cmp.Compare(p.cols[1].Int[i], parts[least].cols[1].Int[next[least]])) < 0 {
				least = k
			}
		}
		if least < 0 {
			return out
		}
		out = append(out, place{int32(least), int32(next[least])})
		next[least]++
		skip(least)
	}
}

// gather makes column i of the whole.
func gather(parts []dayRows, i int, places []place) archive.Column {
	out := archive.Column{Name: parts[0].cols[i].Name, Type: parts[0].cols[i].Type}
	switch out.Type {
	case archive.String:
		out.Text = pick(parts, places, func(p dayRows) []string { return p.cols[i].Text })
	case archive.Float64:
		out.Float = pick(parts, places, func(p dayRows) []float64 { return p.cols[i].Float })
	default:
		out.Int = pick(parts, places, func(p dayRows) []int64 { return p.cols[i].Int })
	}
	if slices.ContainsFunc(parts, func(p dayRows) bool { return p.cols[i].Valid != nil }) { // a part without rows has none
		out.Valid = pick(parts, places, func(p dayRows) []bool { return p.cols[i].Valid })
	}
	return out
}

func pick[T any](parts []dayRows, places []place, of func(dayRows) []T) []T {
	from := make([][]T, len(parts))
	for k := range parts {
		from[k] = of(parts[k])
	}
	out := make([]T, len(places))
	for k, p := range places {
		out[k] = from[p.from][p.row]
	}
	return out
}
