package outbound

import (
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"wetdown/api"
)

// Bounds of one try.
const (
	hookTime   = 15 * time.Second // from the first packet to the end of the answer
	hookAnswer = 64 << 10         // bytes read of an answer; what it says does not matter
)

// errGone is that a webhook wants nothing more.
var errGone = errors.New("it answered 410: it wants to be told nothing more. Delete it, or resume it if that is wrong")

// newClient makes the only way to webhooks.
func newClient(g guard) *http.Client {
	dial := &net.Dialer{Timeout: hookTime, Control: g.control}
	return &http.Client{
		Timeout: hookTime,
		Transport: &http.Transport{ // no Proxy: it would connect where nobody looks
			DialContext:            dial.DialContext,
			TLSHandshakeTimeout:    hookTime,
			MaxResponseHeaderBytes: hookAnswer,
			MaxIdleConns:           20,
			IdleConnTimeout:        time.Minute,
			ForceAttemptHTTP2:      true,
		},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}
}

// tell sends a delivery. An error says why it was not taken, for people.
func (r *Runner) tell(ctx context.Context, d *api.Delivery, at time.Time) error {
	signature, err := Sign(d.Secret, d.ID, at, d.Body)
	if err != nil {
		return err
	}
	q, err := http.NewRequestWithContext(ctx, http.MethodPost, d.URL, bytes.NewReader(d.Body))
	if err != nil {
		return errors.New("its address cannot be read: delete it and make another")
	}
	q.Header.Set("Content-Type", "application/json")
	q.Header.Set("User-Agent", "Wetdown")
	q.Header.Set("webhook-id", d.ID)
	q.Header.Set("webhook-timestamp", strconv.FormatInt(at.Unix(), 10))
	q.Header.Set("webhook-signature", signature)
	a, err := r.client.Do(q)
	if err != nil {
		var without *url.Error // the address may be a secret
		if errors.As(err, &without) {
			err = without.Err
		}
		return fmt.Errorf("there was no answer: %w", err)
	}
	defer a.Body.Close()
	io.Copy(io.Discard, io.LimitReader(a.Body, hookAnswer)) // so that the connection can be used again
	switch {
	case a.StatusCode >= 200 && a.StatusCode < 300:
		return nil
	case a.StatusCode == http.StatusGone:
		return errGone
	case a.StatusCode >= 300 && a.StatusCode < 400:
		return fmt.Errorf("it answered %d and leads elsewhere, where nothing is sent: make a webhook with the address it leads to", a.StatusCode)
	}
	return fmt.Errorf("it answered %d where 2xx says that it has taken what it was sent", a.StatusCode)
}

// Sign is the header webhook-signature of a body, by version 1 of the Standard Webhooks
// specification. The secret is whsec_ and base64.
func Sign(secret, id string, at time.Time, body []byte) (string, error) {
	key, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(secret, "whsec_"))
	if err != nil {
		return "", errors.New("its secret cannot be read: delete it and make another")
	}
	h := hmac.New(sha256.New, key)
	fmt.Fprintf(h, "%s.%d.%s", id, at.Unix(), body)
	return "v1," + base64.StdEncoding.EncodeToString(h.Sum(nil)), nil
}
