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
	psplibLimit  = flag.Duration("psplib-limit", time.Minute, "BenchmarkPSPLIB: how long one proof may take")
)

func BenchmarkPSPLIB(b *testing.B) {
	dir, bounds := *psplibDir, *psplibBounds
	if dir == "" {
		dir, bounds = "../../testdata/psplib/j30", ""
	}
	best := map[string]int64{}
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
			if r[4] == "opt" {
				best[r[1]], err = strconv.ParseInt(r[3], 10, 64)
				if err != nil {
					b.Fatal(err)
				}
			}
		}
	}
	files, err := filepath.Glob(filepath.Join(dir, "*.sm"))
	if err != nil || len(files) == 0 {
		b.Fatalf("no .sm files in %s", dir)
	}
	for range b.N {
		var took []float64
		proven, right, open := 0, 0, 0
		for _, name := range files {
			text, err := os.ReadFile(name)
			if err != nil {
				b.Fatal(err)
			}
			begin := time.Now()
			p, err := ReadPSPLIB(bytes.NewReader(text))
			if err != nil {
				b.Fatal(err)
			}
			ctx, cancel := context.WithTimeout(context.Background(), *psplibLimit)
			r, err := Solve(ctx, p, Options{})
			cancel()
			if err != nil {
				b.Fatal(name, err)
			}
			seconds := time.Since(begin).Seconds()
			took = append(took, seconds)
			want, known := best[filepath.Base(name)]
			switch {
			case r.Status != Optimal:
				open++
				b.Logf("%s: not proven in %s: %v, bound %v, published %d", filepath.Base(name), *psplibLimit, r.Values, r.Bounds, want)
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
		b.Logf("%d instances: %d proven (%d against a published optimum), %d open; seconds: median %.3f, 90%% %.3f, worst %.1f",
			len(files), proven, right, open, took[len(took)/2], took[len(took)*9/10], took[len(took)-1])
		b.ReportMetric(float64(proven), "proven")
		b.ReportMetric(took[len(took)/2], "median-s")
	}
}
