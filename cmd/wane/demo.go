package main

import (
	"fmt"
	"runtime/debug"
	"time"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/batch"
	"wane/cmd/wane/internal/demo"
	"wane/cmd/wane/internal/show"
	"wane/transform/calendar"
)

func demoCommand(e env) *cobra.Command {
	c := withFormat(&cobra.Command{
		Use:   "demo [DIR]",
		Short: "invent a site with three years of readings and run the main job on it",
		Long: `demo writes a site folder with invented rooms, fixtures, logger files and a
logbook, runs the ordinary nightly batch on it, and prints when each lamp is
due. All of its data are invented. The same seed and date give the same files.

With --live it invents a site that is measured now instead: a broker, a meter and
a logger on 127.0.0.1, from which it collects for two minutes (or --for so long,
ten minutes at most) as the daemon does, and then runs a night on what came.`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) > 1 {
				return usagef("demo takes at most one folder")
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			now, err := c.Flags().GetBool("live")
			if err != nil {
				return err
			}
			dir := "demo-site"
			if now {
				dir = "live-site"
			}
			if len(args) == 1 {
				dir = args[0]
			}
			if now {
				long, err := c.Flags().GetDuration("for")
				if err != nil {
					return err
				}
				return runLive(c, e, dir, long, nil)
			}
			return runDemo(c, e, dir)
		},
	})
	c.Flags().Bool("live", false, "invent a site that is measured now, and collect from it")
	c.Flags().Duration("for", 2*time.Minute, "how long to collect with --live")
	c.Flags().Uint64("seed", 1, "of the invention")
	c.Flags().String("date", "", "the invented day on which the readings end (default: today)")
	return c
}

// demoMemory is what the demo's heap is held to: it is of a known size, and a
// newcomer's machine may be small.
const demoMemory = 256 << 20

func runDemo(c *cobra.Command, e env, dir string) error {
	if was := debug.SetMemoryLimit(-1); was > demoMemory {
		debug.SetMemoryLimit(demoMemory)
		defer debug.SetMemoryLimit(was)
	}
	format, err := formatOf(c)
	if err != nil {
		return err
	}
	seed, err := c.Flags().GetUint64("seed")
	if err != nil {
		return err
	}
	today := e.now()
	if d, err := dayFlag(c, "date"); err != nil {
		return err
	} else if d != 0 {
		today = calendar.Date(d).Add(12 * time.Hour)
	}
	say := progress(c.ErrOrStderr())
	if say == nil {
		say = func(string) {}
	}
	say("inventing three years of logger files")
	if _, err := demo.Write(dir, seed, today, say); err != nil {
		return err
	}
	o, err := loadSite(dir)
	if err != nil {
		return err
	}
	var out *batch.Outcome
	_, err = recorded(c.Context(), o.folder, e, func() (_ *batch.Outcome, err error) {
		out, err = batch.Run(c.Context(), o.batch(c, today))
		return out, err
	})
	if err != nil {
		return err
	}
	w := c.OutOrStdout()
	if format != show.Text {
		if err := dueTable(out.Result.Lines()).Print(w, format); err != nil {
			return err
		}
		return person(out.Person)
	}
	fmt.Fprintf(w, "INVENTED DATA: %s\n\n", o.Config.Name)
	if err := takenTable(out.Imported).Print(w, format); err != nil {
		return err
	}
	fmt.Fprintln(w)
	if err := dueText(w, dueChoice{sort: "due"}.of(out.Result.Lines()), widthOf(w)); err != nil {
		return err
	}
	fmt.Fprintf(w, "\ninvented site: %s\nreport:        %s\n", dir, out.Pages)
	return person(out.Person)
}
