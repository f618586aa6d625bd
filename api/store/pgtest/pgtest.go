package pgtest

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	_ "github.com/jackc/pgx/v5/stdlib" // the driver pgx
)

// server is the URL of a server that tests may make databases on. It is started at
// most once in a test program.
var server = sync.OnceValues(start)

var databases atomic.Int64

// errNone is that there is no PostgreSQL on this machine.
var errNone = errors.New("PostgreSQL is missing: apt-get install postgresql, or set WETDOWN_TEST_POSTGRES to the URL of a server")

// URL returns the URL of a new, empty database, which goes when the test ends. It is
// on the server that WETDOWN_TEST_POSTGRES names, else on one started for the tests
// with what the Debian package postgresql brings. Without either the test is skipped,
// but fails in continuous integration (CI=true).
func URL(t testing.TB) string {
	t.Helper()
	at, err := server()
	switch {
	case err == nil:
	case errors.Is(err, errNone) && os.Getenv("CI") != "true":
		t.Skipf("NOT TESTED: %v", err)
	default:
		t.Fatal(err)
	}
	name := fmt.Sprintf("wetdown_test_%d_%d", os.Getpid(), databases.Add(1))
	// Texts sort by a dictionary there, as on many servers: what must be in order of
	// bytes has to say so.
	command(t, at, "CREATE DATABASE "+name+" TEMPLATE template0 ENCODING 'UTF8' LOCALE_PROVIDER icu ICU_LOCALE 'en-US' LOCALE 'C.UTF-8'")
	t.Cleanup(func() { command(t, at, "DROP DATABASE "+name+" WITH (FORCE)") })
	u, err := url.Parse(at)
	if err != nil {
		t.Fatal(err)
	}
	u.Path = "/" + name
	return u.String()
}

// command runs one statement on the server.
func command(t testing.TB, at, statement string) {
	t.Helper()
	db, err := sql.Open("pgx", at)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.ExecContext(context.Background(), statement); err != nil {
		t.Fatal(err)
	}
}

// script runs a server until its standard input ends, which it does when the test
// program ends in whatever way, and takes its folder away. Nothing is forced to the
// disk: these databases may be lost.
const script = `
trap '' INT TERM HUP
cd "$1" || exit 1
PATH="$2:$PATH"
initdb -D data -U wetdown --auth=trust -E UTF8 --locale=C.UTF-8 --no-sync >log 2>&1 || { cat log; rm -rf "$1"; exit 1; }
postgres -D data -c listen_addresses= -c unix_socket_directories="$1" -c fsync=off -c synchronous_commit=off -c full_page_writes=off -c max_connections=200 >>log 2>&1 &
read -r _
kill -QUIT $!
wait $!
cd / && rm -rf "$1"
`

func start() (string, error) {
	if at := os.Getenv("WETDOWN_TEST_POSTGRES"); at != "" {
		return at, nil
	}
	found, err := filepath.Glob("/usr/lib/postgresql/*/bin/postgres")
	if err != nil || len(found) == 0 {
		return "", errNone
	}
	bin := filepath.Dir(found[len(found)-1])
	dir, err := os.MkdirTemp("", "wetdown-pg-")
	if err != nil {
		return "", err
	}
	run := exec.Command("sh", "-c", script, "sh", dir, bin)
	if os.Geteuid() == 0 { // a server refuses to run as root
		if err := give(dir, "postgres"); err != nil {
			return "", err
		}
		run = exec.Command("runuser", append([]string{"-u", "postgres", "--"}, run.Args...)...)
	}
	if _, err := run.StdinPipe(); err != nil { // open until this program ends
		return "", err
	}
	if err := run.Start(); err != nil {
		return "", err
	}
	ended := make(chan error, 1)
	go func() { ended <- run.Wait() }()
	at := (&url.URL{Scheme: "postgres", Path: "/postgres", RawQuery: url.Values{"host": {dir}, "user": {"wetdown"}}.Encode()}).String()
	db, err := sql.Open("pgx", at)
	if err != nil {
		return "", err
	}
	defer db.Close()
	for range 3000 { // a minute and more
		if err = db.Ping(); err == nil {
			return at, nil
		}
		select {
		case said := <-ended:
			return "", fmt.Errorf("PostgreSQL in %s did not start: %v", bin, said)
		case <-time.After(20 * time.Millisecond):
		}
	}
	return "", fmt.Errorf("PostgreSQL in %s does not answer: see %s", bin, filepath.Join(dir, "log"))
}

// give makes a folder that of another account.
func give(dir, name string) error {
	u, err := user.Lookup(name)
	if err != nil {
		return err
	}
	uid, err := strconv.Atoi(u.Uid)
	if err != nil {
		return err
	}
	gid, err := strconv.Atoi(u.Gid)
	if err != nil {
		return err
	}
	return os.Chown(dir, uid, gid)
}
