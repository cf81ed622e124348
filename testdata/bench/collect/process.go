package main

import (
	"fmt"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"time"
)

// process is a program that is killed and started again.
type process struct {
	cmd   func() *exec.Cmd
	log   string
	mu    sync.Mutex
	now   *exec.Cmd
	kills int
	most  int64 // KiB resident, of any of its lives
	cpu   time.Duration
}

func (p *process) start() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	f, err := os.OpenFile(p.log, os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o644)
	if err != nil {
		return err
	}
	defer f.Close()
	p.now = p.cmd()
	p.now.Stdout, p.now.Stderr = f, f
	return p.now.Start()
}

// kill ends it, after looking what it used.
func (p *process) kill(s syscall.Signal) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.now == nil {
		return
	}
	if text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", p.now.Process.Pid)); err == nil {
		for line := range strings.Lines(string(text)) {
			if v, ok := strings.CutPrefix(line, "VmHWM:"); ok {
				n, _ := strconv.ParseInt(strings.Fields(v)[0], 10, 64)
				p.most = max(p.most, n)
			}
		}
	}
	_ = p.now.Process.Signal(s)
	_ = p.now.Wait()
	p.cpu += p.now.ProcessState.UserTime() + p.now.ProcessState.SystemTime()
	p.now = nil
}

func (p *process) restart() error {
	p.kill(syscall.SIGKILL)
	p.kills++
	return p.start()
}
