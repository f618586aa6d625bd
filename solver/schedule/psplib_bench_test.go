package schedule

import (
	"bytes"
	"context"
	"encoding/csv"
	"flag"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"syscall"
	"testing"
	"time"
)

// BenchmarkPSPLIB proves a whole published set: a folder of .sm files, and a file
// bounds.csv with the columns set, instance, lower bound, upper bound, status.
//
//	go test ./solver/schedule -run '^$' -bench PSPLIB -benchtime 1x -v -timeout 0 -psplib DIR/j30 -bounds DIR/bounds.csv
var (
	psplibDir    = flag.String("psplib", "", "BenchmarkPSPLIB: folder of .sm files")
	psplibBounds = flag.String("bounds", "", "BenchmarkPSPLIB: file of published bounds")
	psplibLimit  = flag.Duration("psplib-limit", time.Minute, "BenchmarkPSPLIB: processor seconds of this process that one proof may take")
)

// spent is the processor time of this process: other processes lengthen it little.
func spent() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		panic(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

func BenchmarkPSPLIB(b *testing.B) {
	dir, bounds := *psplibDir, *psplibBounds
	if dir == "" {
		dir, bounds = "../../testdata/psplib/j30", ""
	}
	best, upper := map[string]int64{}, map[string]int64{} // optima, and best known
	if bounds != "" {
		f, err := os.Open(bounds)
		if err != nil {
			b.Fatal(err)
		}
		defer f.Close()
		rows, err := csv.NewReader(f).ReadAll()
		if err != nil {
			b.Fatal(err)
		}
		for _, r := range rows[1:] {
			n, err := strconv.ParseInt(r[3], 10, 64)
			if err != nil {
				b.Fatal(err)
			}
			if upper[r[1]] = n; r[4] == "opt" {
				best[r[1]] = n
			}
		}
	}
	files, err := filepath.Glob(filepath.Join(dir, "*.sm"))
	if err != nil || len(files) == 0 {
		b.Fatalf("no .sm files in %s", dir)
	}
	for range b.N {
		var took []float64
		proven, right, open, reached := 0, 0, 0, 0
		for _, name := range files {
			text, err := os.ReadFile(name)
			if err != nil {
				b.Fatal(err)
			}
			begin := spent()
			p, err := ReadPSPLIB(bytes.NewReader(text))
			if err != nil {
				b.Fatal(err)
			}
			ctx, cancel := context.WithCancel(context.Background())
			go func() {
				for ctx.Err() == nil && spent()-begin < *psplibLimit {
					time.Sleep(10 * time.Millisecond)
				}
				cancel()
			}()
			r, err := Solve(ctx, p, Options{})
			cancel()
			if err != nil {
				b.Fatal(name, err)
			}
			seconds := (spent() - begin).Seconds()
			took = append(took, seconds)
			want, known := best[filepath.Base(name)]
			if most, ok := upper[filepath.Base(name)]; ok && len(r.Values) > 0 && r.Values[0] <= most {
				reached++
			}
			switch {
			case r.Status != Optimal:
				open++
				b.Logf("%s: not proven in %s: %v, bound %v, best known %d", filepath.Base(name), *psplibLimit, r.Values, r.Bounds, upper[filepath.Base(name)])
			case known && r.Values[0] != want:
				b.Errorf("%s: makespan %d proven, published %d", name, r.Values[0], want)
			default:
				proven++
				if known {
					right++
				}
				if seconds > 10 {
					b.Logf("%s: %d proven in %.1f s", filepath.Base(name), r.Values[0], seconds)
				}
			}
		}
		slices.Sort(took)
		b.Logf("%d instances: %d proven (%d against a published optimum), %d open, best known reached by %d; processor seconds: median %.3f, 90%% %.3f, worst %.1f",
			len(files), proven, right, open, reached, took[len(took)/2], took[len(took)*9/10], took[len(took)-1])
		b.ReportMetric(float64(proven), "proven")
		b.ReportMetric(took[len(took)/2], "median-s")
	}
}
