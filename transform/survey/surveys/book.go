package surveys

import (
	"fmt"
	"math"
	"sort"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"wane/transform/fleet"
	"wane/transform/survey"
)

// Entry is one survey with what is known beside it.
type Entry struct {
	survey.Survey // as taken in, with conditions and geometry
	// Used is the survey after the declared corrections; the same as Survey
	// where none applied.
	Used        survey.Survey
	Corrections []survey.Correction
	Flags       []survey.Flag
	Visit       int  // index into Book.Visits
	Reference   bool // of the reference fixture
}

// Book is all surveys of a site as of a moment.
type Book struct {
	Entries   []*Entry          // in order of time
	Visits    []survey.Occasion // of the surveys as used
	Reference string            // the reference fixture, "" = none declared
	Notes     []string          // what was left out or does not fit
	rig       Rig
	reg       *fleet.Register
}

// Rig is the survey rig as the site declares it.
type Rig struct {
	Reference     string        // the fixture that is kept apart and surveyed on each visit; "" = none
	Visit         time.Duration // surveys so near each other are one visit
	Rows, Columns int
	survey.Geometry
	survey.Declared
	Uncertainty  survey.Uncertainty
	PhotoperiodH float64            // for the DLI; 0: that of the fixture's room
	RoomHours    map[string]float64 // lit hours a day by room, where the site states them
}

// Of makes the book of surveys, given in the order of taking in. Only those taken up to a moment count (zero: all).
// reg may be nil; notes are
// what stood beside each survey, by its name.
func Of(all []survey.Survey, rig Rig, reg *fleet.Register, notes map[string]*survey.Note, until time.Time) *Book {
	b := &Book{Reference: rig.Reference, rig: rig, reg: reg}
	joined := b.join(all)
	known := map[string]bool{}
	for _, s := range joined {
		known[s.ID] = true
		if !until.IsZero() && s.TakenAt.After(until) {
			continue
		}
		if err := b.complete(s, notes[s.ID]); err != nil {
			b.Notes = append(b.Notes, err.Error())
		}
	}
	for _, n := range sortedNotes(notes) {
		if !known[n.Survey] {
			b.Notes = append(b.Notes, fmt.Sprintf("%s line %d: no survey %q was taken in", n.File, n.Line, n.Survey))
		}
	}
	sort.SliceStable(b.Entries, func(i, j int) bool {
		x, y := b.Entries[i], b.Entries[j]
		if !x.TakenAt.Equal(y.TakenAt) {
			return x.TakenAt.Before(y.TakenAt)
		}
		return x.ID < y.ID
	})
	var used []survey.Survey
	for _, e := range b.Entries {
		used = append(used, e.Used)
	}
	b.Visits = survey.Occasions(used, b.Reference, rig.Visit)
	for _, e := range b.Entries {
		for v := range b.Visits {
			if !e.TakenAt.Before(b.Visits[v].From) && !e.TakenAt.After(b.Visits[v].To) {
				e.Visit = v
			}
		}
	}
	return b
}

// join makes one survey of those that bear one name. Sheets that agree add
// their spots up; a spot with two values is left out, as any reading with two
// values is; a sheet that speaks of another fixture, time or height is left out.
func (b *Book) join(all []survey.Survey) []survey.Survey {
	at := map[string]int{}
	var out []survey.Survey
	for _, s := range all {
		i, seen := at[s.ID]
		if !seen {
			at[s.ID] = len(out)
			s.Spots = append([]survey.Spot(nil), s.Spots...)
			out = append(out, s)
			continue
		}
		o := &out[i]
		if o.Fixture != s.Fixture || !o.TakenAt.Equal(s.TakenAt) || o.HeightM != s.HeightM {
			b.Notes = append(b.Notes, fmt.Sprintf("survey %q stands in two sheets that do not agree on fixture, time or height; the later sheet is not used: give it a name of its own", s.ID))
			continue
		}
		o.Rows, o.Cols = max(o.Rows, s.Rows), max(o.Cols, s.Cols)
		for _, p := range s.Spots {
			b.add(o, p)
		}
	}
	kept := out[:0]
	for _, s := range out {
		if len(s.Spots) > 0 {
			kept = append(kept, s)
		}
	}
	return kept
}

func (b *Book) add(s *survey.Survey, p survey.Spot) {
	for i, q := range s.Spots {
		if q.Row != p.Row || q.Col != p.Col {
			continue
		}
		if q.PPFD != p.PPFD {
			b.Notes = append(b.Notes, fmt.Sprintf("survey %q: row %d column %d reads %g in one sheet and %g in another; neither is used", s.ID, p.Row, p.Col, q.PPFD, p.PPFD))
			s.Spots = append(s.Spots[:i], s.Spots[i+1:]...)
		}
		return
	}
	s.Spots = append(s.Spots, p)
}

// complete adds conditions and geometry, and corrects.
func (b *Book) complete(s survey.Survey, n *survey.Note) error {
	rig := &b.rig
	s.Geometry = rig.Geometry
	rows, cols := s.Size()
	if s.Geometry.Uneven() && (len(s.Geometry.RowAtM) != rows || len(s.Geometry.ColAtM) != cols) {
		s.Geometry.RowAtM, s.Geometry.ColAtM = nil, nil // declared for another grid
	}
	if (rows != rig.Rows || cols != rig.Columns) && !s.Geometry.Uneven() {
		s.Geometry.DepthM, s.Geometry.WidthM, s.Geometry.FootprintM2 = 0, 0, 0
	}
	if n != nil {
		s.Conditions = n.Conditions
		if n.SpacingM > 0 {
			s.Geometry = survey.Geometry{SpacingM: n.SpacingM}
		}
		if len(n.RowAtM) == rows && len(n.ColAtM) == cols {
			s.Geometry = survey.Geometry{RowAtM: n.RowAtM, ColAtM: n.ColAtM}
		}
		if n.FootprintM2 > 0 {
			s.Geometry.FootprintM2 = n.FootprintM2
		}
		for i := range s.Spots {
			s.Spots[i].Sensor = n.Sensors[survey.Number(s.Spots[i].Row, s.Spots[i].Col, cols)]
		}
	}
	if err := s.Check(); err != nil {
		return fmt.Errorf("%w; it is not used", err)
	}
	e := &Entry{Survey: s, Flags: survey.Flags(s, rig.Declared), Reference: s.Fixture == b.Reference && b.Reference != ""}
	e.Used, e.Corrections = survey.Correct(s, rig.Declared)
	if rows != rig.Rows || cols != rig.Columns {
		e.Flags = append(e.Flags, survey.Flag{What: "grid",
			Words: fmt.Sprintf("grid %d x %d, the rig's is %d x %d: not comparable spot by spot", rows, cols, rig.Rows,
				rig.Columns)})
	}
	if b.reg != nil && b.reg.Fixture(s.Fixture) == nil {
		e.Flags = append(e.Flags, survey.Flag{What: "fixture",
			Words: fmt.Sprintf("fixture %s is not in the register", s.Fixture)})
	}
	b.Entries = append(b.Entries, e)
	return nil
}

func sortedNotes(m map[string]*survey.Note) []*survey.Note {
	var out []*survey.Note
	for _, n := range m {
		out = append(out, n)
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Line < out[j].Line })
	return out
}

// Survey finds an entry by its name.
func (b *Book) Survey(id string) *Entry {
	for _, e := range b.Entries {
		if e.ID == id {
			return e
		}
	}
	return nil
}

// Fixtures gives the fixtures surveyed, the reference fixture apart, in order.
func (b *Book) Fixtures() []string {
	seen := map[string]bool{}
	var out []string
	for _, e := range b.Entries {
		if !e.Reference && !seen[e.Fixture] {
			seen[e.Fixture] = true
			out = append(out, e.Fixture)
		}
	}
	sort.Strings(out)
	return out
}

// Of gives a fixture's surveys in order of time.
func (b *Book) Of(fixture string) []*Entry {
	var out []*Entry
	for _, e := range b.Entries {
		if e.Fixture == fixture {
			out = append(out, e)
		}
	}
	return out
}

// Model is what the register calls the fixture's make; "" where it says nothing.
func (b *Book) Model(fixture string) string {
	if b.reg == nil {
		return ""
	}
	if f := b.reg.Fixture(fixture); f != nil {
		return f.Model
	}
	return ""
}

// Photoperiod is the hours a day for the DLI: that of the rig, else that of the
// fixture's room; 0 = none.
func (b *Book) Photoperiod(fixture string) float64 {
	if h := b.rig.PhotoperiodH; h > 0 {
		return h
	}
	if b.reg != nil {
		if f := b.reg.Fixture(fixture); f != nil {
			return b.rig.RoomHours[f.Room]
		}
	}
	return 0
}

// Numbers gives what one survey says. Corrections by declared rules widen what
// is common to the survey by their own uncertainty.
func (b *Book) Numbers(e *Entry) (survey.Numbers, error) {
	return survey.Summarise(e.Used, survey.Options{Uncertainty: b.uncertainty(e), PhotoperiodH: b.Photoperiod(e.Fixture)})
}

// uncertainty is the declared one; a corrected survey's own part is larger by
// that of its corrections.
func (b *Book) uncertainty(es ...*Entry) survey.Uncertainty {
	u := b.rig.Uncertainty
	worst := 0.0
	for _, e := range es {
		v := 0.0
		for _, c := range e.Corrections {
			if f := c.Factor; c.Applied && f.Bounded() && f.Level > 0 && f.Level < 1 && f.Lo > 0 {
				v += math.Pow(math.Log(f.Hi/f.Lo)/(2*distuv.UnitNormal.Quantile(.5+f.Level/2)), 2)
			}
		}
		worst = math.Max(worst, v)
	}
	u.HangPct = math.Sqrt(u.HangPct*u.HangPct + 1e4*worst)
	return u
}
