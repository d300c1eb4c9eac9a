package evidence

import (
	"context"
	"flag"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/wording"
)

var screenshots = flag.String("screenshots", "", "folder for pictures of the pages, to look at")

// browser is one process for all cases. Whatever its pages ask the network for, print to the console or complain of is kept.
type browser struct {
	ctx context.Context
	mu  sync.Mutex
	bad []string
}

// newBrowser starts the browser, or skips the test where there is none.
func newBrowser(t testing.TB) *browser {
	path, err := exec.LookPath("chromium")
	if err != nil {
		t.Skip("no chromium is installed here: call scripts/setup.sh test, which installs it")
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.DisableGPU, chromedp.NoFirstRun,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true),
		chromedp.Flag("disable-sync", true), chromedp.WindowSize(1280, 900))
	if os.Geteuid() == 0 {
		options = append(options, chromedp.NoSandbox) // its sandbox does not run as root
	}
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	b := &browser{ctx: ctx}
	require.NoError(t, chromedp.Listen(b.ctx, b.note))
	_, err = chromedp.Call(b.ctx, network.Enable, network.EnableParams{})
	require.NoError(t, err)
	ctx, cancel = context.WithTimeout(b.ctx, 5*time.Minute) // the browser itself outlives it
	t.Cleanup(cancel)
	b.ctx = ctx
	return b
}

func (b *browser) note(event any) {
	text := ""
	switch event := event.(type) {
	case *network.EventRequestWillBeSent:
		if u, err := url.Parse(event.Request.URL); err != nil || u.Scheme != "file" {
			text = "asks for " + event.Request.URL
		}
	case *network.EventLoadingFailed:
		text = "could not load: " + event.ErrorText
		if event.Canceled {
			text = ""
		}
	case *runtime.EventConsoleAPICalled:
		text = fmt.Sprintf("console: %s %v", event.Type, event.Args)
	case *runtime.EventExceptionThrown:
		text = "exception: " + event.ExceptionDetails.Text
	case *log.EventEntryAdded:
		text = "log: " + event.Entry.Text
	}
	if text != "" {
		b.mu.Lock()
		b.bad = append(b.bad, text)
		b.mu.Unlock()
	}
}

func (b *browser) do(t testing.TB, actions ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, time.Minute)
	defer cancel()
	require.NoError(t, chromedp.Do(ctx, actions...))
}

// set sends a command of the protocol that sets something.
func set[P any](t testing.TB, b *browser, command cdp.Command[P, cdp.Empty], params P) {
	t.Helper()
	_, err := chromedp.Call(b.ctx, command, params)
	require.NoError(t, err)
}

// js evaluates an expression in the page.
func js[T any](t testing.TB, b *browser, expression string) T {
	t.Helper()
	value, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](expression))
	require.NoError(t, err, expression)
	return value
}

// wait waits until an expression holds in the page.
func (b *browser) wait(t testing.TB, expression string) {
	t.Helper()
	// Scripts have run when the page is complete. A poll ends with the page, so one that leads from page to page is begun anew.
	expression = `document.readyState === "complete" && (` + expression + `)`
	var err error
	for end := time.Now().Add(time.Minute); time.Now().Before(end); {
		if _, err = chromedp.Run(b.ctx, chromedp.Poll[chromedp.Void](expression, chromedp.WithPollingTimeout(10*time.Second))); err == nil {
			return
		}
	}
	require.NoError(t, err, expression)
}

func address(dir, name string) string {
	return (&url.URL{Scheme: "file", Path: filepath.Join(dir, name)}).String()
}

// shot keeps a picture of the page where the caller of the test asked for it.
func (b *browser) shot(t testing.TB, name string) {
	if *screenshots == "" {
		return
	}
	picture, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(*screenshots, name+".png"), picture, 0o644))
}

func (b *browser) size(t testing.TB, width, height int64) {
	b.do(t, chromedp.EmulateViewport(width, height))
}

const visibleRows = `[...document.querySelectorAll("#rows tr")].filter(tr => !tr.hidden).map(tr => +tr.dataset.n)`

// TestPageInABrowser opens the evidence as its receiver does, from a folder, and works with it.
func TestPageInABrowser(t *testing.T) {
	b := newBrowser(t)
	v := newInvented(t, 140)
	dir, s := written(t, v)
	odd := newInvented(t, len(oddities)+3)
	odd.odd = true
	oddDir, _ := written(t, odd)

	for _, c := range []struct {
		name string
		run  func(t *testing.T)
	}{
		{"filter and sort", func(t *testing.T) { filterAndSort(t, b, dir, s) }},
		{"filter odd names", func(t *testing.T) { filterOddNames(t, b, oddDir) }},
		{"open a crimp and go back", func(t *testing.T) { openAndBack(t, b, dir) }},
		{"phone width", func(t *testing.T) { phoneWidth(t, b, dir, oddDir) }},
		{"print", func(t *testing.T) { onPaper(t, b, dir) }},
		{"without script", func(t *testing.T) { withoutScript(t, b, dir) }},
		{"access", func(t *testing.T) { access(t, b, dir, oddDir) }},
	} {
		t.Run(c.name, func(t *testing.T) {
			b.size(t, 1280, 900)
			c.run(t)
			b.mu.Lock()
			defer b.mu.Unlock()
			assert.Empty(t, b.bad, "no network, no complaint")
			b.bad = nil
		})
	}
}

func filterAndSort(t *testing.T, b *browser, dir string, s Summary) {
	b.do(t, chromedp.Navigate(address(dir, "index.html")), chromedp.WaitVisible(chromedp.CSS("#filters")))
	b.shot(t, "list-1280")
	assert.Len(t, js[[]int](t, b, visibleRows), 140)

	bad := s.Results["does_not_conform"]
	require.Positive(t, bad)
	b.do(t, chromedp.SendKeys(chromedp.CSS(`select[name=result]`), "DOES"))
	b.wait(t, `location.hash === "#result=does_not_conform"`)
	assert.Equal(t, fmt.Sprintf("%d of 140 crimps are shown.", bad), js[string](t, b, `document.getElementById("shown").textContent`))
	assert.Equal(t, "polite", js[string](t, b, `document.getElementById("shown").getAttribute("aria-live")`))
	assert.True(t, js[bool](t, b, `[...document.querySelectorAll("#rows tr:not([hidden])")].every(tr => tr.textContent.includes("DOES NOT CONFORM"))`))

	b.do(t, chromedp.Click(chromedp.CSS(`#filters button[type=reset]`)))
	b.wait(t, `location.hash === ""`)
	b.do(t, chromedp.SendKeys(chromedp.CSS(`input[name=q]`), "CRIMP 11 crew"))
	b.wait(t, `location.hash.includes("q=CRIMP+11+crew")`) // typing is waited for
	shown := js[[]int](t, b, visibleRows)
	assert.Contains(t, shown, 11)
	assert.NotContains(t, shown, 12, "all words must be there")

	b.do(t, chromedp.Navigate(address(dir, "index.html")+"#string=string+02&sort=number"))
	b.wait(t, visibleRows+`.length === 40`)
	assert.IsIncreasing(t, js[[]int](t, b, visibleRows), "the address alone filters and sorts")
	b.do(t, chromedp.Click(chromedp.CSS(`th[data-sort^=score] button`)))
	b.wait(t, `location.hash.includes("sort=score")`)
	scores := js[[]float64](t, b, `[...document.querySelectorAll("#rows tr:not([hidden])")].filter(tr => tr.dataset.score).map(tr => +tr.dataset.score)`)
	assert.IsNonDecreasing(t, scores)
	b.do(t, chromedp.Click(chromedp.CSS(`th[data-sort^=score] button`)))
	b.wait(t, `location.hash.includes("sort=best")`)
	assert.IsNonIncreasing(t, js[[]float64](t, b, `[...document.querySelectorAll("#rows tr:not([hidden])")].filter(tr => tr.dataset.score).map(tr => +tr.dataset.score)`))
	assert.Equal(t, "descending", js[string](t, b, `document.querySelector("th[data-sort^=score]").getAttribute("aria-sort")`))

	b.do(t, chromedp.Navigate(address(dir, "index.html")+"#sort=name"))
	b.wait(t, `document.querySelector("#rows tr").dataset.n === "1"`)
	assert.IsIncreasing(t, js[[]int](t, b, visibleRows), "crimp 9 stands before crimp 10")
	b.do(t, chromedp.Navigate(address(dir, "index.html")), chromedp.Click(chromedp.CSS(`.counts a[href$=not_measured]`)))
	b.wait(t, visibleRows+fmt.Sprintf(`.length === %d`, s.Results["not_measured"]))
	assert.Equal(t, "list", js[string](t, b, `document.activeElement.id`), "a count leads to the list")
}

// filterOddNames chooses each crew of the site with the odd names in turn, and those without a crew.
func filterOddNames(t *testing.T, b *browser, dir string) {
	for i, name := range oddities {
		value := wording.Clean(name)
		if name == "" {
			value = "\t"
		}
		b.do(t, chromedp.Navigate("about:blank"), chromedp.Navigate(address(dir, "index.html")+"#"+url.Values{"crew": {value}}.Encode()))
		b.wait(t, visibleRows+`.length < 20`)
		assert.Equal(t, []int{i + 1}, js[[]int](t, b, visibleRows), "%q", name)
	}
}

func openAndBack(t *testing.T, b *browser, dir string) {
	b.do(t, chromedp.Navigate(address(dir, "index.html")+"#result=not_measured&sort=number"))
	b.wait(t, visibleRows+`.length < 140`)
	listed := js[[]int](t, b, visibleRows)
	second := fmt.Sprintf(`#c%d a`, listed[1])
	// By keyboard: rows are laid out as they come into view, so that a place can move under a mouse this fast.
	b.do(t, chromedp.Focus(chromedp.CSS(second)), chromedp.KeyEvent("\r"), chromedp.WaitReady(chromedp.CSS("body.crimp")))
	assert.Equal(t, fmt.Sprint(listed[1]), js[string](t, b, `document.body.dataset.n`))
	b.do(t, chromedp.Click(chromedp.CSS("#next")))
	b.wait(t, fmt.Sprintf(`document.body.dataset.n === "%d"`, listed[2]))
	b.do(t, chromedp.Click(chromedp.CSS("#previous")))
	b.wait(t, fmt.Sprintf(`document.body.dataset.n === "%d"`, listed[1]))
	b.do(t, chromedp.Click(chromedp.CSS("#back")))
	b.wait(t, `document.getElementById("rows") !== null && `+visibleRows+`.length < 140`)
	assert.Equal(t, listed, js[[]int](t, b, visibleRows), "back to what was chosen")
	assert.Equal(t, fmt.Sprintf("c%d", listed[1]), js[string](t, b, `document.activeElement.closest("tr").id`), "and to the crimp that was open")

	b.do(t, chromedp.Navigate(address(dir, "crimps/0007.html")))
	b.wait(t, `document.images.length === 2 && [...document.images].every(i => i.complete)`)
	assert.Equal(t, []int{640, 640}, js[[]int](t, b, `[...document.images].map(i => i.naturalWidth)`), "the overlays are seen")
	assert.Equal(t, 8, js[int](t, b, `document.querySelectorAll("svg.bar").length`))
	assert.Equal(t, "url(\"#hatch\")", js[string](t, b, `getComputedStyle(document.querySelector(".bar .outside")).fill`))
	b.shot(t, "crimp-1280")
	b.do(t, chromedp.Navigate(address(dir, "crimps/0045.html")))
	b.shot(t, "crimp-bad-1280")
	b.do(t, chromedp.Navigate(address(dir, "crimps/0001.html")))
	assert.Equal(t, "first", js[string](t, b, `document.getElementById("previous").textContent`))
}

func phoneWidth(t *testing.T, b *browser, dir, oddDir string) {
	b.size(t, 360, 740)
	for name, at := range map[string]string{
		"list-360": address(dir, "index.html"), "crimp-360": address(dir, "crimps/0045.html"), "section-360": address(dir, "crimps/0007.html"),
		"elsewhere-360": address(dir, "crimps/0009.html"), "refused-360": address(dir, "crimps/0005.html"),
		"odd-list-360": address(oddDir, "index.html"), "odd-360": address(oddDir, "crimps/0001.html"), "odd-script-360": address(oddDir, "crimps/0010.html"),
	} {
		b.do(t, chromedp.Navigate(at), chromedp.WaitReady(chromedp.CSS("body")))
		assert.LessOrEqual(t, js[int](t, b, `document.documentElement.scrollWidth`), 360, "%s scrolls sideways because of %s", name,
			js[string](t, b, `[...document.querySelectorAll("body *")].filter(e => e.getBoundingClientRect().right > 361).slice(0, 3).map(e => e.outerHTML.slice(0, 90)).join(" | ")`))
		b.shot(t, name)
	}
}

func onPaper(t *testing.T, b *browser, dir string) {
	for _, name := range []string{"index.html", "crimps/0007.html"} {
		b.do(t, chromedp.Navigate(address(dir, name)), chromedp.WaitReady(chromedp.CSS("body")))
		set(t, b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
		hidden := js[[]string](t, b, `["#filters", "nav", ".skip"].map(s => document.querySelector(s)).filter(Boolean).map(e => getComputedStyle(e).display)`)
		for _, display := range hidden {
			assert.Equal(t, "none", display, "what only a screen needs is not printed")
		}
		set(t, b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{})
		data, err := chromedp.Run(b.ctx, chromedp.PrintToPDF(chromedp.PDFPaper(chromedp.PaperA4)))
		require.NoError(t, err)
		assert.True(t, strings.HasPrefix(string(data), "%PDF"))
		if *screenshots != "" {
			require.NoError(t, os.WriteFile(filepath.Join(*screenshots, strings.ReplaceAll(name, "/", "-")+".pdf"), data, 0o644))
		}
	}
}

func withoutScript(t *testing.T, b *browser, dir string) {
	set(t, b, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
	defer set(t, b, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{})
	b.do(t, chromedp.Navigate(address(dir, "index.html")), chromedp.WaitReady(chromedp.CSS("body")))
	assert.Len(t, js[[]int](t, b, visibleRows), 140, "all crimps are shown")
	assert.Equal(t, "none", js[string](t, b, `getComputedStyle(document.getElementById("filters")).display`), "no control that does nothing")
	b.do(t, chromedp.Navigate(address(dir, "crimps/0007.html")), chromedp.WaitReady(chromedp.CSS("body")))
	assert.Contains(t, js[string](t, b, `document.getElementById("next").href`), "0008.html")
	assert.Contains(t, js[string](t, b, `document.getElementById("back").href`), "index.html#c7")
}

// access checks what people with a keyboard, a screen reader or weak eyes need (WCAG 2.2: 1.1.1, 1.3.1, 1.4.3, 2.4.1,
// 2.4.4, 3.1.1, 4.1.2).
func access(t *testing.T, b *browser, dir, oddDir string) {
	for _, at := range []string{address(dir, "index.html"), address(dir, "crimps/0007.html"), address(dir, "crimps/0009.html"), address(dir, "crimps/0045.html"),
		address(oddDir, "index.html"), address(oddDir, "crimps/0001.html")} {
		b.do(t, chromedp.Navigate(at), chromedp.WaitReady(chromedp.CSS("body")))
		assert.Empty(t, js[[]string](t, b, `(() => {
			const bad = [], say = (what, e) => bad.push(what + ": " + e.outerHTML.slice(0, 120));
			if (document.documentElement.lang !== "en") bad.push("no language");
			if (document.querySelectorAll("h1").length !== 1 || document.querySelectorAll("main").length !== 1) bad.push("one h1, one main");
			let level = 0;
			for (const h of document.querySelectorAll("h1,h2,h3,h4")) { const n = +h.tagName[1]; if (n > level + 1) say("level skipped", h); level = n; if (!h.textContent.trim()) say("empty", h); }
			for (const e of document.querySelectorAll("img")) if (!e.alt) say("no alt", e);
			for (const e of document.querySelectorAll("input,select")) if (!e.labels.length) say("no label", e);
			for (const e of document.querySelectorAll("a,button")) if (!e.textContent.trim() && !e.querySelector("img[alt]")) say("no name", e);
			for (const e of document.querySelectorAll("svg")) if (e.getAttribute("aria-hidden") !== "true" && !e.getAttribute("aria-label")) say("no name", e);
			for (const e of document.querySelectorAll("th")) if (!e.scope) say("no scope", e);
			const ids = [...document.querySelectorAll("[id]")].map(e => e.id);
			ids.filter((id, i) => ids.indexOf(id) !== i).forEach(id => bad.push("id twice: " + id));
			for (const e of document.querySelectorAll("[aria-labelledby]")) if (!document.getElementById(e.getAttribute("aria-labelledby"))) say("labelled by nothing", e);
			return bad;
		})()`), at)
		b.do(t, chromedp.KeyEvent("\t"))
		assert.Equal(t, "skip", js[string](t, b, `document.activeElement.className`), "the first stop of the Tab key leads past everything")
		for _, scheme := range []string{"light", "dark"} {
			set(t, b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
				Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
			assert.Empty(t, js[[]string](t, b, `(() => {
				const light = (c) => { const v = c.match(/[\d.]+/g).slice(0, 3).map(x => x / 255).map(x => x <= 0.04045 ? x / 12.92 : ((x + 0.055) / 1.055) ** 2.4); return 0.2126 * v[0] + 0.7152 * v[1] + 0.0722 * v[2]; };
				const ground = (e) => { for (; e; e = e.parentElement) { const c = getComputedStyle(e).backgroundColor; if (!/, 0\)$/.test(c)) return c; } return "rgb(255, 255, 255)"; };
				const bad = new Set();
				for (const e of document.querySelectorAll("body *")) {
					if (![...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim()) || e.closest("svg,select,button,input,.skip")) continue;
					const a = light(getComputedStyle(e).color), b = light(ground(e)), ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
					if (ratio < 4.5) bad.add(e.tagName + "." + e.className + " " + ratio.toFixed(1));
				}
				return [...bad];
			})()`), "%s, %s", at, scheme)
			if scheme == "dark" && at == address(dir, "crimps/0045.html") {
				b.shot(t, "crimp-dark-1280")
			}
		}
		set(t, b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{})
	}
}
