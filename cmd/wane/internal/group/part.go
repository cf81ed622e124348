package group

import (
	"context"
	"errors"
	"fmt"

	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/plans"
	"wane/ingest/group"
	"wane/queries"
	"wane/transform/due"
	"wane/transform/forecast"
	"wane/transform/plan"
	"wane/transform/plan/spares"
)

// Part is a site opened for a step of the group's fit. It is to be closed.
type Part struct {
	site *Site
	now  *derive.Prepared
}

// Answer is what a site says by the group's fit. It is plain data.
type Answer struct {
	Site     Standing
	Lines    []due.Line
	Spares   []plan.SparesLine
	Failures map[string]spares.Forecast // by lamp type
}

// OpenPart opens a site of the group, as its last night left it. It does so for each step
// of a fit, so settings that are in a bucket are fetched only where those here do not go
// with what the night left: this machine has none yet, or old ones.
func OpenPart(ctx context.Context, f group.Folder, c group.Config, name string) (*Part, error) {
	for _, m := range c.Sites {
		if m.Name != name {
			continue
		}
		s := &Site{Member: m, Dir: f.Of(m)}
		why := s.open()
		if why != "" && m.Far() {
			if err := Fetch(f, c, m); err != nil {
				return nil, fmt.Errorf("%s; %w", why, err)
			}
			why = s.open()
		}
		if why != "" {
			return nil, errors.New(why)
		}
		return s.part(ctx, c.OwnLots)
	}
	return nil, fmt.Errorf("the group has no site %q", name)
}

// part reads what the fit sees of a site. A name of a lot that only this site means is
// made one of its own.
func (s *Site) part(ctx context.Context, ownLots bool) (*Part, error) {
	now, err := derive.Prepare(ctx, s.tab, *s.site)
	if err != nil {
		return nil, err
	}
	lamps := now.Input().Lamps
	for k := range lamps {
		if l := &lamps[k]; ownLots && l.Lot != "" {
			l.Lot = s.Name + "\x01" + l.Lot
		}
	}
	return &Part{s, now}, nil
}

// Close closes a part; of none it does nothing.
func (p *Part) Close() error {
	if p == nil {
		return nil
	}
	return p.now.Close()
}

// Input is the site as the fit sees it.
func (p *Part) Input() *forecast.Input { return p.now.Input() }

// Answer answers the site's lamps by the group's fit, and says what they cost.
func (p *Part) Answer(ctx context.Context, fit *forecast.Fit) (a Answer, err error) {
	s := p.site
	r, err := p.now.By(fit, s.cal)
	if err != nil {
		return a, err
	}
	a.Site = Standing{Site: s.Name, Name: s.site.Config.Name, AsOf: r.AsOf, Currency: s.site.Config.Plan.Currency}
	borrowed, from := fit.Borrowed(), map[lampLife]forecast.Borrowed{}
	for i := range r.Due {
		if p := r.Due[i].Posterior; p != nil && !p.Surveyed {
			from[lampLife{p.Fixture, p.Life}] = borrowed[p.Lamp]
		}
	}
	a.Lines = r.Lines()
	for i := range a.Lines {
		l := &a.Lines[i]
		k := lampLife{l.Fixture, l.LampLife}
		if b, ok := from[k]; ok && l.Status != forecast.StatusDark {
			l.Reason = joined(l.Reason, words(b, *l, s.alone[k]))
		}
		a.Site.count(*l)
	}
	db, err := queries.Open(ctx, derive.Tables(s.tab), queries.Limits{})
	if err != nil {
		return a, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	facts, err := plans.Gather(ctx, db, *s.site, r, s.site.Config.Plan, plans.Seed)
	if err != nil {
		return a, fmt.Errorf("gather the plan's facts: %w", err)
	}
	made := plan.Make(facts.Input)
	a.Site.cost(made)
	a.Spares, a.Failures = made.Spares, plan.FailuresOf(facts.Input)
	return a, nil
}
