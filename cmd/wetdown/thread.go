package main

import "runtime"

// aside runs f on a thread of its own that lets others go first, where the system knows
// how, and returns when f does. What takes seconds goes on nearly as fast, and who reads
// meanwhile hardly notices.
func aside(f func()) {
	done := make(chan struct{})
	go func() {
		defer close(done)
		runtime.LockOSThread() // and never unlocks it: the thread ends with this goroutine
		yielding()
		f()
	}()
	<-done
}
