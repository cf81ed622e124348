// Package batch is the nightly work, once, in the order in which data flows:
//
//  1. take the inbox and the sources' folders in (ingest),
//  2. roll readings up to days, and make hours, levels, weeks and due (derive),
//  3. hold series against their past, and look for steps nobody logged,
//  4. plan the relamping (plans),
//  5. write the plan's calendar and tables and the pages (report),
//  6. say what needs a person.
//
// Steps 4 and 5 read the whole history: a site may have them on a schedule of
// their own.
//
// The daemon, the nightly command, the demo and rebuild all call it. The run's
// time is an argument; there is no clock here.
package batch

import (
	"context"
	"errors"
	"fmt"
	"os"
	"sort"
	"time"

	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/pages/report"
	"wane/cmd/wane/internal/plans"
	"wane/cmd/wane/internal/sitefolder"
	"wane/ingest"
	"wane/ingest/archive"
	"wane/ingest/problem"
	"wane/ingest/site"
	"wane/queries"
	"wane/transform/due"
	"wane/transform/forecast"
	"wane/transform/suspect"
	"wane/transform/todo"
)

// Options is one run.
type Options struct {
	Folder   site.Folder
	Site     sitefolder.Site
	Now      time.Time     // of the run
	AsOf     int32         // last day that the report may use; 0: the last day with a reading
	Files    []string      // to take in instead of inbox and sources
	Skip     bool          // take nothing in
	NoReport bool          // plan and pages stay as they are
	Rolled   []derive.Part // of table daily, rolled up elsewhere
	Progress func(string)
}

// Outcome is what a run did.
type Outcome struct {
	Imported *ingest.Summary // nil where nothing was to be taken in
	Result   *due.Result     // nil where the archive holds no reading
	close    func() error    // ends the reading of the lives; nil where there is none

	Verified *ingest.Verified // the night's share; nil where nothing was to be taken in
	Mended   []string         // what was found damaged later and made anew
	Person   []string         // what needs a person, most urgent first

	Suspects []suspect.Finding // series that say something against their own past
	Pages    string            // the report's first page; "" where none was written
}

// Holder names the run in the lock file.
func Holder(now time.Time) archive.Holder {
	return archive.Holder{PID: os.Getpid(), Start: now, What: "wane"}
}

func (o Options) acquire() (*archive.Lock, error) {
	place, err := o.Site.Archive(o.Folder)
	if err != nil {
		return nil, err
	}
	return place.Acquire(Holder(o.Now))
}

// Run does the whole batch under the site's lock.
func Run(ctx context.Context, o Options) (out *Outcome, err error) {
	if o.Progress == nil {
		o.Progress = func(string) {}
	}
	lock, err := o.acquire()
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, lock.Release()) }()
	out = &Outcome{}
	if !o.Skip {
		o.Progress("verifying")
		if out.Verified, err = ingest.Verify(ctx, lock, o.Now); err != nil {
			return out, err
		}
		o.Progress("taking files in")
		if out.Imported, err = ingest.Import(ctx, lock, ingest.Options{Site: o.Folder, Register: o.Site.Register,
			Now: o.Now, Files: o.Files, Progress: o.Progress}); err != nil {
			return out, err
		}
	}
	err = out.fromReadings(ctx, lock, o)
	if errors.Is(err, archive.ErrDamaged) {
		o.Progress("making damaged parts again")
		mended, merr := ingest.Mend(ctx, lock)
		if merr != nil {
			return out, fmt.Errorf("%w, and cannot be made again: %w", err, merr)
		}
		out.Mended = append(out.Mended, mended...)
		err = out.fromReadings(ctx, lock, o)
	}
	return out, err
}

// fromReadings makes all that follows from what was taken in.
func (out *Outcome) fromReadings(ctx context.Context, lock *archive.Lock, o Options) (err error) {
	a, err := out.make(ctx, lock, o)
	if err != nil {
		return err
	}
	if out.close != nil {
		defer func() { err = errors.Join(err, out.close()) }()
	}
	out.Person = append(out.disk(), needs(o, out)...)
	if out.Result == nil || o.NoReport {
		return nil
	}
	o.Progress("writing pages")
	out.Pages = o.Folder.Path("reports", "index.html")
	return writePages(ctx, a, o, out)
}

// disk lists what was found that the disk has changed.
func (out *Outcome) disk() (list []string) {
	mended := out.Mended
	if v := out.Verified; v != nil {
		mended = append(mended[:len(mended):len(mended)], v.Mended...)
		for _, d := range v.Damaged {
			list = append(list, "damaged in the archive: "+d)
		}
	}
	if n := len(mended); n > 0 {
		list = append(list, fmt.Sprintf("damaged in the archive and made anew: %s; look after the disk: %s",
			count(n, "place"), problem.Few(mended, 4)))
	}
	return list
}

// writePages writes the report and the plan's files. One query engine serves
// all of them.
func writePages(ctx context.Context, a *archive.Archive, o Options, out *Outcome) (err error) {
	if err := a.Verify(); err != nil { // the query engine reads past the archive
		return err
	}
	db, err := queries.Open(ctx, derive.Tables(a), queries.Limits{})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	evidence, err := evidenceOf(ctx, a, db, o.Site, out.Result)
	if err != nil {
		return err
	}
	waiting, err := fileNeeds(a, o.Site, out.Result, out.Imported)
	if err != nil {
		return err
	}
	waiting = append(waiting, suspectPages(out.Suspects, o.Site.Config.Location)...)
	in := report.Input{Config: o.Site.Config, Result: out.Result, Evidence: evidence, Needs: waiting}
	if in.Years, err = yearsOf(o.Folder); err != nil {
		return err
	}
	if o.Site.Config.Invented {
		in.Invented = "Invented data: nobody measured any of this."
	}
	if err := addInstruments(ctx, db, o.Site, out.Result, &in); err != nil {
		return err
	}
	if err := addPlan(ctx, db, o.Site, out.Result, &in); err != nil {
		return err
	}
	out.Person = append(out.Person, in.Plan.Needs()...) // what the front page says must not exit as done
	// the plan's files first: its page links to them
	if err := plans.Write(o.Folder.Path("reports"), o.Site.Config.Name, in.Plan); err != nil {
		return err
	}
	return report.Write(o.Folder.Path("reports"), in)
}

// Derive brings the derived tables up to the archive, and nothing else.
func Derive(ctx context.Context, o Options) (err error) {
	lock, err := o.acquire()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, lock.Release()) }()
	a, err := derive.Daily(ctx, lock, o.Site)
	if err != nil {
		return err
	}
	made, err := derive.Make(ctx, lock, a, o.Site, derive.Making{})
	if err != nil {
		return err
	}
	return made.Close()
}

// make brings the derived tables up to the archive, and answers as of the day
// asked for.
func (out *Outcome) make(ctx context.Context, lock *archive.Lock, o Options) (*archive.Archive, error) {
	o.Progress("rolling readings up")
	a, err := derive.Daily(ctx, lock, o.Site, o.Rolled...)
	if err != nil {
		return nil, err
	}
	made, err := derive.Make(ctx, lock, a, o.Site, derive.Making{Fit: !o.NoReport, Progress: o.Progress})
	if err != nil {
		return nil, err
	}
	if made.Result == nil {
		return a, nil
	}
	out.Result, out.close, a = made.Result, made.Close, made.Archive
	if o.AsOf != 0 && o.AsOf != out.Result.AsOf {
		if err := made.Close(); err != nil {
			return nil, err
		}
		asked, err := derive.Ask(ctx, a, o.Site, due.Question{AsOf: o.AsOf, Fit: !o.NoReport})
		if err != nil {
			return nil, err
		}
		out.Result, out.close = asked.Result, asked.Close
	}
	if len(out.Result.Lives) > mostWeighed {
		out.Result.Fit, out.Result.Fleet = nil, nil
	}
	out.Suspects, err = suspectSeries(a, o, out.Result.AsOf)
	return a, err
}

// asking is what lamps ask a person for alike.
type asking struct {
	kind  todo.Kind
	rival forecast.Rival // of a question
}

// asked is what is asked for, in order, in words.
var asked = []struct {
	asking
	say string
}{
	{asking{kind: todo.Dark}, "dark and not replaced"},
	{asking{kind: todo.Under}, "under their threshold"},
	{asking{todo.Question, forecast.RivalDrift}, without(forecast.RivalDrift, "a recalibration or a reference reading")},
	{asking{todo.Question, forecast.RivalDirt}, without(forecast.RivalDirt, "a logged cleaning of some of them")},
	{asking{todo.Question, forecast.RivalStep}, without(forecast.RivalStep, "a word in the logbook")},
	{asking{todo.Question, forecast.RivalUnread}, without(forecast.RivalUnread, "a logger of it")},
}

func without(r forecast.Rival, settles string) string {
	return fmt.Sprintf("without a date, ageing cannot be told from %s (%s settles it)", r, settles)
}

// needs lists what only a person can settle.
func needs(o Options, out *Outcome) []string {
	var list []string
	if r := out.Result; r != nil {
		who := map[asking][]string{}
		var silent []string
		in := plans.Todo(r, nil)
		for i := range in.Lamps {
			l := &in.Lamps[i]
			a := asking{l.Kind(in.AsOf), l.Rival}
			who[a] = append(who[a], l.Fixture)
			if l.Silent > 0 {
				silent = append(silent, l.Fixture)
			}
		}
		for _, x := range asked {
			if f := who[x.asking]; len(f) > 0 {
				list = append(list, fmt.Sprintf("%s %s: %s", count(len(f), "lamp"), x.say, names(f)))
			}
		}
		if len(silent) > 0 {
			list = append(list, fmt.Sprintf("no reading for days from the loggers of %s: %s",
				count(len(silent), "fixture"), names(silent)))
		}
		list = append(list, r.Notes...)
		for _, q := range r.Questions {
			list = append(list, q.String())
		}
		list = append(list, suspectNeeds(out.Suspects, o.Site.Config.Location)...)
	}
	for _, p := range o.Site.Config.PlanFaults {
		list = append(list, p.String())
	}
	if out.Imported != nil {
		list = append(list, out.Imported.NeedsPerson()...)
	}
	return list
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// names lists a few names, in order, and counts the rest.
func names(list []string) string {
	sort.Strings(list)
	return problem.Few(list, 12)
}
