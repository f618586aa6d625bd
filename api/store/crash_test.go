package store

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"wetdown/api"
	"wetdown/solver/plant"
)

// crashFile names the variable that makes this program a writer to a SQLite file.
const crashFile = "WETDOWN_STORE_CRASH_FILE"

// crashText is what revision n makes of a piece.
func crashText(n int64, i int) string {
	return fmt.Sprintf("{n: %d, i: %d, pad: %s}", n, i, strings.Repeat("x", int(n*37%3000)))
}

// crashPieces is how many pieces a revision changes.
const crashPieces = 3

// writeUntilKilled adds revisions with what belongs to them, and prints the number of
// each once Update has returned.
func writeUntilKilled(name string) {
	ctx := context.Background()
	s, err := Open(ctx, name)
	for err == nil {
		var n int64
		err = s.Update(ctx, func(x api.Tx) error {
			head, err := x.Head()
			if err != nil {
				return err
			}
			n = head + 1
			var changes []plant.PieceChange
			for i := range crashPieces {
				changes = append(changes, to(fmt.Sprintf("k%d", i), crashText(n, i)))
			}
			if err := x.AddRevision(revision(n), changes); err != nil {
				return err
			}
			r, err := x.Get("count", "1")
			if err != nil && !errors.Is(err, api.ErrNone) {
				return err
			}
			r.Kind, r.ID, r.Body = "count", "1", fmt.Append(nil, n)
			if _, err := x.Put(r); err != nil {
				return err
			}
			return x.AddEvent(api.Event{At: noon, Detail: fmt.Sprint(n)})
		})
		if err == nil {
			fmt.Println(n)
		}
	}
	fmt.Fprintln(os.Stderr, err)
	os.Exit(1)
}

// A writer is killed at whatever moment, again and again, on one file. Every revision
// that it said was kept is there, whole, and nothing is there by half. (A kill is
// no power failure: what the system has not yet handed to the disk survives it.)
func TestStore_Crash(t *testing.T) {
	times := 200
	if testing.Short() {
		times = 40
	}
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	dice := rand.New(rand.NewPCG(20270405, 1))
	name := filepath.Join(t.TempDir(), "crash.db")
	last, early := int64(0), 0
	for round := range times {
		writer := exec.Command(self)
		writer.Env = append(os.Environ(), crashFile+"="+name)
		var complaint strings.Builder
		writer.Stderr = &complaint
		out, err := writer.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := writer.Start(); err != nil {
			t.Fatal(err)
		}
		// After some lines and a moment; every fifth perhaps while it opens the file.
		lines, wait := dice.IntN(12), time.Duration(dice.IntN(4000))*time.Microsecond
		if round%5 == 0 {
			lines, wait = 0, time.Duration(dice.IntN(40000))*time.Microsecond
		}
		in := bufio.NewReader(out)
		before := last
		read := func() bool {
			line, err := in.ReadString('\n')
			if err != nil {
				return false // a line that is cut off promises nothing
			}
			if _, err := fmt.Sscan(line, &last); err != nil {
				t.Fatalf("the writer says %q", line)
			}
			return true
		}
		for range lines {
			if !read() {
				t.Fatalf("round %d: the writer ends by itself: %s", round, complaint.String())
			}
		}
		time.Sleep(wait)
		if err := writer.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		for read() {
		}
		writer.Wait()
		if complaint.Len() > 0 {
			t.Fatalf("round %d: the writer complains: %s", round, complaint.String())
		}
		kept := whole(t, name, last, before)
		if last == before {
			early++
		}
		last = kept // perhaps one more than was said
		if t.Failed() {
			t.Fatalf("round %d", round)
		}
	}
	t.Logf("%d kills, %d of them before anything was kept in that round; %d revisions", times, early, last)
	if last < int64(times) {
		t.Errorf("%d revisions in %d rounds: the writer hardly wrote", last, times)
	}
}

// whole looks at all that a writer kept since a revision, of which it printed the
// last; it may have been killed after keeping one more. The newest is returned.
func whole(t *testing.T, name string, last, since int64) (head int64) {
	s, err := Open(t.Context(), name)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if err := s.Check(t.Context()); err != nil {
		t.Fatal(err)
	}
	view(t, s, func(x api.Tx) error {
		var err error
		if head, err = x.Head(); err != nil {
			return err
		}
		if head != last && head != last+1 {
			t.Fatalf("revision %d was said to be kept, and the newest is %d", last, head)
		}
		for n := max(1, since); n <= head; n++ {
			yields(t, revision(n))(x.Revision(n))
			var want []plant.PieceChange
			for i := range crashPieces {
				c := to(fmt.Sprintf("k%d", i), crashText(n, i))
				if n > 1 {
					c.Before = crashText(n-1, i)
				}
				want = append(want, c)
			}
			yields(t, want)(x.Changes(n))
		}
		if head > 0 {
			r, err := x.Get("count", "1")
			if err != nil {
				return err
			}
			var n int64
			if err := json.Unmarshal(r.Body, &n); err != nil || n != head || r.Version != head {
				t.Errorf("the record says %s in version %d, and the newest revision is %d", r.Body, r.Version, head)
			}
		}
		events, err := x.Events(0, 0)
		yields(t, int(head))(len(events), err)
		return nil
	})
	return head
}
