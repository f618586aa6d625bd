package web_test

import (
	"fmt"
	"slices"
	"testing"

	"github.com/chromedp/chromedp"
)

// A roll is how a page went by while it was scrolled through.
type roll struct {
	Frames               int
	Median, P95, Longest float64 // between frames, in milliseconds
	Late                 int     // frames more than 50 ms after the one before
	Elements             int
	Height               int // in CSS pixels
}

// BenchmarkScroll scrolls through the long pages of a plant of 400 trucks in Chromium, two
// screens a second, and logs how long frames took. A screen shows 60 a second at best.
//
//	go test ./api/web -run '^$' -bench Scroll -benchtime 1x -v
func BenchmarkScroll(b *testing.B) {
	s, from := crowded(b, 400)
	t := s.browser()
	for range b.N {
		worst := 0.0
		for _, on := range []screen{onDesk, onTelephone} {
			do(t, chromedp.EmulateViewport(on.width, on.height))
			for _, path := range append(slices.Clone(from), "/floor?all=yes&weeks=8", "/trucks", "/visits", "/deliveries", "/late", "/loads", "/setup/visits") {
				t.open(path)
				do(t, chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`window.roll = null; (() => {
					const gaps = [], root = document.scrollingElement, step = %d / 30;
					let before = 0;
					const frame = (now) => {
						if (before) gaps.push(now - before);
						before = now;
						const at = root.scrollTop;
						root.scrollTop += step;
						if (root.scrollTop > at && gaps.length < 1200 || gaps.length < 20) return requestAnimationFrame(frame);
						gaps.sort((a, b) => a - b);
						const rank = (p) => gaps[Math.ceil(p * gaps.length) - 1];
						window.roll = {Frames: gaps.length, Median: rank(.5), P95: rank(.95), Longest: rank(1), Late: gaps.filter((g) => g > 50).length, Elements: document.querySelectorAll("*").length, Height: root.scrollHeight};
					};
					requestAnimationFrame(frame);
				})();0`, on.height)))
				do(t, chromedp.Poll[chromedp.Void](`window.roll !== null`))
				r := do(t, chromedp.Evaluate[roll](`window.roll`))
				b.Logf("%-9s %6d px %5d elements: frames %4d, median %3.0f ms, p95 %3.0f ms, longest %3.0f ms, %d late  %s", on.name, r.Height, r.Elements, r.Frames, r.Median, r.P95, r.Longest, r.Late, path)
				worst = max(worst, r.P95)
			}
		}
		b.ReportMetric(worst, "ms/worst-p95")
	}
}
