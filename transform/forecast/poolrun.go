package forecast

import (
	"fmt"
	"slices"
)

// Sites is the sites of a group, to be fitted together on one machine.
type Sites struct {
	N        int
	Open     func(site int) (*Input, error) // reads a site; called for it again and again
	Defaults Defaults                       // what is assumed of lamp types; zero value: DefaultTable()
}

// RunPool fits the sites and hands each site's fit to take, one after the other: the
// memory is that of one site. As Run does, it fits again with the rooms that nobody
// ever cleaned taken for clean.
func RunPool(s Sites, take func(site int, f *Fit) error) (*Pool, error) {
	if s.Defaults.Classes == nil {
		s.Defaults = DefaultTable()
	}
	r := &poolRun{Sites: s, census: make([]Census, s.N)}
	soiled := false
	err := r.walk(func(i int, in *Input) (err error) {
		r.census[i], err = CensusOf(in)
		soiled = soiled || len(r.census[i].NeverCleaned) > 0
		return err
	})
	if err != nil {
		return nil, err
	}
	r.ways = append(r.ways, r.way(false))
	if soiled {
		r.ways = append(r.ways, r.way(true))
	}
	for k := range passes {
		if err := r.pass(k == passes-1, take); err != nil {
			return nil, err
		}
	}
	return r.ways[0].pool, nil
}

// poolRun is the fit of a group: as it is, and with rooms taken for clean.
type poolRun struct {
	Sites
	census []Census
	ways   []*poolWay
}

type poolWay struct {
	clean  bool
	pool   *Pool
	states []*SiteState
}

func (r *poolRun) way(clean bool) *poolWay {
	return &poolWay{clean, NewPool(r.Defaults, r.census), make([]*SiteState, r.N)}
}

// SiteError is a site that cannot be fitted.
type SiteError struct {
	Site int // its number among Sites
	Err  error
}

func (e *SiteError) Error() string { return fmt.Sprintf("site %d: %v", e.Site+1, e.Err) }
func (e *SiteError) Unwrap() error { return e.Err }

// walk opens one site after the other.
func (r *poolRun) walk(do func(i int, in *Input) error) error {
	for i := range r.N {
		in, err := r.Open(i)
		if err == nil {
			err = do(i, in)
		}
		if err != nil {
			return &SiteError{i, err}
		}
	}
	return nil
}

// input is a site as one way takes it.
func (r *poolRun) input(w *poolWay, i int, in *Input) *Input {
	if !w.clean || len(r.census[i].NeverCleaned) == 0 {
		return in
	}
	out := *in
	out.Clean = append(slices.Clone(in.Clean), r.census[i].NeverCleaned...)
	return &out
}

// pass is one pass of the fit; the last hands out the fits.
func (r *poolRun) pass(last bool, take func(int, *Fit) error) error {
	sums := make([]Sum, len(r.ways))
	err := r.walk(func(i int, in *Input) error {
		for k, w := range r.ways {
			s, err := w.pool.Reduce(r.input(w, i, in), w.states[i])
			if err != nil {
				return err
			}
			sums[k] = sums[k].Add(s)
		}
		return nil
	})
	if err != nil {
		return err
	}
	for k, w := range r.ways {
		if err := w.pool.Solve(sums[k]); err != nil {
			return err
		}
		sums[k] = nil
	}
	if last {
		return r.walk(func(i int, in *Input) error { return r.finish(i, in, take) })
	}
	err = r.walk(func(i int, in *Input) error {
		for k, w := range r.ways {
			state, s, err := w.pool.Follow(r.input(w, i, in), w.states[i])
			if err != nil {
				return err
			}
			w.states[i], sums[k] = state, sums[k].Add(s)
			w.pool.See(state)
		}
		return nil
	})
	if err != nil {
		return err
	}
	for k, w := range r.ways {
		w.pool.Update(sums[k])
	}
	return nil
}

// finish makes a site's fit.
func (r *poolRun) finish(i int, in *Input, take func(int, *Fit) error) error {
	var out *Fit
	for _, w := range r.ways {
		if w.clean && len(r.census[i].NeverCleaned) == 0 {
			continue
		}
		f, err := w.pool.Fit(r.input(w, i, in), w.states[i])
		if err != nil {
			return err
		}
		if w.clean {
			out.clean = f
		} else {
			out = f
		}
	}
	return take(i, out)
}
