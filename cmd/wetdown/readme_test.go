package main

import (
	"bufio"
	"bytes"
	"cmp"
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"wetdown/solver/plant"
)

// A fence is a fenced block of a Markdown file.
type fence struct {
	kind string // first word after the fence: sh, text, yaml
	name string // the second word: a file name
	from int    // its lines are [from, to), without the fences
	to   int
}

// fences lists the fenced blocks in order.
func fences(lines []string) (list []fence) {
	open := -1
	for i, l := range lines {
		switch {
		case !strings.HasPrefix(l, "```"):
		case open >= 0:
			list[open].to = i
			open = -1
		default:
			words := append(strings.Fields(strings.TrimPrefix(l, "```")), "", "")
			open = len(list)
			list = append(list, fence{kind: words[0], name: words[1], from: i + 1, to: len(lines)})
		}
	}
	return list
}

// TestReadme does what a reader of README.md does: it writes the files that are
// shown with a name, runs every command of the blocks marked sh, in order and in
// one folder, and compares what they print with the block marked text that
// follows. A line of three dots there stands for lines left out, and seconds are
// not compared. "# exit code N" after a command says with what it ends. UPDATE=1
// writes what is printed into README.md, except where lines are left out.
func TestReadme(t *testing.T) {
	lines := strings.Split(pageOf(t, "README.md"), "\n")
	blocks := fences(lines)
	r := &reader{t: t, root: mustAbs(root), bin: t.TempDir()}
	t.Chdir(t.TempDir())
	if err := os.Symlink(filepath.Join(r.root, "testdata"), "testdata"); err != nil { // the reader is in the root
		t.Fatal(err)
	}
	var fresh []string // README.md with what is printed now
	copied := 0
	compared := 0
	for n, b := range blocks {
		if b.kind == "sh" && b.name == "service" { // TestReadme_Service runs them
			for _, line := range lines[b.from:b.to] {
				r.ran = append(r.ran, strings.Join(strings.Fields(line), " "))
			}
			continue
		}
		switch b.kind {
		case "yaml":
			if b.name != "" {
				if err := os.WriteFile(b.name, []byte(strings.Join(lines[b.from:b.to], "\n")+"\n"), 0o644); err != nil {
					t.Fatal(err)
				}
			}
		case "sh":
			var printed strings.Builder
			for _, line := range lines[b.from:b.to] {
				printed.WriteString(r.run(line))
			}
			if n+1 == len(blocks) || blocks[n+1].kind != "text" || strings.TrimSpace(strings.Join(lines[b.to+1:blocks[n+1].from-1], "")) != "" {
				continue
			}
			compared++
			want := lines[blocks[n+1].from:blocks[n+1].to]
			got := strings.Split(strings.TrimRight(printed.String(), "\n"), "\n")
			if !shows(got, want) {
				if os.Getenv("UPDATE") != "" && !slices.Contains(want, elision) {
					fresh = append(fresh, lines[copied:blocks[n+1].from]...)
					fresh = append(fresh, got...)
					copied = blocks[n+1].to
					continue
				}
				t.Errorf("README.md, line %d: what is shown is not what is printed. If that is right, UPDATE=1 go test ./cmd/wetdown -run Readme; where lines are left out, by hand. Printed:\n%s", blocks[n+1].from, strings.Join(got, "\n"))
			}
		}
	}
	if copied > 0 {
		fresh = append(fresh, lines[copied:]...)
		if err := os.WriteFile(filepath.Join(r.root, "README.md"), []byte(strings.Join(fresh, "\n")), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if compared < 5 {
		t.Errorf("%d blocks compared: README.md has more, or this test does not see them", compared)
	}
	r.complete()
}

// TestReadme_Service does what a reader of the chapter about the service does: it starts the
// service on an empty database, runs the blocks marked "sh service" in one shell, in
// order, and compares what they print with the block marked text that follows. The
// service listens on a free port instead of the one that is shown.
func TestReadme_Service(t *testing.T) {
	shell, err := exec.LookPath("bash")
	if err == nil {
		_, err = exec.LookPath("curl")
	}
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal(err)
		}
		t.Skip("the examples are for bash and curl:", err)
	}
	lines := strings.Split(pageOf(t, "README.md"), "\n")
	blocks := fences(lines)
	dir := t.TempDir()
	start := ""
	var script strings.Builder
	want := map[int][]string{} // lines printed by a block
	for n, b := range blocks {
		text := strings.Join(lines[b.from:b.to], "\n")
		switch {
		case b.name == "plant.yaml":
			if err := os.WriteFile(filepath.Join(dir, b.name), []byte(text+"\n"), 0o644); err != nil {
				t.Fatal(err)
			}
		case b.kind != "sh" || b.name != "service":
		case strings.HasPrefix(text, "wetdown serve "):
			start = text
		default:
			fmt.Fprintf(&script, "%s\necho '@@@ %d'\n", text, n)
			if n+1 < len(blocks) && blocks[n+1].kind == "text" && strings.TrimSpace(strings.Join(lines[b.to+1:blocks[n+1].from-1], "")) == "" {
				want[n] = lines[blocks[n+1].from:blocks[n+1].to]
			}
		}
	}
	if start == "" || len(want) < 5 {
		t.Fatalf("README.md starts the service with %q and shows %d answers: this test looks in the wrong place", start, len(want))
	}
	t.Chdir(dir)
	url, password := serving(t, append(strings.Fields(start)[1:], "--listen", "127.0.0.1:0"))
	c := exec.Command(shell, "-e", "-o", "pipefail", "-c", strings.ReplaceAll(script.String(), "http://127.0.0.1:8080", url))
	c.Dir, c.Env = dir, append(os.Environ(), "PASSWORD="+password)
	out, err := c.CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	rest := string(out)
	for n, b := range blocks {
		if b.kind != "sh" || b.name != "service" || strings.HasPrefix(lines[b.from], "wetdown serve ") {
			continue
		}
		var printed string
		printed, rest, _ = strings.Cut(rest, fmt.Sprintf("@@@ %d\n", n))
		var got []string
		for _, line := range strings.Split(printed, "\n") {
			if strings.TrimSpace(line) != "" {
				got = append(got, line)
			}
		}
		if w, shown := want[n]; shown && !shows(got, w) {
			t.Errorf("README.md, line %d: what is shown is not what is printed:\n%s", b.from, strings.Join(got, "\n"))
		}
	}
}

// serving runs the program, which serves, until the test ends. It returns the address and
// the password of admin.
func serving(t *testing.T, args []string) (url, password string) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	said, say := io.Pipe()
	ended := make(chan int, 1)
	go func() {
		ended <- run(ctx, args, strings.NewReader(""), io.Discard, say, time.Now)
		say.Close()
	}()
	lines := bufio.NewScanner(said)
	for url == "" && lines.Scan() {
		if _, after, ok := strings.Cut(lines.Text(), "listening on "); ok {
			url = after
		}
		if _, after, ok := strings.Cut(lines.Text(), "log in as admin with "); ok {
			password, _, _ = strings.Cut(after, " ")
		}
	}
	go func() { // what it logs is not looked at
		for lines.Scan() {
		}
	}()
	t.Cleanup(func() {
		cancel()
		if code := <-ended; code != done {
			t.Errorf("the service ended with exit code %d", code)
		}
	})
	if url == "" {
		t.Fatal("the service does not say where it listens")
	}
	return url, password
}

// elision is a line that stands for lines left out.
const elision = "..."

// seconds differ from run to run.
var seconds = regexp.MustCompile(`[0-9]+\.[0-9]+ s\b`)

// shows reports whether the lines printed are those wanted.
func shows(got, want []string) bool {
	if len(want) == 0 {
		return len(got) == 0
	}
	if want[0] == elision {
		for n := range len(got) + 1 {
			if shows(got[n:], want[1:]) {
				return true
			}
		}
		return false
	}
	return len(got) > 0 && seconds.ReplaceAllString(got[0], "N s") == seconds.ReplaceAllString(want[0], "N s") && shows(got[1:], want[1:])
}

// A reader runs the commands of README.md.
type reader struct {
	t    *testing.T
	root string
	bin  string   // where go install puts programs
	ran  []string // commands
}

// run runs one line and returns what it prints.
func (r *reader) run(line string) string {
	command, comment, _ := strings.Cut(line, "#")
	words := strings.Fields(command)
	if len(words) == 0 {
		return ""
	}
	want := 0
	if comment != "" {
		if _, err := fmt.Sscanf(comment, " exit code %d", &want); err != nil {
			r.t.Errorf("README.md: %q: a comment says the exit code and nothing else", line)
		}
	}
	r.ran = append(r.ran, strings.Join(words, " "))
	var out bytes.Buffer
	var code int
	switch {
	case words[0] == "wetdown":
		if code = run(context.Background(), words[1:], strings.NewReader(""), &out, &out, time.Now); code != want {
			r.t.Errorf("README.md: %s: exit code %d, want %d\n%s", line, code, want, out.String())
		}
	case strings.Join(words, " ") == "go test -timeout 20m ./...": // it is running
	case words[0] == "go":
		c := exec.Command("go", words[1:]...)
		c.Dir, c.Stdout, c.Stderr = r.root, &out, &out
		c.Env = append(os.Environ(), "GOBIN="+r.bin)
		if err := c.Run(); err != nil {
			r.t.Errorf("README.md: %s: %v\n%s", line, err, out.String())
		}
	default:
		r.t.Errorf("README.md: %s: this test can run go and wetdown, and nothing else", line)
	}
	return out.String()
}

// complete complains of commands that README.md does not show.
func (r *reader) complete() {
	commands := reflect.TypeFor[cli]()
	for i := range commands.NumField() {
		f := commands.Field(i)
		if _, ok := f.Tag.Lookup("cmd"); !ok {
			continue
		}
		name := cmp.Or(f.Tag.Get("name"), strings.ToLower(f.Name))
		if !slices.ContainsFunc(r.ran, func(ran string) bool { return strings.Contains(ran+" ", " "+name+" ") }) {
			r.t.Errorf("README.md shows no example of wetdown %s", name)
		}
	}
}

// TestReadme_Cautions compares the cautions of README.md with those of the program.
func TestReadme_Cautions(t *testing.T) {
	text := pageOf(t, "README.md")
	cautions := plant.Cautions()
	if len(cautions) == 0 {
		t.Error("the program has no cautions")
	}
	for _, c := range cautions {
		if row := fmt.Sprintf("| **%s** | %s |\n", c.Title, strings.TrimSuffix(c.Text, " "+plant.Deferral)); !strings.Contains(text, row) {
			t.Errorf("README.md has no row\n%s", row)
		}
	}
	if !strings.Contains(text, "\n"+plant.Deferral+"\n") {
		t.Errorf("README.md does not say: %s", plant.Deferral)
	}
}
