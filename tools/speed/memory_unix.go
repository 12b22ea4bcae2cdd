//go:build unix

package main

import (
	"fmt"
	"os"
	"runtime"
	"syscall"
)

// memory is the most a finished process held, in MB.
func memory(p *os.ProcessState) string {
	u, ok := p.SysUsage().(*syscall.Rusage)
	if !ok {
		return "–"
	}
	kilo := int64(u.Maxrss)
	if runtime.GOOS == "darwin" {
		kilo /= 1024 // bytes there
	}
	return fmt.Sprint(kilo / 1024)
}
