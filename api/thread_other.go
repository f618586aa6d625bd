//go:build !linux

package api

// yielding does nothing: only Linux knows priorities of single threads.
func yielding() {}
