// Command collect kills wane and a broker while they work, and looks whether every
// message that wane acknowledged is stored, once.
//
//	go run ./testdata/bench/collect [-for 10m] [-kills 30] [-brokers 10]
//
// A site of its own, in a temporary folder, collects from a mosquitto that it
// starts (200 series, 10 messages a second in all, half of them plain numbers
// without a time), a Modbus device (50 registers, every second) and an HTTP logger
// (20 pulls a minute, by cursor). wane run is killed at random moments, as is the
// broker; wane ingest runs beside it twice a minute. A proxy between wane and the
// broker takes down what was delivered and what was acknowledged.
//
// Every message carries its number as its value, so that a number stored twice is
// a message stored twice. Needs Debian's mosquitto; everything talks on 127.0.0.1
// and ends with the run.
package main

import (
	"context"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"sync"
	"syscall"
	"time"
)

func main() {
	length := flag.Duration("for", 10*time.Minute, "how long messages are sent, at most 30m")
	kills := flag.Int("kills", 30, "how often wane is killed")
	brokers := flag.Int("brokers", 10, "how often the broker is killed")
	seed := flag.Uint64("seed", 1, "of the moments of the kills")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	chance := func(stream uint64) *rand.Rand { return rand.New(rand.NewPCG(*seed, stream)) }
	if err := campaign(ctx, min(*length, 30*time.Minute), *kills, *brokers, chance); err != nil {
		fmt.Fprintln(os.Stderr, "collect:", err)
		os.Exit(1)
	}
}

func campaign(ctx context.Context, length time.Duration, kills, brokers int, chance func(uint64) *rand.Rand) (err error) {
	dir, err := os.MkdirTemp("", "wane-collect-")
	if err != nil {
		return err
	}
	defer func() {
		if err == nil {
			err = os.RemoveAll(dir)
		} else {
			fmt.Fprintln(os.Stderr, "what it left is in", dir)
		}
	}()
	program := filepath.Join(dir, "wane")
	if out, err := exec.Command("go", "build", "-o", program, "./cmd/wane").CombinedOutput(); err != nil {
		return fmt.Errorf("build wane: %w\n%s", err, out)
	}
	w, err := startWorld(dir)
	if err != nil {
		return err
	}
	defer w.end()
	site, err := w.site(dir)
	if err != nil {
		return err
	}
	daemon := &process{log: filepath.Join(dir, "wane.log"), cmd: func() *exec.Cmd { return exec.Command(program, "run", "--site", site) }}
	if err := daemon.start(); err != nil {
		return err
	}
	defer daemon.kill(syscall.SIGKILL)
	if err := w.met(ctx); err != nil { // from here on the broker keeps what wane misses
		return err
	}

	sending, done := context.WithTimeout(ctx, length)
	defer done()
	var all sync.WaitGroup
	all.Go(func() { w.publish(sending) })
	all.Go(func() { killing(sending, length, kills, chance(1), daemon.restart) })
	all.Go(func() { killing(sending, length, brokers, chance(2), w.mosquitto.restart) })
	all.Go(func() { ingesting(sending, program, site) })
	all.Wait()
	if err := ctx.Err(); err != nil {
		return err
	}
	w.settle(ctx) // what was sent last is delivered
	daemon.kill(syscall.SIGTERM)
	if out, err := ingest(program, site); err != nil {
		return fmt.Errorf("the last ingest: %w\n%s", err, out)
	}
	fmt.Printf("%v; wane killed %d times, the broker %d times\n", length, daemon.kills, w.mosquitto.kills)
	fmt.Printf("wane run: at most %.0f MiB resident, %.1f %% of one core over %d lives\n", float64(daemon.most)/1024, 100*daemon.cpu.Seconds()/length.Seconds(), daemon.kills+1)
	return w.judge(site)
}

// killing calls kill so many times, spread over the time at random.
func killing(ctx context.Context, length time.Duration, n int, rng *rand.Rand, kill func() error) {
	each := length / time.Duration(n+1)
	for range n {
		if !sleep(ctx, each/2+time.Duration(rng.Int64N(int64(each)))) {
			return
		}
		if err := kill(); err != nil {
			fmt.Fprintln(os.Stderr, "collect:", err)
		}
	}
}

// ingesting takes in beside the daemon, as a night would.
func ingesting(ctx context.Context, program, site string) {
	for sleep(ctx, 30*time.Second) {
		if out, err := ingest(program, site); err != nil {
			fmt.Fprintf(os.Stderr, "collect: ingest: %v\n%s", err, out)
		}
	}
}

// ingest takes in once; that it is told of unknown series (status 3) is no error.
func ingest(program, site string) ([]byte, error) {
	cmd := exec.Command(program, "ingest", "--site", site)
	out, err := cmd.CombinedOutput()
	if cmd.ProcessState != nil && cmd.ProcessState.ExitCode() == 3 {
		err = nil
	}
	return out, err
}

func sleep(ctx context.Context, d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
		return false
	case <-t.C:
		return true
	}
}
