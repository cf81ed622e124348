package main

import (
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"
)

func manCommand(env) *cobra.Command {
	return &cobra.Command{
		Use:   "man DIR",
		Short: "manual pages of every command",
		Long: `man writes a manual page of each command into DIR, as man(1) reads them:
"wane man /usr/local/share/man/man1", then "man wane-due". They say what --help
says.`,
		Args: exactly(1),
		RunE: func(c *cobra.Command, args []string) error { return runMan(c, args[0]) },
	}
}

func runMan(c *cobra.Command, dir string) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fmt.Errorf("make the folder for manual pages: %w", err)
	}
	root := c.Root()
	root.DisableAutoGenTag = true // no date: the same program writes the same pages
	if err := doc.GenManTree(root, &doc.GenManHeader{Section: "1", Source: "wane"}, dir); err != nil {
		return fmt.Errorf("write manual pages: %w", err)
	}
	pages, err := filepath.Glob(filepath.Join(dir, "wane*.1"))
	if err != nil {
		return err
	}
	fmt.Fprintf(c.OutOrStdout(), "%d manual pages in %s\n", len(pages), dir)
	return nil
}
