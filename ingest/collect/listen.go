package collect

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"
	"sync"
	"time"
)

// listen has a source send for as long as ctx lasts, and begins again after a
// pause where it ends by itself.
func (r *Runner) listen(ctx context.Context) {
	for failures := 1; ctx.Err() == nil; failures++ {
		began := r.o.Now()
		err := r.hear(ctx, r.connected)
		if ctx.Err() != nil {
			break
		}
		if err == nil {
			err = errors.New("it ended by itself")
		}
		r.connected(err)
		if r.o.Now().Sub(began) > backoffLast {
			failures = 1
		}
		wait(ctx, pause(failures, backoffFirst, backoffLast))
	}
	r.update(func(s *Status) { s.Connected = false })
}

// connected takes note of a connection made (nil) or lost.
func (r *Runner) connected(err error) {
	err = r.vault.HideError(err)
	now := r.o.Now()
	r.update(func(s *Status) {
		s.Tried = now
		if err == nil {
			s.Connected = true
			s.well(now)
			return
		}
		s.Failures++
		s.Error = err.Error()
		from := since(s, now)
		if s.Connected {
			from = now
		}
		s.Connected = false
		s.miss(0, from, s.Error)
	})
	if err != nil {
		r.log.Warn("not connected", "error", err)
	} else {
		r.log.Info("connected")
	}
}

func (r *Runner) hear(ctx context.Context, up func(error)) (err error) {
	defer func() {
		if p := recover(); p != nil {
			r.log.Error("a fault in the program", "panic", r.vault.Hide(fmt.Sprint(p)), "stack", string(debug.Stack()))
			err = fmt.Errorf("a fault in the program: %v", p)
		}
		err = r.vault.HideError(err)
	}()
	return r.kind.(Listener).Listen(ctx, box{r.spool, r}, up)
}

// quiet is how long a source that is heard once may say nothing before it is
// taken to have said all, where Options do not tell.
const quiet = 3 * time.Second

// listenOnce hears what waits at a source: until it is quiet, or its time-out.
func (r *Runner) listenOnce(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(ctx, r.d.Collect.Timeout.Std())
	defer cancel()
	var one sync.Mutex // over lost and met: a client tells of its connection from goroutines of its own
	var lost error
	met := false
	var watching sync.WaitGroup
	defer watching.Wait()
	watching.Go(func() {
		for before := int64(-1); ctx.Err() == nil; {
			wait(ctx, r.o.quiet())
			s := r.Status()
			r.update(func(*Status) {})
			if after := r.Status(); s.Connected && after.Bytes == before {
				cancel()
			} else {
				before = after.Bytes
			}
		}
	})
	defer cancel()
	err := r.hear(ctx, func(e error) {
		one.Lock()
		defer one.Unlock()
		if met = met || e == nil; ctx.Err() != nil {
			return
		}
		lost = e
		r.connected(e)
		if e != nil {
			cancel() // once is once
		}
	})
	r.update(func(s *Status) { s.Connected = false })
	one.Lock()
	defer one.Unlock()
	switch {
	case err == nil && lost != nil:
		err = r.vault.HideError(lost)
	case err == nil && !met:
		err = fmt.Errorf("no connection within %v (collect.timeout)", r.d.Collect.Timeout.Std())
		r.connected(err)
	}
	return err
}
