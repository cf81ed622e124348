package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"wane/ingest"
	"wane/ingest/archive"
	"wane/ingest/register"
	"wane/ingest/site"
	"wane/ingest/surveysheet"
	"wane/transform/survey"
	"wane/transform/survey/surveys"
)

func surveyAddCommand(e env) *cobra.Command {
	c := &cobra.Command{
		Use:   "add FILE|-",
		Short: "take a survey in: a sheet as you keep it (.xlsx or text), the plain form, or a pasted grid",
		Long: `add takes canopy surveys in. FILE, or standard input for -, is one of
  - the plain form (` + surveysheet.Header() + `);
  - a grid: a line of numbers for each row, parted by tabs, semicolons, spaces or
    commas, a spot that was not read written as -;
  - a sheet as people keep it, .xlsx or text: one grid or several, with titles,
    labels of rows and columns (R1, C1, A, B), averages at the edge, and cells such
    as Date, Fixture, Height, Supply, Power, Warm-up, Meter. What was understood is
    printed; what is missing or can be read two ways is asked for.

A bare grid needs --fixture; its name, time and height may be given too. A flag
goes before what the sheet says. What stood beside the survey and has no column in
the plain form (supply, power, warm-up, ambient, sensor, spacing) goes into
register/surveys.csv, where it can be corrected. A survey that cannot be read
changes nothing.`,
		Example: `  wane survey add sheet.csv
  wane survey add - --fixture LED1-A01 --at 2025-03-01T21:00 --height 1.2 --power 640 < grid.txt`,
		Args: exactly(1),
		RunE: func(c *cobra.Command, args []string) error { return runSurveyAdd(c, e, args[0]) },
	}
	f := c.Flags()
	f.String("survey", "", "name of the survey (default: the fixture and the date)")
	f.String("fixture", "", "fixture that was surveyed")
	f.String("at", "", "when: 2025-03-01T21:00 at the site, an RFC 3339 time, or a date for its noon (default: now)")
	f.Float64("height", 0, "from the light's lower edge to the sensor, m (default: that of site.yaml)")
	f.Int("rows", 0, "rows of the grid, to be held to")
	f.Int("columns", 0, "columns of the grid, to be held to")
	f.Float64("supply", 0, "voltage at the fixture, V")
	f.Float64("power", 0, "power into the fixture, W")
	f.Float64("warm-up", 0, "minutes at full power before the first reading")
	f.Float64("ambient", 0, "air temperature, degrees Celsius")
	f.String("sensor", "", "the sensor that read the spots")
	f.StringArray("spots", nil, `spots read with another sensor, such as "11-15=Q2"; may be repeated`)
	f.Float64("spacing", 0, "distance between spots, m (default: that of site.yaml)")
	f.Float64("footprint", 0, "area that the grid stands for, m2")
	f.String("note", "", "anything worth keeping")
	f.Int("grid", 0, "take only this one of the grids of a sheet, counted from 1")
	return c
}

func runSurveyAdd(c *cobra.Command, e env, file string) error {
	o, err := openSite(c)
	if err != nil {
		return err
	}
	data, err := readOrStdin(e, file)
	if err != nil {
		return err
	}
	list, data, err := o.readSurvey(c, e, file, data)
	if err != nil {
		return err
	}
	fresh, err := o.fresh(list)
	if err != nil {
		return err
	}
	if err := o.keepBeside(c, list); err != nil {
		return err
	}
	if !fresh {
		fmt.Fprintf(c.OutOrStdout(), "survey %s was taken in before, spot for spot: nothing to do\n", list[0].ID)
		return nil
	}
	got, err := o.takeSheet(c, e, list[0].ID, data)
	if err != nil {
		return err
	}
	if err := o.tellAdded(c, list); err != nil {
		return err
	}
	return person(got.NeedsPerson())
}

func readOrStdin(e env, file string) (data []byte, err error) {
	if file == "-" {
		data, err = io.ReadAll(io.LimitReader(e.stdin, surveysheet.MaxBytes+1))
	} else {
		data, err = os.ReadFile(file)
	}
	if err != nil {
		return nil, fmt.Errorf("read survey: %w", err)
	}
	return data, nil
}

// readSurvey reads any form and gives the sheet to keep. A plain form keeps its
// bytes; anything else is written out as one.
func (o *opened) readSurvey(c *cobra.Command, e env, file string, data []byte) ([]survey.Survey, []byte, error) {
	list, err := []survey.Survey(nil), error(nil)
	switch {
	case surveysheet.IsPlain(data):
		return o.readPlain(c, file, data)
	case surveysheet.IsBare(data):
		list, err = o.readBare(c, e, file, data)
	default:
		list, err = o.readSheet(c, e, file, data)
	}
	if err != nil {
		return nil, nil, err
	}
	var b bytes.Buffer
	if err := surveysheet.Write(&b, list); err != nil {
		return nil, nil, usageError{err}
	}
	return list, b.Bytes(), nil
}

// readPlain reads the plain form.
func (o *opened) readPlain(c *cobra.Command, file string, data []byte) ([]survey.Survey, []byte, error) {
	for _, f := range []string{"survey", "fixture", "at", "height", "rows", "columns", "grid"} {
		if c.Flags().Changed(f) {
			return nil, nil, usagef("%s is in the plain form and says --%s itself; take the flag out, or correct the sheet",
				file, f)
		}
	}
	res, err := surveysheet.ParsePlain(bytes.NewReader(data))
	list, err := o.usable(file, res, err)
	return list, data, err
}

// readBare reads a grid of nothing but numbers.
func (o *opened) readBare(c *cobra.Command, e env, file string, data []byte) ([]survey.Survey, error) {
	about, err := o.aboutGrid(c, e)
	if err != nil {
		return nil, err
	}
	res, err := surveysheet.ParseGrid(string(data), about)
	return o.usable(file, res, err)
}

// usable gives the surveys of a sheet, or says why none is.
func (o *opened) usable(file string, res surveysheet.Result, err error) ([]survey.Survey, error) {
	if err != nil {
		return nil, usageError{err}
	}
	if len(res.Surveys) == 0 {
		var b strings.Builder
		for _, r := range res.Rejects {
			if strings.HasPrefix(r.Reason, "line reads well") {
				continue // the line that does not is named
			}
			fmt.Fprintf(&b, "\n%s:%d: %s", file, r.Line, r.Reason)
		}
		return nil, usagef("no survey in it can be used; nothing was taken in:%s", b.String())
	}
	for _, s := range res.Surveys {
		if err := o.fixture(s.Fixture); err != nil {
			return nil, err
		}
	}
	return res.Surveys, nil
}

// aboutGrid is what the flags say of a pasted grid.
func (o *opened) aboutGrid(c *cobra.Command, e env) (s survey.Survey, err error) {
	get := func(name string) string {
		v, _ := c.Flags().GetString(name) // declared above: cannot fail
		return v
	}
	if s.Fixture = get("fixture"); s.Fixture == "" {
		return s, usagef("a pasted grid does not say which fixture it is of: give --fixture")
	}
	if err := o.fixture(s.Fixture); err != nil {
		return s, err
	}
	loc := o.Config.Location
	if s.TakenAt, err = moment(get("at"), e.now(), loc); err != nil {
		return s, err
	}
	if s.ID = get("survey"); s.ID == "" {
		s.ID = s.Fixture + "-" + s.TakenAt.In(loc).Format("2006-01-02")
	}
	s.HeightM = o.Config.Survey.HeightM
	if c.Flags().Changed("height") {
		if s.HeightM, err = c.Flags().GetFloat64("height"); err != nil {
			return s, err
		}
		if !(s.HeightM > 0 && s.HeightM <= 100) {
			return s, usagef("--height %g is not a height in metres from 0 to 100", s.HeightM)
		}
	}
	if s.Rows, err = c.Flags().GetInt("rows"); err != nil {
		return s, err
	}
	s.Cols, err = c.Flags().GetInt("columns")
	if s.Rows < 0 || s.Cols < 0 || s.Rows > survey.MaxSide || s.Cols > survey.MaxSide {
		return s, usagef("a grid of %d x %d spots is not possible; rows and columns count from 1 to %d",
			s.Rows, s.Cols, survey.MaxSide)
	}
	return s, err
}

// moment reads --at; a time without a zone is the site's.
func moment(text string, now time.Time, loc *time.Location) (time.Time, error) {
	if text == "" {
		return now.UTC().Truncate(time.Second), nil
	}
	if t, err := time.Parse(time.RFC3339, text); err == nil {
		return past(text, t, now)
	}
	for _, layout := range []string{"2006-01-02T15:04", "2006-01-02 15:04"} {
		if t, err := time.ParseInLocation(layout, text, loc); err == nil {
			return past(text, t.UTC(), now)
		}
	}
	if t, err := time.ParseInLocation("2006-01-02", text, loc); err == nil {
		return past(text, t.Add(12*time.Hour).UTC(), now)
	}
	return time.Time{}, usagef("--at %q is no time; write 2025-03-01T21:00, or a date", text)
}

func past(text string, t, now time.Time) (time.Time, error) {
	if t.After(now.Add(24 * time.Hour)) {
		return t, usagef("--at %s lies ahead; a survey is taken before it is written down", text)
	}
	return t, nil
}

// fresh says whether the surveys are new. One of the same name that says
// something else is refused: it would be a conflict on every spot.
func (o *opened) fresh(list []survey.Survey) (bool, error) {
	fresh := false
	err := o.view(func(a *archive.Archive) error {
		old, err := ingest.Surveys(a)
		if err != nil {
			return err
		}
		fresh = false
		for _, s := range list {
			known := false
			for _, x := range old {
				if x.ID != s.ID {
					continue
				}
				if !sameSheet(x, s) {
					return usagef("a survey %q of %s was taken in before and says something else; give this one a name of its own "+
						"with --survey", s.ID, x.Fixture)
				}
				known = true
			}
			fresh = fresh || !known
		}
		return nil
	})
	return fresh, err
}

func sameSheet(a, b survey.Survey) bool {
	if a.Fixture != b.Fixture || !a.TakenAt.Equal(b.TakenAt) || a.HeightM != b.HeightM || len(a.Spots) != len(b.Spots) {
		return false
	}
	for i := range a.Spots {
		p, q := a.Spots[i], b.Spots[i]
		if p.Row != q.Row || p.Col != q.Col || p.PPFD != q.PPFD {
			return false
		}
	}
	return true
}

// takeSheet puts the sheet into the inbox and takes it in by the ordinary path.
func (o *opened) takeSheet(c *cobra.Command, e env, id string, data []byte) (got *ingest.Summary, err error) {
	lock, err := o.acquire(e)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, lock.Release()) }()
	if err := os.MkdirAll(o.folder.Path("inbox"), 0o755); err != nil {
		return nil, err
	}
	path := o.folder.Path("inbox", "survey-"+plainName(id)+".csv")
	if _, err := os.Lstat(path); err == nil {
		return nil, fmt.Errorf("%s is in the way; take it in with `wane ingest`, or move it", path)
	}
	if err := site.WriteFile(path, data); err != nil {
		return nil, fmt.Errorf("write sheet: %w", err)
	}
	got, err = ingest.Import(c.Context(), lock, ingest.Options{Site: o.folder, Register: o.Register, Now: e.now(),
		Files: []string{path}, Progress: progress(c.ErrOrStderr())})
	if err != nil {
		return nil, err
	}
	if len(got.Left) > 0 {
		return nil, fmt.Errorf("the sheet was not taken in and lies in the inbox: %s", strings.Join(got.Left, "; "))
	}
	if err := os.Remove(path); err != nil { // kept byte for byte among the originals
		got.Undeleted = append(got.Undeleted, path)
	}
	return got, nil
}

// plainName makes a survey's name fit for a file.
func plainName(id string) string {
	s := strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' || r == '_' {
			return r
		}
		return '_'
	}, id)
	if len(s) > 80 {
		s = s[:80]
	}
	return s
}

// tellAdded says what the surveys added say.
func (o *opened) tellAdded(c *cobra.Command, list []survey.Survey) error {
	var err error
	if o.Beside, err = register.LoadSurveys(string(o.folder)); err != nil {
		return err
	}
	return o.view(func(a *archive.Archive) error {
		b, err := o.book(c, a)
		if err != nil {
			return err
		}
		w := c.OutOrStdout()
		for _, s := range list {
			e := b.Survey(s.ID)
			if e == nil {
				continue // said by book on stderr
			}
			n, err := b.Numbers(e)
			if err != nil {
				return err
			}
			fmt.Fprintf(w, "survey %s of %s: %d of %d spots, average %s\n", e.ID, e.Fixture, n.Read, n.Rows*n.Cols,
				interval(n.Average, 0, " umol/m2/s"))
			asks := b.Asks(e)
			for _, f := range e.Flags {
				if !slices.ContainsFunc(asks, func(a surveys.Asked) bool { return a.Words == f.Words }) {
					fmt.Fprintf(w, "  note: %s\n", f.Words)
				}
			}
			for _, k := range e.Corrections {
				if !k.Applied {
					fmt.Fprintf(w, "  note: %s\n", k.Words)
				}
			}
			for _, a := range asks {
				fmt.Fprintf(w, "  asked: %s\n", a)
			}
			for _, k := range n.Warnings {
				fmt.Fprintf(w, "  note: %s\n", k)
			}
		}
		fmt.Fprintf(w, "next: wane survey show %s; wane survey compare %s\n", list[0].ID, list[0].Fixture)
		return nil
	})
}
