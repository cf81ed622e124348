package main

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"syscall"
	"time"

	"github.com/apache/beam/sdks/v2/go/pkg/beam"
	"github.com/apache/beam/sdks/v2/go/pkg/beam/options/jobopts"
	"github.com/apache/beam/sdks/v2/go/pkg/beam/runners/prism"
	"github.com/apache/beam/sdks/v2/go/pkg/beam/runners/universal"
	"github.com/apache/beam/sdks/v2/go/pkg/beam/runners/universal/extworker"
)

// Exit statuses, those of wane.
const (
	exitDone = iota
	exitFailed
	exitUsage
	exitPerson
)

var (
	scratch = flag.String("scratch", "", "folder for parts on their way, which all workers see (default: one of "+
		"this machine)")
	most    = flag.Int("fixtures", 500, "fixtures an order")
	patient = flag.Duration("timeout", 12*time.Hour, "give up after so long: a runner that has lost its workers may "+
		"wait for ever")
	program = flag.String("wane", "", "the plain program, on every worker (default: wane beside this one)")
	pool    = flag.Int("worker_port", 0, "be a pool of workers on this port, for environment type EXTERNAL")
	ofGroup = flag.String("group", "", "a group folder: its sites' nights, then the group's")
	only    = flag.Bool("roll-only", false, "roll up and write, but no nights")
)

func main() {
	flag.Usage = func() {
		fmt.Fprintln(flag.CommandLine.Output(), "fleet [flags] [SITE…]: the nights of sites on an engine; without "+
			"-endpoint in this process")
		flag.PrintDefaults()
	}
	flag.Parse()
	beam.Init()
	slog.SetDefault(slog.New(slog.NewTextHandler(os.Stderr, &slog.HandlerOptions{Level: slog.LevelWarn})))
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	code, err := run(ctx, flag.Args(), os.Stdout)
	if err != nil {
		fmt.Fprintf(os.Stderr, "fleet: %v\n", err)
	}
	os.Exit(code)
}

func run(ctx context.Context, sites []string, out io.Writer) (int, error) {
	if *pool > 0 {
		if _, err := extworker.StartLoopback(ctx, *pool); err != nil {
			return exitFailed, err
		}
		<-ctx.Done()
		return exitDone, nil
	}
	if *most < 1 {
		return exitUsage, fmt.Errorf("-fixtures %d: an order is of one fixture at least", *most)
	}
	wane, err := plain()
	if err != nil {
		return exitUsage, err
	}
	if *ofGroup != "" {
		of, err := sitesOf(*ofGroup)
		if err != nil {
			return exitUsage, err
		}
		sites = append(sites, of...)
	}
	if len(sites) == 0 {
		return exitUsage, errors.New("name site folders, or a group with -group")
	}
	for i := range sites {
		if sites[i], err = filepath.Abs(sites[i]); err != nil {
			return exitUsage, err
		}
	}
	dir, done, err := scratchFolder()
	if err != nil {
		return exitFailed, err
	}
	defer done()
	ctx, cancel := context.WithTimeout(ctx, *patient)
	defer cancel()
	began := time.Now()
	ended, err := nights(ctx, sites, settings{Scratch: dir, Wane: wane, Most: *most, Only: *only})
	if err != nil {
		return exitFailed, fmt.Errorf("%w; what was done is kept: run it again", err)
	}
	took(out, "nights", began)
	code := report(ended, out)
	if *ofGroup == "" || *only {
		return code, nil
	}
	of, err := groupNight(ctx, wane, dir, out)
	if of == exitDone {
		of = code
	}
	return of, err
}

func took(out io.Writer, what string, began time.Time) {
	fmt.Fprintf(out, "took %.1f s: %s\n", time.Since(began).Seconds(), what)
}

// nights runs the pipeline, and gives how each site's night ended.
func nights(ctx context.Context, sites []string, s settings) ([]Ended, error) {
	if err := executed(ctx, pipeline(sites, s)); err != nil {
		return nil, err
	}
	return endings(s.Scratch, sites)
}

// executed runs a pipeline to its end.
func executed(ctx context.Context, p *beam.Pipeline) error {
	execute := prism.Execute
	if *jobopts.Endpoint != "" {
		execute = universal.Execute
	}
	failed := make(chan error, 1)
	go func() {
		_, err := execute(ctx, p)
		failed <- err
	}()
	select { // a runner may not hear that the time is over
	case err := <-failed:
		return err
	case <-ctx.Done():
		return context.Cause(ctx)
	}
}

// report says how the nights ended.
func report(ended []Ended, out io.Writer) int {
	code := exitDone
	for _, e := range ended {
		fmt.Fprintf(out, "%s: %d parts rolled up by %d orders; night ended with %d\n", e.Site, e.Parts, e.Orders, e.Exit)
		if e.Exit != exitDone {
			fmt.Fprintf(out, "%s", e.Said)
			code = exitPerson
		}
	}
	return code
}

// groupNight has the group fitted and its tables written. A fit that the engine could
// not make is left to the plain program, which makes it itself.
func groupNight(ctx context.Context, wane, dir string, out io.Writer) (int, error) {
	args := []string{"group", "nightly", "--no-sites", "--group", *ofGroup}
	began := time.Now()
	fitted, err := fit(ctx, *ofGroup, dir)
	took(out, "fit", began)
	switch {
	case ctx.Err() != nil:
		return exitFailed, context.Cause(ctx)
	case err != nil:
		fmt.Fprintf(os.Stderr, "fleet: the fit is left to the group's night: %v\n", err)
	case fitted != "":
		args = append(args, "--fitted", fitted)
	}
	c := exec.CommandContext(ctx, wane, args...)
	c.Stdout, c.Stderr = out, os.Stderr
	var exit *exec.ExitError
	began = time.Now()
	err = c.Run()
	took(out, "group's tables and pages", began)
	switch {
	case err == nil:
		return exitDone, nil
	case errors.As(err, &exit) && exit.ExitCode() == exitPerson:
		return exitPerson, nil
	default:
		return exitFailed, fmt.Errorf("the group's night: %w", err)
	}
}

// plain finds the plain program.
func plain() (string, error) {
	if *program != "" {
		return *program, nil
	}
	self, err := os.Executable()
	if err != nil {
		return "", err
	}
	beside := filepath.Join(filepath.Dir(self), "wane")
	if _, err := os.Stat(beside); err != nil {
		return "", fmt.Errorf("there is no wane beside %s: name it with -wane", self)
	}
	return beside, nil
}

func scratchFolder() (dir string, done func(), err error) {
	if *scratch != "" {
		return *scratch, func() {}, os.MkdirAll(*scratch, 0o755)
	}
	if *jobopts.Endpoint != "" {
		return "", nil, errors.New("name a folder that all workers see with -scratch")
	}
	dir, err = os.MkdirTemp("", "fleet-")
	return dir, func() { _ = os.RemoveAll(dir) }, err
}

// write replaces a file whole, so that whoever reads it never sees half of it.
func write(path string, b []byte) error {
	f, err := os.CreateTemp(filepath.Dir(path), "making-*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name())
	_, err = f.Write(b)
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

// endings reads how the nights ended.
func endings(dir string, sites []string) (out []Ended, err error) {
	for _, s := range sites {
		var e Ended
		b, err := os.ReadFile(filepath.Join(dir, nameOf(s), "ended.json"))
		if err == nil {
			err = json.Unmarshal(b, &e)
		}
		if err != nil {
			return nil, fmt.Errorf("%s: nothing tells how its night ended: %w", s, err)
		}
		out = append(out, e)
	}
	return out, nil
}
