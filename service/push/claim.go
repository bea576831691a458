package push

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"ropewalk/service"
)

const (
	defaultLease = 2 * time.Minute
	maxTimeout   = time.Minute // of one request
)

// lease is until when a push may send. A nil one has no bounds.
type lease struct {
	mu    sync.Mutex
	until time.Time
	kept  chan struct{} // closed when it is renewed
}

func (l *lease) extend(until time.Time) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.until = until
	if l.kept != nil {
		close(l.kept)
		l.kept = nil
	}
}

// wait waits until something may be sent.
func (l *lease) wait(ctx context.Context) error {
	if l == nil {
		return ctx.Err()
	}
	for {
		l.mu.Lock()
		ok := time.Now().Before(l.until)
		if !ok && l.kept == nil {
			l.kept = make(chan struct{})
		}
		kept := l.kept
		l.mu.Unlock()
		if ok {
			return ctx.Err()
		}
		select {
		case <-kept:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// claim makes the target ours, waits for whoever has it, and sets p.state.
func (p *pusher) claim(ctx context.Context) error {
	graph := StateGraph(p.o.Base)
	var seen state // as it was when we first saw it like this
	var since time.Time
	waited := false
	for {
		s, err := p.target.state(ctx, graph)
		if err != nil {
			return err
		}
		dead := true
		for _, c := range s.claims {
			dead = dead && p.o.Dead != nil && p.o.Dead(whose(c))
		}
		if since.IsZero() || s.renewals != seen.renewals || s.through != seen.through || !slices.Equal(s.claims, seen.claims) {
			seen, since = s, time.Now()
		}
		if dead || time.Since(since) >= p.o.Lease {
			done, err := p.take(ctx, graph, s)
			if done || err != nil {
				return err
			}
			since = time.Time{} // others claim it, too
		} else if !waited && p.o.Waiting != nil {
			waited = true
			p.o.Waiting(whose(s.claims[0]))
		}
		// Those who took back their claims at the same time don't come again together.
		if err := sleep(ctx, min(p.o.Lease/24, 5*time.Second)+jitter(p.o.Lease/24)); err != nil {
			return err
		}
	}
}

// tryMark stands between the name of a push and the number of its try to claim the
// target. A claim that was taken back stays so.
const tryMark = ", try "

// whose is the name of the push that makes a claim.
func whose(claim string) string {
	if i := strings.LastIndex(claim, tryMark); i >= 0 {
		return claim[:i]
	}
	return claim
}

// take claims the target, from those whose claims are over. It reports whether it is
// ours now.
func (p *pusher) take(ctx context.Context, graph string, over state) (bool, error) {
	began := time.Now()
	p.tries++
	p.name = fmt.Sprintf("%s%s%d", p.o.Claim, tryMark, p.tries)
	if err := p.add(ctx, graph, termClaim); err != nil {
		return false, err
	}
	s, err := p.target.state(ctx, graph)
	if err != nil {
		return false, p.leave(ctx, graph, err)
	}
	mine := false
	for _, c := range s.claims {
		if c == p.name {
			mine = true
		} else if !slices.Contains(over.claims, c) || s.renewals != over.renewals {
			return false, p.leave(ctx, graph, nil)
		}
	}
	if !mine {
		return false, nil // whoever had the target has just written its state
	}
	if p.o.All {
		s.through, s.version, s.refused = 0, "", nil
	} else if err := s.belongs(ctx, p.store, p.target); err != nil {
		return false, p.leave(ctx, graph, err)
	}
	p.state = s
	for _, path := range s.refused {
		p.refused[path] = Refusal{IRI: p.o.Base + path, Answer: "refused by an earlier push, and not tried again yet"}
	}
	within, cancel := context.WithTimeout(ctx, p.o.Lease/2)
	defer cancel()
	if err := p.write(within, graph, p.name); err != nil {
		return false, p.leave(ctx, graph, err)
	}
	p.renewed = began
	p.lease.extend(began.Add(p.o.Lease / 2))
	return true, nil
}

// renew keeps the claim and writes how far the push has come.
func (p *pusher) renew(ctx context.Context) error {
	graph := StateGraph(p.o.Base)
	began := time.Now()
	if err := p.mine(ctx, graph); err != nil {
		return err
	}
	if err := p.write(ctx, graph, p.name); err != nil {
		return err
	}
	if time.Since(p.renewed) > p.o.Lease {
		// So late that another may be taking the target over. It has by then, and
		// has found out, or hasn't begun.
		if err := sleep(ctx, p.o.Lease/2); err != nil {
			return err
		}
		if err := p.mine(ctx, graph); err != nil {
			return err
		}
		if err := p.write(ctx, graph, p.name); err != nil {
			return err
		}
		began = time.Now()
	}
	p.renewed, p.since = began, 0
	p.lease.extend(began.Add(p.o.Lease / 2))
	return nil
}

// mine checks that the target is still ours.
func (p *pusher) mine(ctx context.Context, graph string) error {
	s, err := p.target.state(ctx, graph)
	if err == nil && !slices.Contains(s.claims, p.name) {
		p.lost = true
		who := "somebody has emptied it"
		if len(s.claims) > 0 {
			who = "another push has taken it over (" + whose(s.claims[0]) + ")"
		}
		return service.Errorf(service.Conflict, "%s: %s while this push was at work. What was sent since is not in its state; push again", p.target, who)
	}
	return err
}

// release gives the target back, with the state as far as it was acknowledged.
func (p *pusher) release(ctx context.Context, because error) error {
	if p.lost {
		return nil
	}
	if because != nil {
		// A few seconds for a target that may not answer; the claim it then keeps is
		// one of a dead push.
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(context.WithoutCancel(ctx), min(p.o.Lease/2, 10*time.Second))
		defer cancel()
		p.target.hurry()
	}
	graph := StateGraph(p.o.Base)
	err := p.mine(ctx, graph)
	if err == nil {
		err = p.write(ctx, graph, "")
	}
	if err != nil && because == nil && !p.lost {
		return &service.Error{Code: service.CodeOf(err), Message: "all has been sent, but the state could not be written, so that the next push sends some of it again", Err: err}
	}
	return err
}

// write puts the state, with a claim or without. Claims of others in it are dead or
// about to be taken back.
func (p *pusher) write(ctx context.Context, graph, claim string) error {
	s := p.state
	s.renewals++
	s.claims, s.left, s.refused = nil, nil, nil
	if claim != "" {
		s.claims = []string{claim}
	}
	for path := range p.refused {
		s.refused = append(s.refused, path)
	}
	slices.Sort(s.refused)
	b, err := s.nTriples(graph)
	if err != nil {
		return err
	}
	a, err := p.target.send(ctx, nil, "PUT", graph, b)
	if err == nil && !a.done() {
		err = p.target.unfit("given the state of the push, <"+graph+">,", a)
	}
	if err == nil {
		p.state.renewals = s.renewals
	}
	return err
}

// add adds the claim to the state graph: as one, or as one taken back.
func (p *pusher) add(ctx context.Context, graph, property string) error {
	b, err := claimTriple(graph, property, p.name)
	if err != nil {
		return err
	}
	a, err := p.target.send(ctx, nil, "POST", graph, b)
	if err == nil && !a.done() {
		err = p.target.unfit("asked to add to <"+graph+">", a)
	}
	return err
}

// leave takes a claim back, because of an error or of another claim.
func (p *pusher) leave(ctx context.Context, graph string, because error) error {
	if because != nil {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(context.WithoutCancel(ctx), min(p.o.Lease/2, 10*time.Second))
		defer cancel()
		p.target.hurry()
		_ = p.add(ctx, graph, termLeft) // the error before says more
		return because
	}
	return p.add(ctx, graph, termLeft)
}
