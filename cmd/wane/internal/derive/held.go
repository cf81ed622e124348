package derive

import (
	"context"
	"time"

	"wane/queries"
	"wane/transform/calendar"
)

// batch is parts that follow each other and wait to be made by one statement,
// with so many rows of days at most unless they are one part.
type batch struct {
	most, rows int64
	parts      []span
}

// How many days' levels are held at most, and of how many days the weeks are made
// at once.
const (
	levelsHeld      = 50_000
	daysOfWeeksHeld = 1_000_000 // three months of ten thousand fixtures
)

// batched adds a part, which is of some days, to those that wait; they are made
// first where it does not follow them or they are many.
func (n *night) batched(b *batch, s, of span, make func(batch) error) error {
	rows := int64(0)
	for _, p := range n.over(of.first, of.last, nil)[TableHours] {
		rows += p.Rows
	}
	if k := len(b.parts); k > 0 && (b.rows+rows > b.most || b.parts[k-1].last+1 != s.first) {
		if err := make(*b); err != nil {
			return err
		}
		b.parts, b.rows = nil, 0
	}
	b.parts, b.rows = append(b.parts, s), b.rows+rows
	return nil
}

// eachOf makes parts of what is held.
func (n *night) eachOf(some []span, table string,
	statement func(ctx context.Context, db *queries.DB, to string, first, last time.Time) error) error {
	for _, s := range some {
		_, err := n.d.Make(table, s.partition, s.key, func(to string) error {
			return statement(n.ctx, n.db, to, calendar.Date(s.first), calendar.Date(s.last))
		})
		if err != nil {
			return err
		}
	}
	return nil
}
