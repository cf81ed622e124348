package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/batch"
	"wane/ingest/archive"
)

func rebuildCommand(e env) *cobra.Command {
	return &cobra.Command{
		Use:   "rebuild",
		Short: "rebuild all that is derived",
		Long: `rebuild throws the derived tables away and makes them again from the readings,
the register and site.yaml. The result is the same, byte for byte.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return runRebuild(c, e) },
	}
}

func runRebuild(c *cobra.Command, e env) error {
	o, err := openSite(c)
	if err != nil {
		return err
	}
	if err := dropDerived(o, e); err != nil {
		return err
	}
	opt := o.batch(c, e.now())
	opt.Skip = true
	out, err := batch.Run(c.Context(), opt)
	if err != nil {
		return err
	}
	if out.Result != nil {
		fmt.Fprintf(c.OutOrStdout(), "rebuilt; %d lamps in service as of %s\n", len(out.Result.Due), day(out.Result.AsOf))
	}
	return nil
}

func dropDerived(o *opened, e env) (err error) {
	lock, err := archive.Acquire(o.archiveDir(), batch.Holder(e.now()))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, lock.Release()) }()
	return archive.DropDerived(lock)
}
