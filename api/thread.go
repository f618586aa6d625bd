package api

import "runtime"

// aside runs f on a thread of its own that lets others go first, where the system knows
// how. What takes seconds goes on nearly as fast, and who reads meanwhile hardly notices.
func aside(f func() error) (err error) {
	done := make(chan struct{})
	go func() {
		defer close(done)
		runtime.LockOSThread() // and never unlocks it: the thread ends with this goroutine
		yielding()
		err = f()
	}()
	<-done
	return err
}
