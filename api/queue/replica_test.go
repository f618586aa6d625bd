package queue_test

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wetdown/api"
	"wetdown/api/queue"
	"wetdown/api/store"
	"wetdown/api/store/pgtest"
	"wetdown/solver"
	"wetdown/solver/generate"
	"wetdown/solver/plant"
)

// replicaEnv names the database on which this program is one of several processes.
const replicaEnv = "WETDOWN_TEST_REPLICA"

func TestMain(m *testing.M) {
	if url := os.Getenv(replicaEnv); url != "" {
		if err := replica(url); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	os.Exit(m.Run())
}

// leased is how applications of these tests are set up.
var leased = api.Options{Clock: time.Now, Lease: 2 * time.Second}

// replica works on the jobs of a database until standard input ends. It says on
// standard output when it is ready, and which jobs it is handed.
func replica(url string) error {
	ctx := context.Background()
	s, err := store.Open(ctx, url)
	if err != nil {
		return err
	}
	app := api.New(s, leased)
	q, err := queue.NewShared(ctx, url, loud{app}, queue.Options{Sweep: 300 * time.Millisecond})
	if err != nil {
		return err
	}
	app.Serve(q)
	fmt.Println("ready")
	_, err = io.Copy(io.Discard, os.Stdin)
	return errors.Join(err, q.Close(over), app.Close(), s.Close())
}

// loud is an application that says which jobs it is handed.
type loud struct{ *api.App }

func (l loud) Work(ctx context.Context, id string) error {
	fmt.Println(id)
	return l.App.Work(ctx, id)
}

// A process is a replica of its own.
type process struct {
	cmd   *exec.Cmd
	stdin io.Closer
}

// spawn starts a replica. The names of the jobs it is handed come out of the channel,
// beside the process.
func spawn(t *testing.T, url string, handed chan<- process) process {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	p := process{cmd: exec.Command(self)}
	p.cmd.Env = append(os.Environ(), replicaEnv+"="+url)
	p.cmd.Stderr = os.Stderr
	if p.stdin, err = p.cmd.StdinPipe(); err != nil {
		t.Fatal(err)
	}
	out, err := p.cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	said := bufio.NewScanner(out)
	if !said.Scan() || said.Text() != "ready" {
		t.Fatalf("the replica said %q: %v", said.Text(), said.Err())
	}
	go func() {
		for said.Scan() {
			handed <- p
		}
	}()
	return p
}

// TestReplicas kills one of two processes while it answers a job. The other one
// answers it, and the answer is the one that the planner gives here.
func TestReplicas(t *testing.T) {
	url := pgtest.URL(t)
	ctx := t.Context()
	s, err := store.Open(ctx, url)
	if err != nil {
		t.Fatal(err)
	}
	app := api.New(s, leased)
	defer func() {
		if err := errors.Join(s.Check(context.Background()), app.Close(), s.Close()); err != nil {
			t.Error(err)
		}
	}()
	admin := api.Actor{Name: "admin", Acts: api.Acts()}
	p := generate.Generate(generate.Options{Trucks: 60, Seed: 2, Load: 0.9})
	p.Plan = nil
	if _, err := app.Load(ctx, admin, api.Intent{}, p); err != nil {
		t.Fatal(err)
	}

	handed := make(chan process, 100)
	replicas := []process{spawn(t, url, handed), spawn(t, url, handed)}
	// Nobody tells a queue of the job: it is for the replicas to find.
	j, err := app.AskProposal(ctx, admin, api.ProposeQuestion{})
	if err != nil {
		t.Fatal(err)
	}
	look := func(until func(*api.Job) bool) *api.Job {
		t.Helper()
		for {
			now, err := app.Job(ctx, admin, j.ID)
			if err != nil {
				t.Fatal(err)
			}
			if until(now) {
				return now
			}
			time.Sleep(5 * time.Millisecond)
		}
	}
	dead := <-handed
	look(func(j *api.Job) bool { return j.State == api.JobRunning })
	if err := dead.cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	dead.cmd.Wait() // says that it was killed
	if now := look(func(*api.Job) bool { return true }); now.State != api.JobRunning {
		t.Fatalf("the job was %s before its process was killed: it is too easy for this test", now.State)
	}
	done := look((*api.Job).Finished)
	for _, r := range replicas {
		if r.cmd.Process.Pid == dead.cmd.Process.Pid {
			continue
		}
		r.stdin.Close()
		if err := r.cmd.Wait(); err != nil {
			t.Errorf("the other process: %v", err)
		}
	}

	if done.State != api.JobDone || done.Turn != 2 || done.Attempts != 2 {
		t.Fatalf("the job is %s (%v) after %d turns, %d of them to the end or to death", done.State, done.Problem, done.Turn, done.Attempts)
	}
	list, err := app.Proposals(ctx, admin, "", api.Page{})
	if err != nil || len(list) != 1 {
		t.Fatalf("there are %d proposals, %v", len(list), err)
	}
	var answer api.Proposal
	if err := json.Unmarshal(done.Answer, &answer); err != nil {
		t.Fatal(err)
	}
	want, err := solver.Plan(ctx, p, solver.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if answer.Status != plant.Optimal {
		t.Errorf("the answer is %s", answer.Status)
	}
	if diff := cmp.Diff(want.Tiers, answer.Tiers); diff != "" {
		t.Errorf("the answer has other tiers than the planner gives (-planner +answer):\n%s", diff)
	}
	if diff := cmp.Diff(answer.Tiers, list[0].Tiers); diff != "" {
		t.Errorf("the proposal kept is another one (-answer +kept):\n%s", diff)
	}
}
