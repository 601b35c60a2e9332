package reports

import (
	"context"
	"encoding/json"
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
)

// A tab is a page in a real browser, with everything it asked for and complained of.
type tab struct {
	t    *testing.T
	ctx  context.Context
	mu   sync.Mutex
	said []string // requests and complaints
}

func openTab(t *testing.T) *tab {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		t.Skip("no chromium here: apt-get install chromium, then the page is tested as a reader sees it")
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true))
	ctx, stop := chromedp.NewExecAllocator(context.Background(), opts...)
	t.Cleanup(stop)
	ctx, close := chromedp.NewContext(ctx)
	t.Cleanup(close)
	b := &tab{t: t, ctx: ctx}
	b.do(chromedp.Navigate("about:blank"))
	ctx, cancel := context.WithTimeout(ctx, time.Minute)
	t.Cleanup(cancel)
	b.ctx = ctx
	b.do(chromedp.Func(func(ctx context.Context, tg *chromedp.Target) error {
		if _, err := cdp.Call(ctx, tg, network.Enable, network.EnableParams{}); err != nil {
			return err
		}
		_, err := cdp.Call(ctx, tg, log.Enable, cdp.Empty{})
		return err
	}))
	listen(b, network.RequestWillBeSent, func(e network.EventRequestWillBeSent) string {
		if u := e.Request.URL; !strings.HasPrefix(u, "data:") {
			return "asks for " + u
		}
		return ""
	})
	listen(b, log.EntryAdded, func(e log.EventEntryAdded) string { return "logs " + e.Entry.Text })
	listen(b, runtime.ConsoleAPICalled, func(e runtime.EventConsoleAPICalled) string { return "writes to the console: " + string(e.Type) })
	listen(b, runtime.ExceptionThrown, func(e runtime.EventExceptionThrown) string { return "throws " + e.ExceptionDetails.Text })
	return b
}

func listen[E any](b *tab, event cdp.Event[E], say func(E) string) {
	seen := chromedp.Events(b.ctx, event)
	go func() {
		for e, err := range seen {
			if err != nil {
				return // the tab is closed
			}
			if s := say(e); s != "" {
				b.mu.Lock()
				b.said = append(b.said, s)
				b.mu.Unlock()
			}
		}
	}()
}

func (b *tab) do(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if err := chromedp.Do(b.ctx, steps...); err != nil {
		b.t.Fatal(err)
	}
}

// eval runs an expression in the page.
func eval[T any](b *tab, js string) T {
	b.t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](js, chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatalf("%s: %v", js, err)
	}
	return v
}

const visible = `[...document.querySelectorAll(".piece")].filter(p => p.checkVisibility()).map(p => p.querySelector("h3").textContent).join(" ")`

func TestPageInBrowser(t *testing.T) {
	dir := t.TempDir()
	r := trial(t, dir)
	r.Pieces[6].Piece = "K07"
	writePage(t, r, dir)
	url := "file://" + filepath.Join(dir, "index.html")
	b := openTab(t)
	b.do(chromedp.EmulateViewport(1280, 900), chromedp.Navigate(url))

	sees := func(after, want string) {
		t.Helper()
		if got := eval[string](b, visible); got != want {
			t.Errorf("after %s the page shows %q, want %q", after, got, want)
		}
	}
	set := func(name, value string) {
		b.do(chromedp.SetValue(`select[name="`+name+`"]`, value))
		eval[bool](b, `document.querySelector(".tools").dispatchEvent(new Event("change"))`)
	}
	sees("opening", "K01 K02 K03 K04 K05 K06 K07")
	set("verdict", "fail")
	sees("choosing fail", "K02 K03 K06 K07")
	set("verdict", "overruled")
	sees("choosing what people overruled", "K02 K04")
	set("verdict", "fail")
	set("base", "white")
	sees("choosing a white base too", "K03 K06")
	set("fault", "lump")
	sees("choosing lumps too", "K03")
	if got := eval[string](b, `document.querySelector("output").value`); got != "1 of 7 shown" {
		t.Errorf("the count says %q, want %q", got, "1 of 7 shown")
	}
	b.do(chromedp.Click(`button[type="reset"]`), chromedp.Sleep(50*time.Millisecond))
	sees("show all", "K01 K02 K03 K04 K05 K06 K07")
	set("powder", "plum smoke")
	sees("choosing a powder", "K05")
	set("powder", "")
	set("sort", "bare") // 1.12, 0.7, 0.44, 0.06, 0.02 %, then those not measured in batch order
	sees("sorting by bare area", "K02 K07 K05 K01 K03 K04 K06")
	set("sort", "rank")
	sees("sorting by verdict", "K02 K03 K06 K07 K04 K01 K05")
	set("sort", "base") // -black, black, none, white
	sees("sorting by base", "K07 K01 K02 K05 K03 K04 K06")
	set("sort", "fault") // bare spot, blocked eye, crater and so on, unusable photo, none
	sees("sorting by fault", "K02 K05 K07 K03 K06 K04 K01")
	set("sort", "order")
	sees("sorting back", "K01 K02 K03 K04 K05 K06 K07")

	eval[string](b, `location.hash = "#p2"`)
	b.do(chromedp.Sleep(50 * time.Millisecond))
	if !eval[bool](b, `document.querySelector("#p2 details.all").open`) {
		t.Error("a link to a piece does not open its evidence")
	}
	shown := func(css string) bool { // checkVisibility says yes to an SVG group with display: none
		return eval[bool](b, `document.querySelector("`+css+`").getClientRects().length > 0`)
	}
	for _, layer := range []string{"faults", "angles"} {
		mark := "#p2 .front g." + layer
		if !shown(mark) {
			t.Errorf("%s are not shown at first", layer)
		}
		b.do(chromedp.Click("#p2 .show-" + layer))
		if shown(mark) {
			t.Errorf("%s are shown although switched off", layer)
		}
		if layer == "faults" && !shown("#p2 .front g.angles") {
			t.Error("switching faults off hides the viewing angles too")
		}
		b.do(chromedp.Click("#p2 .show-" + layer))
	}

	width := `document.querySelector("dialog .frame").getBoundingClientRect().width`
	b.do(chromedp.Click("#p2 .front figcaption button"))
	fit := eval[float64](b, width)
	b.do(chromedp.Click(`dialog button[value="in"]`))
	if got := eval[float64](b, width); got < 1.49*fit || got > 1.51*fit {
		t.Errorf("one step larger turns %.0f px into %.0f, want half as much again", fit, got)
	}
	if !shown("dialog .marks") {
		t.Error("the enlarged photo has no marks")
	}
	b.do(chromedp.Click(`dialog input`))
	if shown("dialog .marks") {
		t.Error("marks of the enlarged photo cannot be switched off")
	}
	b.do(chromedp.Click(`dialog button[value="close"]`), chromedp.Sleep(50*time.Millisecond))
	if !shown("#p2 .front .frame") {
		t.Error("after closing the enlarged photo it is gone from its piece")
	}

	for _, w := range []int64{320, 390, 768, 1280, 2560} {
		b.do(chromedp.EmulateViewport(w, 900))
		if over := eval[float64](b, `document.documentElement.scrollWidth - innerWidth`); over > 0 {
			t.Errorf("%d px wide: the page is %.0f px too wide", w, over)
		}
	}
	for _, s := range b.said {
		if s != "asks for "+url {
			t.Errorf("the page %s", s)
		}
	}
}

func TestPageWithoutScript(t *testing.T) {
	dir := t.TempDir()
	r := trial(t, dir)
	writePage(t, r, dir)
	b := openTab(t)
	b.do(scripting(false), chromedp.Navigate("file://"+filepath.Join(dir, "index.html")))
	if n := eval[int](b, `[...document.querySelectorAll(".piece")].filter(p => p.checkVisibility()).length`); n != len(r.Pieces) {
		t.Errorf("%d pieces are shown, want %d", n, len(r.Pieces))
	}
	if eval[bool](b, `[...document.querySelectorAll(".tools, figcaption button")].some(e => e.checkVisibility())`) {
		t.Error("there are controls that need the script")
	}
	b.do(chromedp.Click("#p1 summary"))
	if !eval[bool](b, `document.querySelector("#p1 .travel").checkVisibility()`) {
		t.Error("a piece's evidence does not open")
	}
	b.do(chromedp.Click("#p1 .show-angles"))
	if eval[bool](b, `document.querySelector("#p1 g.angles").getClientRects().length > 0`) {
		t.Error("marks cannot be switched off")
	}
}

// TestPageOnPaper: whoever prints the page gets all of it, with the script and
// without.
func TestPageOnPaper(t *testing.T) {
	dir := t.TempDir()
	r := trial(t, dir)
	writePage(t, r, dir)
	for _, off := range []bool{false, true} {
		b := openTab(t)
		b.do(scripting(!off), chromedp.Navigate("file://"+filepath.Join(dir, "index.html")))
		pdf, err := chromedp.Run(b.ctx, chromedp.PrintToPDF())
		if err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(dir, "printed.pdf")
		if err := os.WriteFile(path, pdf, 0o644); err != nil {
			t.Fatal(err)
		}
		text, _ := words(t, path)
		for _, want := range []string{"What was not seen", "Measured", "Reasons"} {
			n := len(r.Pieces)
			if want == "Reasons" {
				n-- // K01 has none
			}
			if got := strings.Count(text, want); got != n {
				t.Errorf("script off %v: %q is printed %d times, want %d", off, want, got, n)
			}
		}
		if strings.Contains(text, "Sort by") || strings.Contains(text, "Enlarge") {
			t.Errorf("script off %v: buttons are printed", off)
		}
	}
}

func scripting(on bool) chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, tg *chromedp.Target) error {
		_, err := cdp.Call(ctx, tg, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: !on})
		return err
	})
}

// TestPageFor200Pieces holds the page to what was promised: below 25 MB, and
// open within two seconds.
func TestPageFor200Pieces(t *testing.T) {
	if testing.Short() {
		t.Skip("600 pictures take a while")
	}
	dir := t.TempDir()
	page := writePage(t, big(t, dir, 200), dir)
	if len(page) >= 25e6 {
		t.Errorf("the page has %.1f MB, want less than 25", float64(len(page))/1e6)
	}
	b := openTab(t)
	best := 1e9
	for range 3 { // the first time also warms the disk
		b.do(chromedp.Navigate("file://" + filepath.Join(dir, "index.html")))
		best = min(best, eval[float64](b, `performance.timing.loadEventEnd - performance.timing.navigationStart`))
	}
	t.Logf("%.1f MB, open in %.0f ms", float64(len(page))/1e6, best)
	if best >= 2000 {
		t.Errorf("the page takes %.0f ms to open, want less than 2000", best)
	}
}

// TestPageIsAccessible runs axe-core where AXE_CORE names its axe.min.js:
//
//	npm pack axe-core && tar xzf axe-core-*.tgz
//	AXE_CORE=$PWD/package/axe.min.js go test ./reports -run Accessible
func TestPageIsAccessible(t *testing.T) {
	path := os.Getenv("AXE_CORE")
	if path == "" {
		t.Skip("AXE_CORE does not name an axe.min.js")
	}
	axe, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	writePage(t, trial(t, dir), dir)
	b := openTab(t)
	for _, scheme := range []string{"light", "dark"} {
		for _, width := range []int64{390, 1280} {
			b.do(chromedp.EmulateViewport(width, 900), chromedp.Func(func(ctx context.Context, tg *chromedp.Target) error {
				media := emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}}
				_, err := cdp.Call(ctx, tg, emulation.SetEmulatedMedia, media)
				return err
			}), chromedp.Navigate("file://"+filepath.Join(dir, "index.html")), chromedp.Evaluate[chromedp.Void](string(axe)))
			if got := eval[string](b, `matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light"`); got != scheme {
				t.Fatalf("the browser shows the page %s, want %s", got, scheme)
			}
			for _, state := range []string{"closed", "open"} {
				if state == "open" {
					eval[int](b, `dispatchEvent(new Event("beforeprint")), document.querySelectorAll("details").forEach(d => d.open = true), document.querySelectorAll(".piece").forEach(p => p.style.contentVisibility = "visible"), 1`)
				}
				var found []struct {
					ID, Help string
					Nodes    []struct{ HTML, FailureSummary string }
				}
				out := eval[string](b, `axe.run().then(r => JSON.stringify(r.violations))`)
				if err := json.Unmarshal([]byte(out), &found); err != nil {
					t.Fatal(err)
				}
				for _, v := range found {
					t.Errorf("%s, %d px, %s: %s (%s) %d times, first %.300s: %s", scheme, width, state, v.ID, v.Help, len(v.Nodes), v.Nodes[0].HTML, v.Nodes[0].FailureSummary)
				}
			}
		}
	}
}
