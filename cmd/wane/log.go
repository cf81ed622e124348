package main

import (
	"fmt"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"wane/ingest/problem"
	"wane/ingest/register"
	"wane/ingest/site"
	"wane/transform/fleet"
)

func logCommand(e env) *cobra.Command {
	c := &cobra.Command{
		Use:   "log WHAT SCOPE [ID]",
		Short: "add a logbook line, checked",
		Long: `log adds one line to register/logbook.csv. WHAT is install, retire, move, relamp,
fail, clean, recalibrate, reference, dim, regear, outage, run_hours or note; SCOPE
is site, room, bay, circuit, fixture or sensor; ID names it (none for the site).

The line is checked with the whole register before it is written; a line that
the register cannot use changes nothing.`,
		Example: `  wane log relamp fixture F1-A03 --value lot-24B --at 2025-03-31
  wane log clean room VEG --value all --note "after harvest"
  wane log recalibrate sensor LG-3 --value 0.985`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) < 2 || len(args) > 3 {
				return usagef("log takes WHAT SCOPE [ID]; see `wane log --help`")
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error { return runLog(c, e, args) },
	}
	c.Flags().String("at", "", "date or RFC 3339 time (default: today at the site)")
	c.Flags().String("value", "", "the entry's value: cohort, as-found gain, per cent, level, date …")
	c.Flags().String("note", "", "anything worth keeping")
	return c
}

func runLog(c *cobra.Command, e env, args []string) error {
	o, err := openSite(c)
	if err != nil {
		return err
	}
	flag := func(name string) string {
		s, _ := c.Flags().GetString(name) // declared above: cannot fail
		return s
	}
	at := flag("at")
	if at == "" {
		at = e.now().In(o.Config.Location).Format("2006-01-02")
	}
	id := ""
	if len(args) == 3 {
		id = args[2]
	}
	path := o.folder.Path("register", "logbook.csv")
	old, err := os.ReadFile(path)
	if err != nil {
		return fmt.Errorf("read logbook: %w", err)
	}
	next, line, err := register.Append(register.LogbookFile, old, []map[string]string{{
		"at": at, "what": args[0], "scope": args[1], "id": id, "value": flag("value"), "note": flag("note"),
	}})
	if err != nil {
		return err
	}
	reg, err := checkEntry(o, next)
	if err != nil {
		return err
	}
	if err := site.WriteFile(path, next); err != nil {
		return fmt.Errorf("write logbook: %w", err)
	}
	fmt.Fprintf(c.OutOrStdout(), "logged: %s", line)
	added := slices.MaxFunc(reg.Logbook, func(a, b fleet.Entry) int { return a.Line - b.Line })
	return person(aheadOf(e.now(), []fleet.Entry{added}))
}

// checkEntry gives the register with the new logbook, if that can be used.
func checkEntry(o *opened, logbook []byte) (*fleet.Register, error) {
	fixtures, err := os.ReadFile(o.folder.Path("register", "fixtures.csv"))
	if err != nil {
		return nil, err
	}
	sensors, err := os.ReadFile(o.folder.Path("register", "sensors.csv"))
	if err != nil {
		return nil, err
	}
	reg, found := register.Parse(fixtures, sensors, logbook, o.Config.Location)
	if len(found) == 0 {
		return reg, nil
	}
	lines := make([]string, len(found))
	for i, p := range found {
		lines[i] = problem.Problem{File: "logbook entry", What: p.What, Do: p.Do}.String()
	}
	return nil, usagef("not logged:\n%s", strings.Join(lines, "\n"))
}
