package store

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"wetdown/api"
	"wetdown/solver/plant"
)

// fill keeps something of every sort, more rows than one statement inserts.
func fill(t testing.TB, s *Store) {
	update(t, s, func(x api.Tx) error {
		var changes []plant.PieceChange
		for i := range 1234 {
			changes = append(changes, to(fmt.Sprintf("z%04d", i), fmt.Sprintf("{text: \"%d <&> ü \\n\"}", i)))
		}
		if err := x.AddRevision(revision(1), changes); err != nil {
			return err
		}
		if err := x.AddRevision(revision(2), []plant.PieceChange{to("z0003", ""), to("name", "\t\"\\ \u2028 🚒\x01")}); err != nil {
			return err
		}
		for i := range 5 {
			r := api.Record{Kind: "file", ID: fmt.Sprint(i), Body: bytes.Repeat([]byte("body "), 100_000)}
			if i%2 == 0 {
				r.Due = noon.Add(-60 * 365 * 24 * time.Hour) // before 1970
			}
			r, err := x.Put(r)
			if err != nil {
				return err
			}
			if r.State = "again"; i == 1 {
				if _, err := x.Put(r); err != nil {
					return err
				}
			}
		}
		return errors.Join(x.Delete("file", "4"), x.AddEvent(api.Event{At: noon, Detail: "one"}), x.AddEvent(api.Event{At: noon, Detail: "two"}))
	})
}

func backup(t testing.TB, s *Store) (name string, data []byte) {
	t.Helper()
	name = filepath.Join(t.TempDir(), "wetdown.backup")
	if _, err := s.Backup(t.Context(), name); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return name, data
}

// From either database into either: the backup of what was restored is the same bytes.
func TestStore_BackupAndRestore(t *testing.T) {
	for _, from := range kinds {
		for _, into := range kinds {
			t.Run(from.name+"To"+into.name, func(t *testing.T) {
				one, two := open(t, from.url(t)), open(t, into.url(t))
				fill(t, one)
				name, want := backup(t, one)
				rows, err := two.Restore(t.Context(), name, false)
				if err != nil || rows != 2+1236+4+2+1 {
					t.Fatalf("%d rows, %v", rows, err)
				}
				if _, got := backup(t, two); !bytes.Equal(got, want) {
					t.Error("the backup of what was restored differs from the backup")
				}
				// It goes on from there, as the other one does.
				for _, s := range []*Store{one, two} {
					update(t, s, func(x api.Tx) error {
						r, err := x.Put(api.Record{Kind: "file", ID: "5"})
						if r.Seq != 6 {
							t.Errorf("the next record is number %d", r.Seq)
						}
						return errors.Join(err, x.AddRevision(revision(3), nil), x.AddEvent(api.Event{}))
					})
					if err := s.Check(t.Context()); err != nil {
						t.Error(err)
					}
					if _, err := s.write.Exec("DELETE FROM event"); err == nil {
						t.Error("events may be deleted after restoring")
					}
				}
				// Never over something, unless that is said; then all of the old is gone.
				_, before := backup(t, two)
				if _, err := two.Restore(t.Context(), name, false); err == nil || !strings.Contains(err.Error(), "--replace") {
					t.Errorf("restored over a database that is not empty: %v", err)
				}
				if _, after := backup(t, two); !bytes.Equal(after, before) {
					t.Error("a refused restore changed something")
				}
				if _, err := two.Restore(t.Context(), name, true); err != nil {
					t.Fatal(err)
				}
				if _, got := backup(t, two); !bytes.Equal(got, want) {
					t.Error("restored with replace, it differs from the backup")
				}
				if _, err := two.write.Exec("UPDATE piece SET text = ''"); err == nil {
					t.Error("pieces may be changed after replacing")
				}
			})
		}
	}
}

// The format by another reader: lines of JSON and a sum, with the standard library.
func TestStore_BackupFormat(t *testing.T) {
	each(t, func(t *testing.T, s *Store) {
		fill(t, s)
		_, data := backup(t, s)
		z, err := gzip.NewReader(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(z)
		if err != nil {
			t.Fatal(err)
		}
		lines := strings.SplitAfter(strings.TrimSuffix(string(text), "\n"), "\n")
		last := lines[len(lines)-1]
		var end struct {
			Rows   int
			SHA256 string
		}
		if err := json.Unmarshal([]byte(last), &end); err != nil {
			t.Fatal(err)
		}
		if sum := sha256.Sum256([]byte(strings.Join(lines[:len(lines)-1], ""))); end.SHA256 != hex.EncodeToString(sum[:]) || end.Rows != 1245 {
			t.Errorf("the end %s has not the sum of the lines, or not their number", last)
		}
		if lines[0] != "{\"wetdown_backup\":1}\n" || lines[2] != `[1,0,1806930000007,"ada","book","Größe 3½ — «é»","change 1",0]`+"\n" {
			t.Errorf("it begins\n%s", strings.Join(lines[:3], ""))
		}
	})
}

// A backup is one moment, whatever others write meanwhile.
func TestStore_BackupWhileWriting(t *testing.T) {
	each(t, func(t *testing.T, s *Store) {
		stop, stopped := make(chan bool), make(chan error)
		go func() {
			for n := int64(1); ; n++ {
				select {
				case <-stop:
					stopped <- nil
					return
				default:
				}
				err := s.Update(t.Context(), func(x api.Tx) error {
					_, err := x.Put(api.Record{Kind: "k", ID: fmt.Sprint(n)})
					return errors.Join(err, x.AddRevision(revision(n), []plant.PieceChange{to("a", fmt.Sprint(n))}), x.AddEvent(api.Event{}))
				})
				if err != nil {
					stopped <- err
					return
				}
			}
		}()
		for range 5 {
			name, _ := backup(t, s)
			two := open(t, kinds[0].url(t))
			if _, err := two.Restore(t.Context(), name, false); err != nil {
				t.Fatal(err)
			}
			view(t, two, func(x api.Tx) error {
				head, err := x.Head()
				if err != nil {
					return err
				}
				list, err := x.List(api.Query{Kind: "k"})
				yields(t, int(head))(len(list), err)
				events, err := x.Events(0, 0)
				yields(t, int(head))(len(events), err)
				return nil
			})
		}
		close(stop)
		if err := <-stopped; err != nil {
			t.Error(err)
		}
	})
}

func TestStore_BackupOverwritesNothing(t *testing.T) {
	s := open(t, kinds[0].url(t))
	dir := t.TempDir()
	name := filepath.Join(dir, "b")
	if err := os.WriteFile(name, []byte("mine"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Backup(t.Context(), name); err == nil || !strings.Contains(err.Error(), "overwrites nothing") {
		t.Errorf("over a file: %v", err)
	}
	if data, _ := os.ReadFile(name); string(data) != "mine" {
		t.Errorf("the file is now %q", data)
	}
	if _, err := s.Backup(t.Context(), filepath.Join(dir, "none", "b")); err == nil || !strings.Contains(err.Error(), "a folder that is there") {
		t.Errorf("into no folder: %v", err)
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) != 1 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

// What is cut short, changed in one byte, or of something else leaves the database as it
// is.
func TestStore_RestoreRefuses(t *testing.T) {
	zipped := func(text string) []byte {
		var b bytes.Buffer
		z := gzip.NewWriter(&b)
		io.WriteString(z, text)
		z.Close()
		return b.Bytes()
	}
	// sealed is a backup with a right end: rows are counted, and the sum is that of
	// the lines.
	sealed := func(lines string) []byte {
		sum := sha256.Sum256([]byte(lines))
		return zipped(fmt.Sprintf("%s{\"rows\":%d,\"sha256\":\"%x\"}\n", lines, strings.Count(lines, "\n["), sum))
	}
	each(t, func(t *testing.T, s *Store) {
		update(t, s, func(x api.Tx) error {
			return errors.Join(x.AddRevision(revision(1), []plant.PieceChange{to("name", "Vellimere")}), x.AddEvent(api.Event{Detail: "d"}))
		})
		_, good := backup(t, s)
		z, err := gzip.NewReader(bytes.NewReader(good))
		if err != nil {
			t.Fatal(err)
		}
		all, err := io.ReadAll(z)
		if err != nil {
			t.Fatal(err)
		}
		text := string(all)
		body := text[:strings.LastIndex(text[:len(text)-1], "\n")+1]
		if !bytes.Equal(sealed(body), good) {
			t.Fatal("a sealed backup is not the same bytes: this test makes no backups")
		}
		with := func(old, new string) []byte {
			if !strings.Contains(body, old) {
				t.Fatalf("%q is not in the backup", old)
			}
			return sealed(strings.Replace(body, old, new, 1))
		}
		for name, c := range map[string]struct {
			data []byte
			want string
		}{
			"nothing":               {nil, "it is no backup"},
			"a text":                {[]byte("wetdown: 1\nname: Vellimere\n"), "it is no backup"},
			"another zipped file":   {zipped("wetdown: 1\n"), "it is no backup"},
			"cut in the middle":     {good[:len(good)/2], "cut short or damaged"},
			"without its end":       {zipped(body), "cut short or damaged"},
			"a text changed":        {zipped(strings.Replace(text, "Vellimere", "Vellimare", 1)), "damaged: its rows are not those"},
			"a line less":           {zipped(strings.Replace(text, "[\"name\",1,\"Vellimere\"]\n", "", 1)), "damaged: its rows are not those"},
			"more after the end":    {zipped(text + "[]\n"), "there is more after its end"},
			"of a newer program":    {with(`"wetdown_backup":1`, `"wetdown_backup":2`), "its format is 2, and this program reads 1"},
			"a column less":         {with(`,"text"]`, "]"), "other tables"},
			"a table twice":         {sealed(body + body[strings.LastIndex(body, `{"table"`):]), "its rows are not those"},
			"a row too short":       {with(`["name",1,"Vellimere"]`, `["name",1]`), "has not its 3 columns"},
			"a row before tables":   {with("{\"wetdown_backup\":1}\n", "{\"wetdown_backup\":1}\n[1]\n"), "has not its 0 columns"},
			"a fraction":            {with(`["name",1,"Vellimere"]`, `["name",1.5,"Vellimere"]`), "is no integer"},
			"a truth":               {with(`["name",1,"Vellimere"]`, `["name",1,true]`), "neither integer nor text"},
			"a gap in revisions":    {with(`[1,0,`, `[2,0,`), ""}, // the database or Check
			"a piece of no list":    {with(`["name",1,"Vellimere"]`, `["trucks/T-1",1,"{id: T-1}"]`), "does not hang together"},
			"a gap in the trail":    {with(`[1,-62135596800000,"","","","","d"]`, `[2,-62135596800000,"","","","","d"]`), "event 1 is missing"},
			"a piece of revision 2": {with(`["name",1,"Vellimere"]`, `["name",2,"Vellimere"]`), ""},
		} {
			file := filepath.Join(t.TempDir(), "b")
			if err := os.WriteFile(file, c.data, 0o600); err != nil {
				t.Fatal(err)
			}
			if _, err := s.Restore(t.Context(), file, true); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%s: %v, want %q", name, err, c.want)
			}
			if _, now := backup(t, s); !bytes.Equal(now, good) {
				t.Fatalf("%s: something was changed", name)
			}
		}
		for i := range good { // every byte, turned over
			bad := bytes.Clone(good)
			bad[i] ^= 0x55
			rows, err := readBackup(bytes.NewReader(bad), func(table, []any) error { return nil })
			// Some bytes in the head of a gzip file say when and where it was made (RFC 1952,
			// section 2.3).
			if free := i >= 4 && i <= 9; err == nil && !free {
				t.Errorf("byte %d of %d turned over: %d rows are read", i, len(good), rows)
			}
		}
	})
}

// A file of format 1 as the first program that wrote one left it. It is never written
// anew: what people have kept must come back for good.
func TestStore_RestoreFormat1(t *testing.T) {
	each(t, func(t *testing.T, s *Store) {
		rows, err := s.Restore(t.Context(), filepath.Join("..", "..", "testdata", "store", "format1.backup"), false)
		if err != nil || rows != 66 {
			t.Fatalf("%d rows, %v", rows, err)
		}
		if err := s.Check(t.Context()); err != nil {
			t.Error(err)
		}
		view(t, s, func(x api.Tx) error {
			yields(t, []api.Revision{revision(2), revision(1)})(x.Revisions(0, 0))
			yields(t, api.Record{Kind: "call", ID: "1", State: "open", Ref: "T-1", Due: noon, Body: []byte(`{"who": "Mirrenwade"}`), Version: 1, Seq: 1})(x.Get("call", "1"))
			yields(t, []api.Event{{Seq: 1, At: noon, Who: "ada", Act: "rename", Outcome: "done"}})(x.Events(0, 0))
			changes, err := x.Changes(2)
			if len(changes) != 2 || changes[0].After != "Vellimere Fire Apparatus" {
				t.Errorf("revision 2 changes %v", changes)
			}
			if err != nil {
				return err
			}
			pieces, err := x.Pieces(2)
			if err != nil {
				return err
			}
			text, err := plant.Join(pieces)
			if _, faults := plant.Read("joined", text); len(faults) > 0 {
				t.Errorf("the plant has faults: %v", faults)
			}
			return err
		})
	})
}
