package main

import (
	"os/exec"
	"syscall"
)

// endWithMe has a command killed when this process is, so that nobody holds the
// lock for a worker that is gone.
func endWithMe(c *exec.Cmd) { c.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL} }
