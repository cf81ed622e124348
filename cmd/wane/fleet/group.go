package main

import (
	"fmt"
	"os"

	fitting "wane/cmd/wane/internal/group"
	"wane/ingest/group"
)

// sitesOf gives the folders of a group's sites, with their settings as they are now. What
// keeps a site's from being fetched is said, and the group's night says what follows.
func sitesOf(dir string) (out []string, err error) {
	f := group.Folder(dir)
	c, err := f.Load()
	if err != nil {
		return nil, err
	}
	for _, m := range c.Sites {
		if err := fitting.Fetch(f, c, m); err != nil {
			fmt.Fprintf(os.Stderr, "fleet: site %s: %v\n", m.Name, err)
		}
		out = append(out, f.Of(m))
	}
	return out, nil
}
