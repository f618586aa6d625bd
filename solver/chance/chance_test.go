package chance_test

import (
	"fmt"
	"math"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"wetdown/solver/chance"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s is %.6f, want %.6f", what, got, want)
	}
}

// The means and deviations are computed by hand from the formulas of the PERT
// distribution (probsee.com/p/PERT_distribution) and of the triangular law. The
// tasks are those of the three-point example of the schedule guide GAO-16-89G,
// whose PERT means sum to 20.5 by these formulas.
func TestThreePoints(t *testing.T) {
	near(t, "mean of PERT 3, 5, 6", chance.PERT{Least: 3, Likely: 5, Most: 6}.Mean(), 4.8333, 5e-5)
	near(t, "deviation of PERT 3, 5, 6", chance.PERT{Least: 3, Likely: 5, Most: 6}.SD(), 0.5, 1e-12)
	near(t, "mean of the triangle 3, 5, 6", chance.Triangular{Least: 3, Likely: 5, Most: 6}.Mean(), 4.6667, 5e-5)
	sum := 0.0
	for _, p := range [][3]float64{{3, 4, 6}, {1, 1, 2}, {3, 5, 6}, {1, 1, 2}, {2, 3, 4}, {2, 3, 4}, {2, 3, 5}} {
		sum += chance.PERT{Least: p[0], Likely: p[1], Most: p[2]}.Mean()
	}
	near(t, "the seven tasks", sum, 20.5, 1e-9)
	for _, p := range [][3]float64{{3, 2, 6}, {1, 5, 4}, {math.NaN(), 1, 2}, {0, 1, math.Inf(1)}} {
		if _, err := chance.NewPERT(p[0], p[1], p[2]); err == nil {
			t.Errorf("%v is taken as an estimate", p)
		}
		if _, err := chance.NewTriangular(p[0], p[1], p[2]); err == nil {
			t.Errorf("%v is taken as a triangle", p)
		}
	}
}

// Median 10 and 80 % up to 13: computed by hand, with the normal quantile 0.841621.
func TestLogNormal_ByTwoPoints(t *testing.T) {
	l, err := chance.LogNormalOf(10, 13, 0.8)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "sigma", l.Sigma, 0.31174, 5e-6)
	near(t, "quantile 0.95", l.Quantile(0.95), 16.699, 5e-4)
	near(t, "mean", l.Mean(), 10.498, 5e-4)
	for _, bad := range [][3]float64{{0, 13, 0.8}, {13, 10, 0.8}, {10, 13, 0.4}, {10, 13, 1}} {
		if _, err := chance.LogNormalOf(bad[0], bad[1], bad[2]); err == nil {
			t.Errorf("%v is taken", bad)
		}
	}
}

// gonum has the same laws by itself.
func TestLaws_Gonum(t *testing.T) {
	type law interface {
		CDF(float64) float64
		Quantile(float64) float64
	}
	for _, c := range []struct {
		name  string
		ours  chance.Law
		other law
		scale func(float64) float64
	}{
		{"triangle", chance.Triangular{Least: -3, Likely: 1, Most: 9}, distuv.NewTriangle(-3, 9, 1, nil), nil},
		{"triangle that rises only", chance.Triangular{Least: 2, Likely: 9, Most: 9}, distuv.NewTriangle(2, 9, 9, nil), nil},
		{"PERT", chance.PERT{Least: 2, Likely: 4, Most: 12}, distuv.Beta{Alpha: 1.8, Beta: 4.2}, func(x float64) float64 { return 2 + 10*x }},
		{"PERT that falls only", chance.PERT{Least: 2, Likely: 2, Most: 12}, distuv.Beta{Alpha: 1, Beta: 5}, func(x float64) float64 { return 2 + 10*x }},
		{"log-normal", chance.LogNormal{Mu: 2.3, Sigma: 0.4}, distuv.LogNormal{Mu: 2.3, Sigma: 0.4}, nil},
	} {
		for i := 1; i < 200; i++ {
			p := float64(i) / 200
			want := c.other.Quantile(p)
			if c.scale != nil {
				want = c.scale(want)
			}
			near(t, fmt.Sprintf("%s: quantile %v", c.name, p), c.ours.Quantile(p), want, 1e-6*(1+math.Abs(want)))
			near(t, fmt.Sprintf("%s: chance of quantile %v", c.name, p), c.ours.CDF(want), p, 1e-6)
		}
	}
}

// A law that is one value alone is that value, with all its chance.
func TestLaws_OneValue(t *testing.T) {
	one, err := chance.NewEmpirical([]float64{4}, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range []chance.Law{chance.Triangular{Least: 4, Likely: 4, Most: 4}, chance.PERT{Least: 4, Likely: 4, Most: 4}, chance.LogNormal{Mu: math.Log(4)}, one} {
		for _, p := range []float64{0, 0.3, 1} {
			near(t, fmt.Sprintf("%T: quantile %v", l, p), l.Quantile(p), 4, 1e-12)
		}
		near(t, fmt.Sprintf("%T: mean", l), l.Mean(), 4, 1e-12)
		if l.CDF(3.99) != 0 || l.CDF(4.01) != 1 {
			t.Errorf("%T: chances %v below and %v above", l, l.CDF(3.99), l.CDF(4.01))
		}
	}
}

// Eight slips of which the nearest ranks are the 4th, the 7th and the 8th: counted
// by hand.
func TestNearestRank(t *testing.T) {
	slips := []float64{21, 0, 0, 2, 3, 5, 8, 13}
	law, err := chance.NewEmpirical(slips, nil)
	if err != nil {
		t.Fatal(err)
	}
	for p, want := range map[float64]float64{0: 0, 0.5: 3, 0.8: 13, 0.95: 21, 1: 21} {
		if got := chance.NearestRank(slips, p); got != want {
			t.Errorf("nearest rank %v is %v, want %v", p, got, want)
		}
		if got := law.Quantile(p); got != want {
			t.Errorf("quantile %v is %v, want %v", p, got, want)
		}
	}
	if slips[0] != 21 {
		t.Error("the values are not in their order any more")
	}
	hundred := make([]float64, 100)
	for i := range hundred {
		hundred[i] = float64(i + 1)
	}
	for i := 1; i <= 100; i++ { // 0.55 * 100 is more than 55 in floating point
		if got := chance.NearestRank(hundred, float64(i)/100); got != float64(i) {
			t.Errorf("rank of %d of 100 is %v", i, got)
		}
	}
}

// A whole weight is so many equal observations.
func TestEmpirical_Weights(t *testing.T) {
	r := chance.Stream(7, 0, "weights")
	for range 50 {
		var values, weights, spread []float64
		for range 1 + r.IntN(12) {
			v, w := float64(r.IntN(9)), r.IntN(4)
			values, weights = append(values, v), append(weights, float64(w))
			for range w {
				spread = append(spread, v)
			}
		}
		law, err := chance.NewEmpirical(values, weights)
		if len(spread) == 0 {
			if err == nil {
				t.Error("observations without any weight are a law")
			}
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		plain, err := chance.NewEmpirical(spread, nil)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "mean", law.Mean(), plain.Mean(), 1e-12)
		for i := range 21 {
			p := float64(i) / 20
			if law.Quantile(p) != chance.NearestRank(spread, p) {
				t.Errorf("%v with %v: quantile %v is %v, want %v", values, weights, p, law.Quantile(p), chance.NearestRank(spread, p))
			}
			near(t, "chance", law.CDF(float64(i)/2), plain.CDF(float64(i)/2), 1e-12)
			near(t, "CRPS", law.CRPS(float64(i)/2), plain.CRPS(float64(i)/2), 1e-12)
		}
	}
	for _, bad := range [][2][]float64{{nil, nil}, {{1, 2}, {1}}, {{1}, {-1}}, {{math.NaN()}, nil}, {{1}, {math.Inf(1)}}} {
		if _, err := chance.NewEmpirical(bad[0], bad[1]); err == nil {
			t.Errorf("%v with weights %v is a law", bad[0], bad[1])
		}
	}
}

// A tabulated law is the law, as near as its steps.
func TestTable(t *testing.T) {
	l := chance.PERT{Least: 2, Likely: 4, Most: 12}
	table := chance.NewTable(l, 512)
	near(t, "mean", table.Mean(), l.Mean(), 2e-3)
	for i := range 101 {
		p := float64(i) / 100
		near(t, fmt.Sprint("quantile ", p), table.Quantile(p), l.Quantile(p), 0.3/512*10)
		near(t, fmt.Sprint("chance ", p), table.CDF(l.Quantile(p)), p, 1.0/512)
	}
	if table.CDF(1.9) != 0 || table.CDF(12) != 1 {
		t.Error("a table has chance beyond its ends")
	}
}

// Draws have the law's mean and quantiles, as near as 20,000 of them can: four
// standard errors.
func TestDraw(t *testing.T) {
	const n = 20_000
	for _, l := range []chance.Law{chance.Triangular{Least: 0, Likely: 2, Most: 10}, chance.PERT{Least: 0, Likely: 2, Most: 10}, chance.LogNormal{Mu: 1, Sigma: 0.5}} {
		r := chance.Stream(1, 0, "draw")
		draws := make([]float64, n)
		sum, squares := 0.0, 0.0
		for i := range draws {
			draws[i] = chance.Draw(l, r)
			sum += draws[i]
			squares += draws[i] * draws[i]
		}
		mean := sum / n
		near(t, fmt.Sprintf("%T: mean", l), mean, l.Mean(), 4*math.Sqrt((squares/n-mean*mean)/n))
		for _, p := range []float64{0.5, 0.8, 0.95} {
			near(t, fmt.Sprintf("%T: quantile %v", l, p), l.CDF(chance.NearestRank(draws, p)), p, 4*math.Sqrt(p*(1-p)/n))
		}
	}
}

// Equal names give equal streams, all others different ones, and streams of
// neighbouring names are not alike.
func TestStream(t *testing.T) {
	type name struct {
		seed uint64
		run  int
		path string
	}
	seen := map[uint64]name{}
	for seed := range uint64(4) {
		for run := range 4 {
			for _, path := range []string{"", "a", "ab|c", "a|bc", "abc", "a|b|c", "|", "c|ab"} {
				n := name{seed, run, path}
				draw := func() uint64 { return chance.Stream(seed, run, strings.Split(path, "|")...).Uint64() }
				first, again := draw(), draw()
				if first != again {
					t.Errorf("%v gives two streams", n)
				}
				if other, ok := seen[first]; ok {
					t.Errorf("%v and %v begin alike", n, other)
				}
				seen[first] = n
			}
		}
	}
	if chance.Stream(1, 0).Uint64() == chance.Stream(1, 0, "").Uint64() {
		t.Error("no name and the empty name are one")
	}
	const n = 4000
	product := 0.0
	for run := range n {
		product += (chance.Stream(1, run, "truck").Float64() - 0.5) * (chance.Stream(1, run+1, "truck").Float64() - 0.5)
	}
	near(t, "correlation of runs side by side", product/n*12, 0, 4/math.Sqrt(n))
}

// Streams are kept in files of results by their seed: they must stay as they are.
// The value was printed by this program, and is here against change alone.
func TestStream_Stays(t *testing.T) {
	if got := chance.Stream(42, 3, "truck", "stage").Uint64(); got != pinned {
		t.Errorf("the stream begins with %d, before with %d: results of earlier seeds do not come out the same again", got, uint64(pinned))
	}
}

// Newcombe, "Two-sided confidence intervals for the single proportion", Statistics
// in Medicine 17 (1998), table I, methods 3 and 5: from memory. TestPython looks
// at the definitions.
func TestIntervals(t *testing.T) {
	for _, c := range []struct {
		k, n          int
		wilson, exact chance.Interval
	}{
		{81, 263, chance.Interval{Low: 0.2553, High: 0.3662}, chance.Interval{Low: 0.2527, High: 0.3676}},
		{15, 148, chance.Interval{Low: 0.0624, High: 0.1605}, chance.Interval{Low: 0.0578, High: 0.1617}},
		{0, 20, chance.Interval{Low: 0, High: 0.1611}, chance.Interval{Low: 0, High: 0.1684}},
		{1, 29, chance.Interval{Low: 0.0061, High: 0.1718}, chance.Interval{Low: 0.0009, High: 0.1776}},
	} {
		w, e := chance.Wilson(float64(c.k)/float64(c.n), float64(c.n), 0.95), chance.ClopperPearson(c.k, c.n, 0.95)
		near(t, fmt.Sprintf("%d of %d: Wilson, low", c.k, c.n), w.Low, c.wilson.Low, 5e-5)
		near(t, fmt.Sprintf("%d of %d: Wilson, high", c.k, c.n), w.High, c.wilson.High, 5e-5)
		near(t, fmt.Sprintf("%d of %d: exact, low", c.k, c.n), e.Low, c.exact.Low, 5e-5)
		near(t, fmt.Sprintf("%d of %d: exact, high", c.k, c.n), e.High, c.exact.High, 5e-5)
	}
	if all := (chance.Interval{Low: 0, High: 1}); chance.Wilson(0, 0, 0.95) != all || chance.ClopperPearson(0, 0, 0.95) != all {
		t.Error("nothing tried says something")
	}
}

// The quantile is what the pinball loss is least for, and twice its mean over all
// chances is the CRPS: the two marks hold each other.
func TestScores(t *testing.T) {
	near(t, "pinball above", chance.Pinball(0.8, 10, 15), 4, 1e-12)
	near(t, "pinball below", chance.Pinball(0.8, 10, 5), 1, 1e-12)
	values := []float64{0, 0, 2, 3, 5, 8, 13, 21}
	law, err := chance.NewEmpirical(values, nil)
	if err != nil {
		t.Fatal(err)
	}
	loss := func(p, stated float64) (sum float64) {
		for _, v := range values {
			sum += chance.Pinball(p, stated, v)
		}
		return sum
	}
	for _, p := range []float64{0.5, 0.8, 0.95} {
		for stated := -1.0; stated <= 22; stated += 0.5 {
			if loss(p, stated) < loss(p, law.Quantile(p))-1e-9 {
				t.Errorf("loss at %v: %v stated beats the quantile %v", p, stated, law.Quantile(p))
			}
		}
	}
	for _, actual := range []float64{-4, 0, 1, 5, 6.5, 30} {
		const n = 80_000
		sum := 0.0
		for i := range n {
			p := (float64(i) + 0.5) / n
			sum += 2 * chance.Pinball(p, law.Quantile(p), actual)
		}
		near(t, fmt.Sprint("CRPS for ", actual), law.CRPS(actual), sum/n, 1e-3)
	}
}

func TestNoChance(t *testing.T) {
	for _, p := range []float64{-0.1, 1.1, math.NaN()} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%v is taken as a chance", p)
				}
			}()
			chance.Triangular{Most: 1}.Quantile(p)
		}()
	}
}

// reference works the same out from definitions alone: integrals and sums, with
// the normal law of Python's statistics and exact binomials.
const reference = `
import statistics, math
from fractions import Fraction
normal = statistics.NormalDist()
for p in (0.01, 0.2, 0.5, 0.8, 0.95, 0.999):
    print('lognormal', p, math.exp(1.5 + 0.7 * normal.inv_cdf(p)))
def beta_cdf(a, b, x, n=20000):
    f = lambda u: u ** (a - 1) * (1 - u) ** (b - 1)
    area = lambda to: sum(f((i + 0.5) * to / n) for i in range(n)) * to / n
    return area(x) / area(1.0)
for x in (3, 5, 8):
    print('pert', x, beta_cdf(1.8, 4.2, (x - 2) / 10))
for k, n in ((1, 10), (7, 9), (40, 50)):
    tail = lambda p, ks: sum(math.comb(n, i) * p ** i * (1 - p) ** (n - i) for i in ks)
    def solve(f):
        lo, hi = Fraction(0), Fraction(1)
        for _ in range(40):
            mid = (lo + hi) / 2
            lo, hi = (mid, hi) if f(float(mid)) < 0.025 else (lo, mid)
        return float(lo)
    print('low', f'{k}/{n}', solve(lambda p: tail(p, range(k, n + 1))))
    print('high', f'{k}/{n}', 1 - solve(lambda q: tail(1 - q, range(0, k + 1))))
values = [0, 0, 2, 3, 5, 8, 13, 21]
for y in (-4, 5, 6.5, 30):
    e1 = statistics.fmean(abs(v - y) for v in values)
    e2 = statistics.fmean(abs(v - w) for v in values for w in values)
    print('crps', y, e1 - e2 / 2)
`

// TestPython compares with Python's statistics, sums and integrals.
func TestPython(t *testing.T) {
	python, err := exec.LookPath("python3")
	if err != nil && os.Getenv("CI") == "true" {
		t.Fatal("python3 is missing (Debian: apt-get install python3)")
	}
	if err != nil {
		t.Skip("python3 is missing (Debian: apt-get install python3)")
	}
	out, err := exec.Command(python, "-c", reference).CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	law, err := chance.NewEmpirical([]float64{0, 0, 2, 3, 5, 8, 13, 21}, nil)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	if len(lines) != 19 {
		t.Fatalf("Python has %d lines to compare, want 19", len(lines))
	}
	for _, line := range lines {
		f := strings.Fields(line)
		want, err := strconv.ParseFloat(f[2], 64)
		if err != nil {
			t.Fatal(err)
		}
		var x, got float64
		var k, n int
		if strings.Contains(f[1], "/") {
			fmt.Sscanf(f[1], "%d/%d", &k, &n)
		} else if x, err = strconv.ParseFloat(f[1], 64); err != nil {
			t.Fatal(err)
		}
		tolerance := 1e-9
		switch f[0] {
		case "lognormal":
			got = chance.LogNormal{Mu: 1.5, Sigma: 0.7}.Quantile(x)
		case "pert":
			got, tolerance = chance.PERT{Least: 2, Likely: 4, Most: 12}.CDF(x), 1e-5 // of the sums
		case "low":
			got = chance.ClopperPearson(k, n, 0.95).Low
		case "high":
			got = chance.ClopperPearson(k, n, 0.95).High
		case "crps":
			got = law.CRPS(x)
		}
		near(t, line, got, want, tolerance*(1+math.Abs(want)))
	}
}

// pinned is the first number of a stream; see TestStream_Stays.
const pinned = 18181933269267124572

func BenchmarkDraw(b *testing.B) {
	pert := chance.PERT{Least: 2, Likely: 4, Most: 12}
	for _, c := range []struct {
		name string
		law  chance.Law
	}{{"PERT", pert}, {"PERT_Table", chance.NewTable(pert, 512)}, {"Triangular", chance.Triangular(pert)}} {
		b.Run(c.name, func(b *testing.B) {
			r := chance.Stream(1, 0, "bench")
			for b.Loop() {
				chance.Draw(c.law, r)
			}
		})
	}
	b.Run("Stream", func(b *testing.B) {
		run := 0
		for b.Loop() {
			run++
			chance.Stream(1, run, "truck", "stage").Uint64()
		}
	})
}
