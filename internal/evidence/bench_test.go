package evidence

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"crimprule/internal/site"
)

// BenchmarkWrite writes the evidence of invented crimps, whose pictures are there. walk-s is the part of the time that
// making up and judging the crimps takes; peak-MB is the most memory that the heap holds while writing, on top of what it
// held; written-MB counts all but the pictures.
func BenchmarkWrite(b *testing.B) {
	for _, n := range []int{2000, 10000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			v := newInvented(b, n)
			v.dir = b.TempDir()
			require.NoError(b, v.Crimps(context.Background(), func(site.Crimp) error { return nil })) // draws the pictures
			pictures := sizeOf(v.dir)
			began := time.Now()
			require.NoError(b, v.Crimps(context.Background(), func(site.Crimp) error { return nil }))
			walk := time.Since(began)
			bytes := int64(0)
			var peak uint64
			for b.Loop() {
				stop := watchHeap()
				_, err := Write(context.Background(), v.dir, v.info(), v)
				peak = max(peak, stop())
				require.NoError(b, err)
				bytes = sizeOf(v.dir) - pictures
			}
			b.ReportMetric(walk.Seconds(), "walk-s")
			b.ReportMetric(float64(peak)/1e6, "peak-MB")
			b.ReportMetric(float64(bytes)/1e6, "written-MB")
		})
	}
}

// watchHeap samples the heap until stop is called, which gives the largest growth.
func watchHeap() (stop func() uint64) {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	base, peak := m.HeapInuse, uint64(0)
	var done atomic.Bool
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		for !done.Load() {
			runtime.ReadMemStats(&m)
			peak = max(peak, m.HeapInuse)
			time.Sleep(20 * time.Millisecond)
		}
	}()
	return func() uint64 {
		done.Store(true)
		<-ended
		return peak - min(base, peak)
	}
}

func sizeOf(dir string) int64 {
	total := int64(0)
	_ = filepath.WalkDir(dir, func(_ string, d os.DirEntry, _ error) error {
		if info, err := d.Info(); err == nil && !d.IsDir() {
			total += info.Size()
		}
		return nil
	})
	return total
}

// BenchmarkPage opens the page of 2 000 crimps, with their pictures, in a browser, and filters and sorts it: milliseconds
// as the browser counts them. Opening ends with the load event, filtering and sorting with the next picture on the
// screen.
func BenchmarkPage(b *testing.B) {
	const n = 2000
	browser := newBrowser(b)
	v := newInvented(b, n)
	dir, _ := written(b, v)
	timed := func(change string) float64 {
		script := `new Promise(done => { const began = performance.now(); ` + change +
			`; requestAnimationFrame(() => setTimeout(() => done(performance.now() - began))); })`
		ms, err := chromedp.Run(browser.ctx, chromedp.Evaluate[float64](script, chromedp.EvalAwaitPromise))
		require.NoError(b, err)
		return ms
	}
	choose := func(name, value string) string {
		return fmt.Sprintf(`document.forms[0].elements[%q].value = %q; location.hash = new URLSearchParams(new FormData(document.forms[0])); dispatchEvent(new Event("hashchange"))`,
			name, value)
	}
	worst := map[string]float64{}
	for b.Loop() {
		browser.do(b, chromedp.Navigate("about:blank"), chromedp.Navigate(address(dir, "index.html")), chromedp.WaitVisible(chromedp.CSS("#filters")))
		opened := js[float64](b, browser, `performance.getEntriesByType("navigation")[0].loadEventEnd`)
		for what, ms := range map[string]float64{
			"open-ms": opened, "filter-ms": timed(choose("result", "conforms")), "text-ms": timed(choose("q", "crimp 17 crew")), "sort-ms": timed(choose("sort", "name")),
		} {
			worst[what] = max(worst[what], ms)
		}
	}
	for what, ms := range worst {
		b.ReportMetric(ms, what)
	}
	b.ReportMetric(float64(sizeOf(filepath.Join(dir, "index.html")))/1e6, "page-MB")
}
