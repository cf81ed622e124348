package main

import (
	"fmt"
	"runtime/debug"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/show"
	"wane/ingest/archive"
)

// statuses is the exit statuses as every command's help shows them.
const statuses = `Exit status:
  0    done
  1    failed
  2    wrong usage, or site.yaml or the register cannot be used
  3    done, but something needs a person (named on stderr)
  130  interrupted`

func newRoot(e env) *cobra.Command {
	root := &cobra.Command{
		Use:     "wane",
		Version: version(),
		Short:   "when does each grow lamp fall under its replacement threshold, and how sure is that",
		Long: `wane follows grow-light fixtures over the years. Loggers, hour meters and
survey sheets go in; out comes when each lamp falls under the level at which it
should be replaced, how sure that is, and what to do about it.

Everything lives in one site folder; "wane demo" invents one to look at.

` + statuses,
		SilenceUsage:  true,
		SilenceErrors: true,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) > 0 {
				return usagef("%q is not a command of wane; see `wane --help`", args[0])
			}
			return nil
		},
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	root.PersistentFlags().String("site", ".", "site folder")
	root.PersistentPreRun = func(c *cobra.Command, _ []string) { // what a machine reads is never broken into lines
		if f := c.Flags().Lookup("format"); f != nil && f.Value.String() == string(show.Text) {
			root.SetOut(show.OnTerminal(e.stdout))
		}
	}
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		return usagef("%v; see `%s --help`", err, c.CommandPath())
	})
	for _, c := range commands(e) {
		c.Long += "\n\n" + statuses
		root.AddCommand(c)
	}
	return root
}

// version is that of the module, or the revision that it was built from.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	out := info.Main.Version
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" && (out == "" || out == "(devel)") {
			out = s.Value
		}
	}
	return fmt.Sprintf("%s, archive format %d, %s", out, archive.Format, info.GoVersion)
}

// commands lists every command, in the order of the work.
func commands(e env) []*cobra.Command {
	return []*cobra.Command{
		demoCommand(e), newCommand(e), checkCommand(e), logCommand(e),
		inspectCommand(e), collectCommand(e), ingestCommand(e), quarantineCommand(e), nightlyCommand(e), reportCommand(e),
		runCommand(e), rebuildCommand(e),
		dueCommand(e), declineCommand(e), levelsCommand(e), explainCommand(e), planCommand(e), measureCommand(e),
		yearlyCommand(e), surveyCommand(e), supplyCommand(e),
		backtestCommand(e), sqlCommand(e), statusCommand(e), serveCommand(e), groupCommand(e), manCommand(e),
	}
}

// noArgs and exactly make wrong counts of arguments a usage error.
func noArgs(c *cobra.Command, args []string) error { return exactly(0)(c, args) }

func exactly(n int) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if len(args) != n {
			return usagef("arguments: %d given, %d wanted: `%s`; see `%s --help`", len(args), n, c.UseLine(), c.CommandPath())
		}
		return nil
	}
}

// withFormat adds --format to a command that prints a table.
func withFormat(c *cobra.Command) *cobra.Command {
	c.Flags().String("format", string(show.Text), "table, csv or json")
	return c
}

func formatOf(c *cobra.Command) (show.Format, error) {
	s, err := c.Flags().GetString("format")
	if err != nil {
		return "", err
	}
	f, err := show.ParseFormat(s)
	if err != nil {
		return "", usageError{err}
	}
	return f, nil
}
