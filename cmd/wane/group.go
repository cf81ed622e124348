package main

import (
	"context"
	"errors"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/batch"
	"wane/cmd/wane/internal/group"
	"wane/cmd/wane/internal/night"
	"wane/cmd/wane/internal/show"
	"wane/ingest/archive"
	groupfile "wane/ingest/group"
	"wane/ingest/site"
	"wane/queries"
)

func groupCommand(e env) *cobra.Command {
	c := &cobra.Command{
		Use:   "group",
		Short: "the same over many sites: one fit, one list, one summary",
		Long: `group looks after several sites together. A group folder holds group.yaml, which
names the sites' folders, and what the group makes of them: an archive of its own
tables and pages in reports/. The sites stay as they are, and what each says alone
stays what it says.

The lamps of all sites are fitted as one: lamp types, makes (the fixtures' model)
and lots that hang at several sites are learnt across them, so that a site with a
short record, or a make that is new to it, starts from what the others have seen.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.PersistentFlags().String("group", ".", "group folder")
	for _, sub := range []*cobra.Command{groupNewCommand(), groupNightlyCommand(e), groupDueCommand(), groupMakesCommand(),
		groupSitesCommand(), groupSparesCommand(), groupYearlyCommand(), groupStatusCommand(), groupSQLCommand(e)} {
		sub.Long += "\n\n" + statuses
		c.AddCommand(sub)
	}
	return c
}

func groupNewCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "new DIR",
		Short: "an empty, commented group folder",
		Long: `new makes a group folder with a commented group.yaml. It has no site yet: name
them there.`,
		Args: exactly(1),
		RunE: func(c *cobra.Command, args []string) error {
			name, err := c.Flags().GetString("name")
			if err != nil {
				return err
			}
			if err := group.New(args[0], name); err != nil {
				return err
			}
			fmt.Fprintf(c.OutOrStdout(), "made %s; next: name its sites in group.yaml, then `wane group nightly --group %s`\n",
				args[0], args[0])
			return nil
		},
	}
	c.Flags().String("name", "", "the group's name (default: the folder's)")
	return c
}

// openGroup reads the folder named by --group.
func openGroup(c *cobra.Command) (groupfile.Folder, groupfile.Config, error) {
	dir, err := c.Flags().GetString("group")
	if err != nil {
		return "", groupfile.Config{}, err
	}
	f := groupfile.Folder(dir)
	config, err := f.Load()
	return f, config, err
}

func groupNightlyCommand(e env) *cobra.Command {
	c := withFormat(&cobra.Command{
		Use:   "nightly",
		Short: "each site's night, then the group's fit, tables and pages",
		Long: `nightly runs each site's own night as "wane nightly" does, then fits the lamps of
all sites together, and writes the group's tables and pages. A site whose night
fails, or whose archive somebody else writes to, is said, and the rest goes on: it
counts as its last good night left it, or not at all. A second run with nothing
new changes no byte.

With --no-sites the sites' own nights are left alone: they have theirs elsewhere.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return runGroupNightly(c, e) },
	})
	c.Flags().Bool("no-sites", false, "only the group's own part")
	c.Flags().String("fitted", "", "the group's fit where an engine has made it (schedules/cluster)")
	return c
}

func runGroupNightly(c *cobra.Command, e env) error {
	format, err := formatOf(c)
	if err != nil {
		return err
	}
	without, err := c.Flags().GetBool("no-sites")
	if err != nil {
		return err
	}
	fitted, err := fittedFlag(c)
	if err != nil {
		return err
	}
	f, config, err := openGroup(c)
	if err != nil {
		return err
	}
	o := group.Options{Folder: f, Config: config, Now: e.now(), Progress: progress(c.ErrOrStderr()), Fitted: fitted}
	if !without {
		o.Night = func(ctx context.Context, dir string) (*batch.Outcome, error) { return siteNight(c, e, dir) }
	}
	out, err := group.Run(c.Context(), o)
	if err != nil {
		return err
	}
	if fitted != nil && !out.Elsewhere && !out.Kept {
		fmt.Fprintln(c.ErrOrStderr(), "wane: the fit of --fitted is of something else by now: fitted here")
	}
	if out.Tables != nil {
		t, err := group.Read(out.Tables)
		if err != nil {
			return err
		}
		if err := groupSites(t).Print(c.OutOrStdout(), format); err != nil {
			return err
		}
		if format == show.Text {
			fmt.Fprintf(c.OutOrStdout(), "\n%d lamps in service at %d sites; report: %s\n", len(t.Lines),
				len(t.Sites), out.Pages)
		}
	}
	return person(out.Person)
}

// fittedFlag reads the fit that an engine has made.
func fittedFlag(c *cobra.Command) (*group.Fitted, error) {
	path, err := c.Flags().GetString("fitted")
	if err != nil || path == "" {
		return nil, err
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, usagef("--fitted: %v", err)
	}
	defer f.Close()
	fitted, err := group.ReadFitted(f)
	if err != nil {
		return nil, usagef("--fitted %s: %v", path, err)
	}
	return fitted, nil
}

// siteNight is the night of one site, written down and told as its own command does.
func siteNight(c *cobra.Command, e env, dir string) (out *batch.Outcome, err error) {
	o, err := loadSite(dir)
	if err != nil {
		return nil, err
	}
	told, err := recorded(c.Context(), site.Folder(dir), e, func() (*batch.Outcome, error) {
		out, err = batch.Run(c.Context(), o.batch(c, e.now()))
		if err == nil {
			err = person(out.Person)
		}
		return out, err
	})
	var more needsPerson
	if errors.As(err, &more) {
		err = nil // the outcome lists it
	}
	if told != nil {
		fmt.Fprintf(c.ErrOrStderr(), "wane: %s: %v\n", dir, told)
	}
	return out, err
}

// groupView hands a view of the group's archive to fn.
func groupView(c *cobra.Command, fn func(groupfile.Folder, groupfile.Config, *archive.Archive) error) error {
	f, config, err := openGroup(c)
	if err != nil {
		return err
	}
	return archive.View(f.Path("archive"), func(a *archive.Archive) error { return fn(f, config, a) })
}

// groupTable is a command that prints one of the group's tables.
func groupTable(use, short, long string, of func(*cobra.Command, group.Tables) (*show.Table, error)) *cobra.Command {
	return withFormat(&cobra.Command{Use: use, Short: short, Long: long, Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			format, err := formatOf(c)
			if err != nil {
				return err
			}
			return groupView(c, func(_ groupfile.Folder, _ groupfile.Config, a *archive.Archive) error {
				t, err := group.Read(a)
				if err != nil {
					return err
				}
				out, err := of(c, t)
				if err != nil {
					return err
				}
				return out.Print(c.OutOrStdout(), format)
			})
		},
	})
}

func groupStatusCommand() *cobra.Command {
	return withFormat(&cobra.Command{
		Use:   "status",
		Short: "each site's last night, and what waits there",
		Long: `status says of each site how its last night went and how many things wait for a
person there. It changes nothing and needs no lock.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return runGroupStatus(c) },
	})
}

func runGroupStatus(c *cobra.Command) error {
	format, err := formatOf(c)
	if err != nil {
		return err
	}
	f, config, err := openGroup(c)
	if err != nil {
		return err
	}
	t := &show.Table{Columns: show.Columns("site", "last_night", "at", "waits", "more")}
	var faults []string
	for _, m := range config.Sites {
		dir := f.Of(m)
		if _, err := os.Stat(site.Folder(dir).Path(site.ConfigFile)); err != nil {
			faults = append(faults, fmt.Sprintf("site %s: there is no site folder in %s", m.Name, dir))
			t.Add(m.Name, "missing", "", nil, dir)
			continue
		}
		r, ok, err := night.Last(site.Folder(dir))
		switch {
		case err != nil:
			t.Add(m.Name, "not known", "", nil, err.Error())
			faults = append(faults, fmt.Sprintf("site %s: %v", m.Name, err))
		case !ok:
			t.Add(m.Name, "none", "", nil, dir)
		case r.Running():
			t.Add(m.Name, "running", at(r.Start), nil, "")
		case r.End.IsZero():
			t.Add(m.Name, "cut off", at(r.Start), nil, "")
			faults = append(faults, fmt.Sprintf("site %s: its last night was cut off before its end", m.Name))
		case r.Exit != exitDone && r.Exit != exitPerson:
			t.Add(m.Name, "failed", at(r.End), r.Questions, r.Error)
			faults = append(faults, fmt.Sprintf("site %s: its last night failed: %s", m.Name, r.Error))
		default:
			t.Add(m.Name, "done", at(r.End), r.Questions, "")
		}
	}
	if err := t.Print(c.OutOrStdout(), format); err != nil {
		return err
	}
	return person(faults)
}

func groupSQLCommand(e env) *cobra.Command {
	c := withFormat(&cobra.Command{
		Use:   "sql [STATEMENT|FILE]",
		Short: "a read-only statement on the tables of all sites",
		Long: `sql runs one SELECT as "wane sql" does, on the tables of all sites together: each
has a column site before its own. The group's own tables stand beside them:
group_due, group_makes, group_sites and group_spares.`,
		Example: `  wane group sql "SELECT site, count(*) AS lamps FROM due GROUP BY site"`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) > 1 {
				return usagef("sql takes one statement, not %d arguments; put it in quotes", len(args))
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error { return runGroupSQL(c, e, args) },
	})
	return c
}

func runGroupSQL(c *cobra.Command, e env, args []string) error {
	format, err := formatOf(c)
	if err != nil {
		return err
	}
	statement, err := statementOf(e.stdin, args)
	if err != nil {
		return err
	}
	f, config, err := openGroup(c)
	if err != nil {
		return err
	}
	return group.Ask(c.Context(), f, config, func(db *queries.DB) error {
		return printAnswer(c, db, statement, format)
	})
}
