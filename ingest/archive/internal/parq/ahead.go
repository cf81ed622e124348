package parq

// depth is how many windows a cursor decodes ahead: enough that the reader goes
// on while the next row group is decompressed.
const depth = 4

// ahead decodes windows of a cursor in a goroutine of its own.
type ahead struct {
	ready chan *window
	free  chan *window
	done  chan struct{} // closed when the goroutine has ended
}

// Ahead has the file decoded on another processor while the caller works on
// what Next gave. It is called once, before the first Next.
func (c *Cursor) Ahead() {
	a := &ahead{ready: make(chan *window, depth), free: make(chan *window, depth), done: make(chan struct{})}
	for range depth - 1 {
		a.free <- windows.Get().(*window)
	}
	c.ahead = a
	go func() {
		defer close(a.done)
		defer close(a.ready)
		for w := range a.free {
			err := c.load(w)
			w.err = err
			a.ready <- w // from here on it is the reader's
			if err != nil {
				return
			}
		}
	}()
}

// swap gives a window back and takes the next one.
func (a *ahead) swap(w *window) *window {
	a.free <- w
	return <-a.ready
}

// close stops the goroutine and gives its windows up.
func (a *ahead) close() {
	close(a.free)
	for w := range a.ready {
		w.leave()
	}
	<-a.done
	for w := range a.free {
		w.leave()
	}
}
