// Command iceberg registers the tables of a group's sites as Iceberg tables, so that any
// engine that reads these can ask across sites. No row is copied: the tables name the
// files that lie in the sites' archives. It is a module of its own, so that wane links
// none of it.
//
//  1. A table is that of all sites, partitioned by site. The files hold no column site:
//     its value is the partition's, as the format has it for files that came from
//     elsewhere. The group's own tables have a site of their own where they are by site.
//  2. Readings are not among them: their values have several numbers of decimals, and a
//     column of Iceberg has one.
//  3. A second run takes out the files that a night has replaced and names the new ones,
//     in one snapshot a table; where nothing changed it writes nothing. Run it after
//     `wane group nightly`: what a night has replaced is gone from the disk.
//  4. No engine may delete the files (gc.enabled): they are the sites'. So snapshots are
//     not expired either; remove the folder, and the next run begins anew.
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"maps"
	"os"
	"os/signal"
	"path/filepath"
	"slices"
	"syscall"

	"wane/ingest/group"
)

// Exit statuses, those of wane.
const (
	exitDone = iota
	exitFailed
	exitUsage
)

func main() {
	dir := flag.String("group", ".", "group folder")
	to := flag.String("to", "", "folder of the Iceberg tables (default: iceberg in the group folder)")
	flag.Usage = func() {
		fmt.Fprintln(flag.CommandLine.Output(), "iceberg [flags]: the tables of a group's sites, for other engines")
		flag.PrintDefaults()
	}
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	code, err := run(ctx, group.Folder(*dir), *to, os.Stdout)
	if err != nil {
		fmt.Fprintf(os.Stderr, "iceberg: %v\n", err)
	}
	stop()
	os.Exit(code)
}

func run(ctx context.Context, f group.Folder, to string, out io.Writer) (int, error) {
	c, err := f.Load()
	if err != nil {
		return exitUsage, err
	}
	if to == "" {
		to = f.Path("iceberg")
	}
	if to, err = filepath.Abs(to); err != nil {
		return exitUsage, err
	}
	tables, err := partsOf(f, c)
	if err != nil {
		return exitFailed, err
	}
	l, err := openLake(to)
	if err != nil {
		return exitFailed, err
	}
	for _, name := range slices.Sorted(maps.Keys(tables)) {
		d, err := l.register(ctx, name, tables[name])
		if err != nil {
			return exitFailed, fmt.Errorf("table %s: %w", name, err)
		}
		fmt.Fprintf(out, "%s: %d files, %d new, %d gone; %s\n", name, len(tables[name]), d.added, d.removed, d.metadata)
	}
	return exitDone, nil
}
