package surveysheet

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
)

// above gives a list what stands over its header, where its own columns do not
// say it.
func (g *grids) above(f *Found, head int) {
	own, clock := f.Survey, f.Clock
	b := box{head, 0, len(g.sheet.Cells) - 1, 0}
	g.about(f, []box{b}, 0)
	s := &f.Survey
	if own.Fixture != "" {
		s.Fixture = own.Fixture
	}
	if own.ID != "" {
		s.ID = own.ID
	}
	if own.HeightM > 0 {
		s.HeightM = own.HeightM
	}
	if !clock.Day.IsZero() {
		f.Clock = clock
	}
}

// titled takes from titles what no cell of its own says: a date, a height.
func (g *grids) titled(f *Found) {
	if f.Clock.Day.IsZero() && !slices.ContainsFunc(f.Doubts, func(d string) bool { return strings.Contains(d, "--at") }) {
		g.datedBy(f, f.Titles)
		if f.Clock.Day.IsZero() {
			g.datedBy(f, f.Common)
		}
	}
	if f.Survey.HeightM == 0 {
		for _, t := range append(slices.Clone(f.Titles), f.Common...) {
			m := heightBefore.FindStringSubmatch(t)
			if m == nil {
				m = heightAfter.FindStringSubmatch(t)
			}
			if m == nil {
				continue
			}
			if v, err := quantity(m[1]+m[2], metres); err == nil && v > 0 {
				f.Survey.HeightM = v
				f.understood("height %g m", v)
				return
			}
		}
	}
}

// datedBy reads the day from titles that name one; two that name different days
// are a doubt.
func (g *grids) datedBy(f *Found, titles []string) {
	said := ""
	for _, t := range titles {
		for _, text := range dayInTitle.FindAllString(t, -1) {
			day, clock, err := parseDay(Cell{strings.TrimSpace(text)})
			switch {
			case err != nil:
				f.doubt("%q: %v", clip(t), err)
				return
			case said != "" && !day.Equal(f.Clock.Day):
				f.Clock = Clock{}
				f.doubt("the titles name two days, %q and %q: write Date: 2025-03-01 over the grid, or give --at", said, clip(text))
				return
			}
			if said == "" {
				said = clip(text)
				f.Clock.Day = day
				if clock != nil {
					f.Clock.Time, f.Clock.HasTime = *clock, true
				}
				f.understood("date %s", day.Format("2006-01-02"))
			}
		}
	}
}

const lengthInTitle = `([0-9]+(?:[.,][0-9]+)?) ?(mm|cm|m|ft|feet|inches|inch|in)(?:$|[^a-z0-9²/])`

const monthNames = `(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\.?`

var (
	dayInTitle = regexp.MustCompile(`(?i)(?:[0-9]{4}[-/][0-9]{1,2}[-/][0-9]{1,2}|[0-9]{1,2}[./-][0-9]{1,2}[./-][0-9]{4}|\b[0-9]{1,2}[ -]` + monthNames + `[ -][0-9]{4}|\b` +
		monthNames + ` [0-9]{1,2},? [0-9]{4})(?:[ T,]+[0-9]{1,2}:[0-9]{2}(?: ?[ap]m)?)?`)
	heightBefore = regexp.MustCompile(`(?i)\b(?:at|height|high|distance|hung|hoogte|höhe)(?: of)?[ :=]*` + lengthInTitle)
	heightAfter  = regexp.MustCompile(`(?i)\b` + lengthInTitle + `[ ,]*(?:above|over|below|under|from|high|up)`)
)

// Arrange makes a list of numbered spots a grid of rows and columns, row by row
// as the printed sheet counts them. It is false where they do not fit.
func (f *Found) Arrange(rows, cols int) bool {
	if !f.Numbered || rows < 1 || cols < 1 || f.Survey.Rows != rows*cols {
		return false
	}
	for i := range f.Survey.Spots {
		p := &f.Survey.Spots[i]
		n := p.Row - 1
		p.Row, p.Col = n/cols+1, n%cols+1
	}
	f.Survey.Rows, f.Survey.Cols, f.Numbered = rows, cols, false
	f.understood("numbered row by row over %d x %d", rows, cols)
	return true
}

// numberedAsks is what is asked where the numbers of the spots say not where they
// lie.
func (f *Found) NumberedAsks() string {
	return fmt.Sprintf("its %d spots are numbered, which says not how they lie: --rows and --columns; they are counted row by row, as on the sheet that wane survey sheet prints", f.Survey.Rows)
}
