package main

import "syscall"

// behind is how far behind others a thread stands: with 10 it has a tenth of what one has
// that is not put behind, when both want to run.
const behind = 10

// yielding puts the thread that calls it behind all others of the machine. Where that is not
// allowed it stays where it is.
func yielding() { _ = syscall.Setpriority(syscall.PRIO_PROCESS, syscall.Gettid(), behind) }
