package main

import (
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"

	"github.com/spf13/cobra"

	"wane/ingest/surveysheet"
	"wane/transform/survey"
)

// readSheet reads a sheet as people keep it. It says what it understood, and
// asks for what is missing; nothing is taken in before all is settled.
func (o *opened) readSheet(c *cobra.Command, e env, file string, data []byte) ([]survey.Survey, error) {
	sheets, err := surveysheet.Sheets(data)
	if err != nil {
		return nil, usagef("%s: %v", file, err)
	}
	var found []surveysheet.Found
	for _, s := range sheets {
		f, err := surveysheet.Find(s)
		if err != nil {
			return nil, usagef("%s: %v", file, err)
		}
		found = append(found, f...)
	}
	if len(found) == 0 {
		return nil, usagef("%s: no grid of readings was found; a grid is two lines of numbers or more, a blank spot written as -", file)
	}
	k, err := c.Flags().GetInt("grid")
	if err != nil {
		return nil, err
	}
	if k < 0 || k > len(found) {
		return nil, usagef("--grid %d: the sheet holds %d", k, len(found))
	}
	if k > 0 {
		found = found[k-1 : k]
	}
	w := c.ErrOrStderr()
	var list []survey.Survey
	var asks []string
	for i := range found {
		f := &found[i]
		missing := o.complete(c, e, f, len(found) > 1)
		fmt.Fprintf(w, "grid %d at %s: %s\n", i+1, f.Where, strings.Join(f.Understood, "; "))
		for _, m := range missing {
			asks = append(asks, fmt.Sprintf("grid %d at %s: %s", i+1, f.Where, m))
		}
		list = append(list, f.Survey)
	}
	if len(asks) > 0 {
		hint := ""
		if len(found) > 1 {
			hint = "; with --grid K one grid at a time"
		}
		return nil, usagef("nothing was taken in; what the sheet leaves open, write into it or give by a flag%s:\n%s", hint,
			strings.Join(asks, "\n"))
	}
	return list, sameNames(list)
}

// sameNames refuses two surveys of one name.
func sameNames(list []survey.Survey) error {
	seen := map[string]bool{}
	for _, s := range list {
		if seen[s.ID] {
			return usagef("two grids of the sheet are survey %s; write Survey: NAME over each, or take them one by one with --grid and --survey", s.ID)
		}
		seen[s.ID] = true
	}
	return nil
}

// complete fills a found survey from the flags, the site and the sheet's titles,
// and gives what is still to be asked.
func (o *opened) complete(c *cobra.Command, e env, f *surveysheet.Found, several bool) (asks []string) {
	s, loc := &f.Survey, o.Config.Location
	flag := func(name string) (string, bool) {
		v, _ := c.Flags().GetString(name) // declared: cannot fail
		return v, c.Flags().Changed(name)
	}
	given := c.Flags().Changed("at")
	for _, d := range f.Doubts {
		if given && strings.Contains(d, "--at") || c.Flags().Changed("spacing") && strings.Contains(d, "--spacing") {
			continue
		}
		asks = append(asks, d)
	}
	if v, ok := flag("fixture"); ok {
		s.Fixture = v
	}
	for _, titles := range [][]string{f.Titles, f.Common} {
		if s.Fixture == "" {
			s.Fixture = o.fixtureIn(titles)
		}
	}
	if s.Fixture == "" {
		asks = append(asks, "which fixture it is of is not said: --fixture, or a cell \"Fixture: NAME\" over it")
	} else if err := o.fixture(s.Fixture); err != nil {
		asks = append(asks, err.Error())
	}
	switch v, ok := flag("at"); {
	case ok:
		at, err := moment(v, e.now(), loc)
		if err != nil {
			asks = append(asks, err.Error())
		}
		s.TakenAt = at
	case !f.Clock.Day.IsZero():
		s.TakenAt = f.Clock.In(loc)
		if _, err := past(s.TakenAt.In(loc).Format(time.DateOnly), s.TakenAt, e.now()); err != nil {
			asks = append(asks, err.Error())
		}
	case len(asks) == 0 || !slices.ContainsFunc(asks, func(a string) bool { return strings.Contains(a, "--at") }):
		asks = append(asks, "when it was taken is not said: --at, or a cell \"Date: 2025-03-01\" over it")
	}
	if c.Flags().Changed("height") {
		s.HeightM, _ = c.Flags().GetFloat64("height")
	}
	if s.HeightM == 0 {
		s.HeightM = o.Config.Survey.HeightM
	}
	if s.HeightM < 0 || s.HeightM > 100 {
		asks = append(asks, fmt.Sprintf("height %g m is not from 0 to 100", s.HeightM))
	}
	asks = append(asks, o.arranged(c, f)...)
	if v, ok := flag("survey"); ok && !several {
		s.ID = v
	}
	if s.ID == "" && s.Fixture != "" && !s.TakenAt.IsZero() {
		s.ID = s.Fixture + "-" + s.TakenAt.In(loc).Format(time.DateOnly)
	}
	if len(asks) == 0 {
		if err := s.Check(); err != nil {
			asks = append(asks, err.Error())
		}
	}
	return asks
}

// arranged lays numbered spots out as the flags say, or as the rig's grid does;
// any other grid is held to what the flags declare.
func (o *opened) arranged(c *cobra.Command, f *surveysheet.Found) []string {
	if f.Numbered {
		rows, _ := c.Flags().GetInt("rows")
		cols, _ := c.Flags().GetInt("columns")
		rig := o.Config.Rig()
		if !f.Arrange(rows, cols) && (rows > 0 || cols > 0 || !f.Arrange(rig.Rows, rig.Columns)) {
			return []string{f.NumberedAsks()}
		}
	}
	return o.heldTo(c, &f.Survey)
}

// heldTo holds a grid to the rows and columns that the flags declare.
func (o *opened) heldTo(c *cobra.Command, s *survey.Survey) (asks []string) {
	for _, side := range []struct {
		flag string
		n    int
	}{{"rows", s.Rows}, {"columns", s.Cols}} {
		if want, _ := c.Flags().GetInt(side.flag); want > 0 && want != side.n {
			asks = append(asks, fmt.Sprintf("%d %s were found, --%s says %d; mark spots that were not read with -", side.n,
				side.flag, side.flag, want))
		}
	}
	return asks
}

// fixtureIn finds the one fixture that the titles name as a word; none where
// they name two.
func (o *opened) fixtureIn(titles []string) string {
	name := ""
	for _, t := range titles {
		for _, word := range strings.FieldsFunc(t, func(r rune) bool {
			return unicode.IsSpace(r) ||
				strings.ContainsRune(",;:()\"'", r)
		}) {
			if o.Register.Fixture(word) == nil || word == name {
				continue
			}
			if name != "" {
				return ""
			}
			name = word
		}
	}
	return name
}
