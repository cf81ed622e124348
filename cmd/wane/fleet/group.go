package main

import "wane/ingest/group"

// sitesOf gives the folders of a group's sites.
func sitesOf(dir string) (out []string, err error) {
	f := group.Folder(dir)
	c, err := f.Load()
	for _, m := range c.Sites {
		out = append(out, f.Of(m))
	}
	return out, err
}
