package main

import (
	"io"
	"os"

	"github.com/vbauerster/mpb/v8"
	"github.com/vbauerster/mpb/v8/decor"
	"golang.org/x/term"

	"ropewalk/mapping/site"
)

// bar is a progress bar; the zero value shows nothing.
type bar struct {
	p    *mpb.Progress
	b    *mpb.Bar
	last map[string]int64
	sum  int64
}

// progress begins a bar over the bytes of the site's sources, on a terminal only.
func (a *app) progress(what string, s *site.Site) *bar {
	if !terminal(a.stderr) {
		return &bar{}
	}
	var total int64
	for _, sp := range s.Program.Sources {
		total += sp.Source.Size()
	}
	return a.newBar(what, total)
}

// progressTo begins a bar whose end is told later, with [bar.to].
func (a *app) progressTo(what string) *bar {
	if !terminal(a.stderr) {
		return &bar{}
	}
	return a.newBar(what, 0)
}

func (a *app) newBar(what string, total int64) *bar {
	p := mpb.New(mpb.WithOutput(a.stderr), mpb.WithWidth(48), mpb.WithAutoRefresh())
	b := p.New(total, mpb.BarStyle().Rbound("|").Lbound("|").Filler("=").Tip("=").Padding(" "),
		mpb.PrependDecorators(decor.Name(what+" ")),
		mpb.AppendDecorators(decor.Percentage(), decor.Name(" "), decor.AverageETA(decor.ET_STYLE_GO)),
		mpb.BarRemoveOnComplete())
	return &bar{p: p, b: b, last: map[string]int64{}}
}

// set takes the bytes read of one source so far.
func (b *bar) set(source string, bytes int64) {
	if b.b == nil {
		return
	}
	b.sum += bytes - b.last[source]
	b.last[source] = bytes
	b.b.SetCurrent(b.sum)
}

// to sets how much is done of how much.
func (b *bar) to(done, total int64) {
	if b.b == nil {
		return
	}
	if b.sum == 0 {
		b.sum = done // what was done before is not progress
	}
	b.b.SetTotal(total-b.sum+1, false)
	b.b.SetCurrent(done - b.sum)
}

// above gives a writer for text that is printed while the bar is shown: on a
// terminal it must appear above the bar.
func (b *bar) above(w io.Writer) io.Writer {
	if b.p == nil || !terminal(w) {
		return w
	}
	return b.p
}

// done takes the bar away.
func (b *bar) done() {
	if b.b == nil {
		return
	}
	b.b.SetTotal(-1, true)
	b.b.Abort(true)
	b.p.Wait()
}

func terminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}
