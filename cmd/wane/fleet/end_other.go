//go:build !linux

package main

import "os/exec"

// endWithMe does nothing here: the night of a worker that is gone goes on to its
// end, and holds the lock until then.
func endWithMe(*exec.Cmd) {}
