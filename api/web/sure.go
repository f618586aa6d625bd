package web

import "net/http"

// sureData is what is asked before something is done that cannot be taken back.
type sureData struct {
	Does   []string // what it would do
	Rather string   // what could be done instead; "" for nothing
	To, Do string   // where it is sent, and what is to be done
	Button string
	Back   string
}

// sure shows what would be done, and does nothing.
func (v *view) sure(title string, d sureData) error {
	v.setUp(title, d)
	v.show(http.StatusOK, "sure")
	return nil
}
