package forecast

// Typical is what the group knows of lamps of one type, or of one make of it: how one
// that nobody has read yet will fade, without dirt, as far as makes and lots differ.
func (p *Pool) Typical(n Named) Posterior {
	m := p.m
	k := p.types[n.Type]
	at := 3 * k
	spread := m.spreadOfLots(k, 1)
	if x, ok := p.makes[n.Type+"\x00"+n.Make]; ok && n.Make != "" {
		at, spread = m.tMake+3*x.at, m.lotSpread(k, x.at)
	}
	law := m.law[k]
	out := Posterior{Class: n.Type, Tau: law.Tau, Memory: law.WanderMem / 1e4, Last: Seasoning, Power: m.h.power[k],
		WanderSD: m.h.rate[k] * max(m.t[at], .3*m.classSlope(k)), MostHours: p.most[k]}
	lamp := m.spreadOfLamps(k)
	for i := range 3 {
		out.Mean[i] = m.t[at+i]
		for j := 0; j <= i; j++ {
			out.Cov[i*(i+1)/2+j] = m.ct[(at+i)*m.nt+at+j]
		}
		out.Cov[i*(i+1)/2+i] += spread[i]*spread[i] + lamp[i]*lamp[i]
	}
	out.Past = []PastPoint{{Hours: Seasoning}, {Hours: Seasoning}}
	return out
}

// spreadOfLamps gives the spreads of lamps about their lot, at the type's slope.
func (m *model) spreadOfLamps(class int) [3]float64 {
	a, s := m.h.lamp[class], m.classSlope(class)
	return [3]float64{a[0] * s, a[1] * s, a[2]}
}

// Borrowed is how many lamps at other sites of the group a lamp leans on: of its lot,
// its make and its type.
type Borrowed struct{ Lot, Make, Type int }

// Borrowed tells it of each of Input.Lamps; nil where the site was fitted alone.
func (f *Fit) Borrowed() []Borrowed {
	p := f.m.opt.pool
	if p == nil {
		return nil
	}
	own := count(f.m.in)
	out := make([]Borrowed, len(f.m.in.Lamps))
	for i := range out {
		l, b := &f.m.in.Lamps[i], &out[i]
		b.Type = p.lamps[l.Class].n - own.Types[l.Class]
		if x, ok := p.makes[makeKey(l)]; ok {
			b.Make = x.n - own.Makes[makeKey(l)]
		}
		key := lotKey(l) + "\x00" + l.Make
		if x, ok := p.lots[key]; ok && l.Make != "" {
			b.Lot = x.n - own.Lots[key]
		}
	}
	return out
}
