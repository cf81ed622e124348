package forecast

import (
	"fmt"
	"maps"
	"slices"
)

// Sites is the sites of a group, to be fitted together on one machine.
type Sites struct {
	N        int
	Open     func(site int) (*Input, error) // reads a site; called for it again and again
	Defaults Defaults                       // what is assumed of lamp types; zero value: DefaultTable()
}

// RunPool fits the sites and hands each site's fit to take, one after the other: the
// memory is that of one site.
func RunPool(s Sites, take func(site int, f *Fit) error) (*Pool, error) {
	j, kept := NewJoined(s.Defaults), make([]Kept, s.N)
	for step := range Steps {
		var said Said
		err := s.walk(func(i int, in *Input) error {
			next, x, err := j.Site(step, in, kept[i])
			kept[i], said = next, said.Add(x)
			return err
		})
		if err == nil {
			err = j.Group(step, said)
		}
		if err != nil {
			return nil, err
		}
	}
	err := s.walk(func(i int, in *Input) error {
		f, err := j.Fit(in, kept[i])
		if err != nil {
			return err
		}
		return take(i, f)
	})
	if err != nil {
		return nil, err
	}
	return j.Pool(), nil
}

// SiteError is a site that cannot be fitted.
type SiteError struct {
	Site int // its number among Sites
	Err  error
}

func (e *SiteError) Error() string { return fmt.Sprintf("site %d: %v", e.Site+1, e.Err) }
func (e *SiteError) Unwrap() error { return e.Err }

// walk opens one site after the other.
func (s Sites) walk(do func(i int, in *Input) error) error {
	for i := range s.N {
		in, err := s.Open(i)
		if err == nil {
			err = do(i, in)
		}
		if err != nil {
			return &SiteError{i, err}
		}
	}
	return nil
}

// Steps is how many steps the fit of a group takes: the census, and for each pass
// Reduce with Solve and, but for the last, Follow with Update.
const Steps = 2 * passes

// Joined is the fit of a group in Steps steps, each on whatever machine: Site at every
// site, then Group with what all of them said. As Run does, it fits twice where there
// are rooms that nobody ever cleaned: as they are, and taken for clean.
type Joined struct {
	defaults Defaults
	census   []Census
	pools    []*Pool // as it is; with such rooms taken for clean
}

// JoinedState is a Joined as plain data.
type JoinedState struct {
	Defaults Defaults
	Census   []Census
	Pools    []PoolState
}

// Kept is what a site keeps from one step to the next. It is plain data.
type Kept struct {
	NeverCleaned []string
	Found        *Found
	States       []SiteState // by pool; none before the first pass, and where no lamp has a week
}

// Said is what sites say to their group in a step. It adds up in any order, and is
// plain data.
type Said struct {
	Census []Census
	Sums   []Sum // by pool
	Seen   Seen
}

// Add adds what others said.
func (s Said) Add(o Said) Said {
	s.Census = append(s.Census, o.Census...)
	if len(s.Sums) == 0 {
		s.Sums = make([]Sum, len(o.Sums))
	}
	for k, x := range o.Sums {
		s.Sums[k] = s.Sums[k].Add(x)
	}
	s.Seen = s.Seen.add(o.Seen)
	return s
}

// Seen is how long sites saw lamps of each type burn.
type Seen struct {
	Most map[string]float64 // most hours seen
	Read map[string]bool    // whether any hangs where supply swings it not, or is read
}

func (s Seen) add(o Seen) Seen {
	out := Seen{maps.Clone(s.Most), maps.Clone(s.Read)}
	if out.Most == nil {
		out = Seen{map[string]float64{}, map[string]bool{}}
	}
	for c, h := range o.Most {
		out.Most[c] = max(out.Most[c], h)
		out.Read[c] = out.Read[c] || o.Read[c]
	}
	return out
}

// NewJoined begins. d is what is assumed of lamp types; zero value: DefaultTable().
func NewJoined(d Defaults) *Joined {
	if d.Classes == nil {
		d = DefaultTable()
	}
	return &Joined{defaults: d}
}

// State gives the Joined as plain data.
func (j *Joined) State() JoinedState {
	s := JoinedState{Defaults: j.defaults, Census: j.census}
	for _, p := range j.pools {
		s.Pools = append(s.Pools, p.State())
	}
	return s
}

// Joined takes up the fit where State left it.
func (s JoinedState) Joined() (*Joined, error) {
	j := &Joined{defaults: s.Defaults, census: s.Census}
	for _, x := range s.Pools {
		p := NewPool(j.defaults, j.census)
		if err := p.Restore(x); err != nil {
			return nil, err
		}
		j.pools = append(j.pools, p)
	}
	return j, nil
}

// Pool is what the group has learnt; nil before the first step.
func (j *Joined) Pool() *Pool {
	if len(j.pools) == 0 {
		return nil
	}
	return j.pools[0]
}

// Site does a step at a site.
func (j *Joined) Site(step int, in *Input, was Kept) (next Kept, said Said, err error) {
	if step == 0 {
		c, err := CensusOf(in)
		next.NeverCleaned, next.Found, c.Found = c.NeverCleaned, c.Found, nil
		return next, Said{Census: []Census{c}}, err
	}
	said.Sums = make([]Sum, len(j.pools))
	if step%2 == 1 {
		for k, p := range j.pools {
			if said.Sums[k], err = p.Reduce(was.input(k, in), was.state(k)); err != nil {
				return was, said, err
			}
		}
		return was, said, nil
	}
	next.NeverCleaned, next.Found = was.NeverCleaned, was.Found
	for k, p := range j.pools {
		state, sum, err := p.Follow(was.input(k, in), was.state(k))
		if err != nil {
			return was, said, err
		}
		if state != nil {
			next.States, said.Sums[k], said.Seen = append(next.States, *state), sum, state.Seen
		}
	}
	return next, said, nil
}

// Group takes what all sites said in a step.
func (j *Joined) Group(step int, said Said) error {
	if step == 0 {
		j.census = said.Census
		j.pools = []*Pool{NewPool(j.defaults, j.census)}
		if slices.ContainsFunc(j.census, func(c Census) bool { return len(c.NeverCleaned) > 0 }) {
			j.pools = append(j.pools, NewPool(j.defaults, j.census))
		}
		return nil
	}
	if len(said.Sums) == 0 {
		said.Sums = make([]Sum, len(j.pools)) // no site
	}
	for k, p := range j.pools {
		if step%2 == 0 {
			p.See(said.Seen)
			p.Update(said.Sums[k])
		} else if err := p.Solve(said.Sums[k]); err != nil {
			return err
		}
	}
	return nil
}

// Fit is a site's fit after the last step.
func (j *Joined) Fit(in *Input, kept Kept) (*Fit, error) {
	out, err := j.pools[0].Fit(in, kept.state(0))
	if err == nil && len(kept.NeverCleaned) > 0 {
		out.clean, err = j.pools[1].Fit(kept.input(1, in), kept.state(1))
	}
	return out, err
}

func (k Kept) state(pool int) *SiteState {
	if pool >= len(k.States) {
		return nil
	}
	return &k.States[pool]
}

// input is the site as a pool takes it.
func (k Kept) input(pool int, in *Input) *Input {
	out := *in
	if out.Found = k.Found; pool > 0 {
		out.Clean = append(slices.Clone(in.Clean), k.NeverCleaned...)
	}
	return &out
}
