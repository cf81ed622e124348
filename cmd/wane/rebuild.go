package main

import (
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/batch"
	"wane/ingest"
	"wane/ingest/archive"
)

func rebuildCommand(e env) *cobra.Command {
	c := &cobra.Command{
		Use:   "rebuild",
		Short: "rebuild all that is derived",
		Long: `rebuild throws the derived tables away and makes them again from the readings,
the register and site.yaml. The result is the same, byte for byte. With
--readings the readings are made again first, from the kept originals alone, and
with them the manifest; so they are where the manifest is lost or damaged.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return runRebuild(c, e) },
	}
	c.Flags().Bool("readings", false, "make the readings again too, from the originals")
	return c
}

func runRebuild(c *cobra.Command, e env) error {
	readings, err := c.Flags().GetBool("readings")
	if err != nil {
		return err
	}
	o, err := openSite(c)
	if err != nil {
		return err
	}
	if err := dropDerived(c.Context(), o, e, readings); err != nil {
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

func dropDerived(ctx context.Context, o *opened, e env, readings bool) (err error) {
	lock, err := o.acquire(e)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, lock.Release()) }()
	if !readings {
		// Without a sound manifest the readings are made again too.
		err := archive.DropDerived(lock)
		if !errors.Is(err, archive.ErrLost) && !errors.Is(err, archive.ErrTorn) {
			return err
		}
	}
	if _, err := ingest.Rebuild(ctx, lock); err != nil {
		return err
	}
	return archive.DropDerived(lock)
}
