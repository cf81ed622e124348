package main

import (
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/blank"
)

func newCommand(env) *cobra.Command {
	c := &cobra.Command{
		Use:   "new DIR",
		Short: "an empty, commented site folder",
		Long:  `new makes a site folder with a commented site.yaml and empty register tables. It passes "wane check" as it is.`,
		Args:  exactly(1),
		RunE: func(c *cobra.Command, args []string) error {
			name, err := c.Flags().GetString("name")
			if err != nil {
				return err
			}
			if name == "" {
				name = filepath.Base(filepath.Clean(args[0]))
			}
			zone, err := c.Flags().GetString("zone")
			if err != nil {
				return err
			}
			if err := blank.Write(args[0], name, zone); err != nil {
				return err
			}
			fmt.Fprintf(c.OutOrStdout(), "made %s; next: fill in %s and register/, then `wane check --site %s`\n", args[0],
				"site.yaml", args[0])
			return nil
		},
	}
	c.Flags().String("name", "", "the site's name (default: the folder's)")
	c.Flags().String("zone", "UTC", "the site's IANA time zone, such as Europe/Amsterdam")
	return c
}
