package grade

import (
	"bytes"
	"context"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/vision/record"
)

// TestSheetsInABrowser opens the sheets in Chromium, where it is installed, at phone and desktop width: nothing is wider
// than the window, nothing is refused by the page's own rules, every link can be reached by keyboard and says its name.
func TestSheetsInABrowser(t *testing.T) {
	program, err := exec.LookPath("chromium")
	if err != nil || testing.Short() {
		t.Skip("no chromium is installed here: call scripts/setup.sh test, which installs it")
	}
	dir, _ := sheets(t, twelve(t), Mark{Row: 5, Score: 70})
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(program), chromedp.DisableGPU, chromedp.NoFirstRun)
	if os.Geteuid() == 0 {
		options = append(options, chromedp.NoSandbox) // its sandbox does not run as root
	}
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), options...)
	defer cancel()
	ctx, cancel = chromedp.NewContext(ctx)
	defer cancel()
	ctx, cancel = context.WithTimeout(ctx, 2*time.Minute)
	defer cancel()
	var mu sync.Mutex
	var complaints []string
	require.NoError(t, chromedp.Listen(ctx, func(event any) {
		if e, ok := event.(*log.EventEntryAdded); ok {
			mu.Lock()
			complaints = append(complaints, e.Entry.Text)
			mu.Unlock()
		}
	}))
	for _, width := range []int64{360, 1280} {
		for _, name := range []string{"index.html", "02.html", "04.html"} {
			address := (&url.URL{Scheme: "file", Path: filepath.Join(dir, Folder, name)}).String()
			require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(width, 800), chromedp.Navigate(address)))
			what := fmt.Sprintf("%s at %d px", name, width)
			wide, err := chromedp.Run(ctx, chromedp.Evaluate[int](`document.documentElement.scrollWidth - document.documentElement.clientWidth`))
			require.NoError(t, err)
			assert.LessOrEqual(t, wide, 0, "%s is wider than its window", what)
			nameless, err := chromedp.Run(ctx, chromedp.Evaluate[int](
				`[...document.links].filter(a => a.tabIndex < 0 || !(a.textContent.trim() || a.querySelector("[aria-label], img[alt]:not([alt=\"\"])"))).length`))
			require.NoError(t, err)
			assert.Zero(t, nameless, "%s has links without a name", what)
			border, err := chromedp.Run(ctx, chromedp.Evaluate[string](`getComputedStyle(document.querySelector(".caution")).borderTopStyle`))
			require.NoError(t, err)
			assert.Equal(t, "solid", border, "%s has no style sheet", what)
		}
	}
	oneLine(ctx, t)
	mu.Lock()
	defer mu.Unlock()
	assert.Empty(t, complaints)
}

// oneLine: of fourteen trainees, with long names and rows that are over, each takes one line of the overview at desktop
// width, where nothing is wider than the window, and all stand on one page of A4 across.
func oneLine(ctx context.Context, t *testing.T) {
	w := newWorkshop(t)
	for i := range 14 {
		name := fmt.Sprintf("trainee %d", i+1)
		if i%3 == 0 {
			name += strings.Repeat(" of the ferry terminal's workshop", 1+i)
		}
		w.add(name, "2026-05-04", record.Conforms, good, good, gap, strays)
	}
	dir, _ := sheets(t, w, Mark{Row: 2})
	address := (&url.URL{Scheme: "file", Path: filepath.Join(dir, Folder, "index.html")}).String()
	require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(1280, 800), chromedp.Navigate(address)))
	lines, err := chromedp.Run(ctx, chromedp.Evaluate[float64](
		`Math.max(...[...document.querySelectorAll(".overview tbody tr")].map(r => r.clientHeight / parseFloat(getComputedStyle(r).fontSize)))`))
	require.NoError(t, err)
	assert.Less(t, lines, 3.0, "a trainee takes more than one line")
	wide, err := chromedp.Run(ctx, chromedp.Evaluate[int](`document.documentElement.scrollWidth - document.documentElement.clientWidth`))
	require.NoError(t, err)
	assert.LessOrEqual(t, wide, 0, "the overview is wider than its window")
	program, err := exec.LookPath("chromium")
	require.NoError(t, err)
	pdf := filepath.Join(t.TempDir(), "overview.pdf")
	args := []string{"--headless", "--disable-gpu", "--no-pdf-header-footer", "--print-to-pdf=" + pdf, address}
	if os.Geteuid() == 0 {
		args = append(args, "--no-sandbox")
	}
	out, err := exec.Command(program, args...).CombinedOutput()
	require.NoError(t, err, string(out))
	data, err := os.ReadFile(pdf)
	require.NoError(t, err)
	assert.LessOrEqual(t, bytes.Count(data, []byte("/Type /Page\n")), 2, "pages, the second for what is said below the table")
	assert.Regexp(t, `/MediaBox \[0 0 84[12][.0-9]* 59[0-9][.0-9]*\]`, string(data), "across")
	if to := os.Getenv("LOOK"); to != "" {
		require.NoError(t, os.WriteFile(filepath.Join(to, "overview.pdf"), data, 0o600))
	}
}
