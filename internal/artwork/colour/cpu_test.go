//go:build unix

package colour

import (
	"syscall"
	"testing"
)

// userCPU reports the processor time of a benchmark's loop, which other work on the machine leaves alone.
func userCPU(b *testing.B, loop func()) {
	var before, after syscall.Rusage
	_ = syscall.Getrusage(syscall.RUSAGE_SELF, &before)
	loop()
	_ = syscall.Getrusage(syscall.RUSAGE_SELF, &after)
	b.ReportMetric(float64(after.Utime.Nano()-before.Utime.Nano())/float64(b.N)/1e6, "user-ms/op")
}
