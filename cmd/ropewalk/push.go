package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"os"
	"time"

	"ropewalk/service"
	"ropewalk/service/push"
)

// The environment's variables with the credentials of an RDF store. They have no
// place on a command line, which others can see, nor in a file that is copied about.
const (
	pushUserEnv     = "ROPEWALK_PUSH_USER"
	pushPasswordEnv = "ROPEWALK_PUSH_PASSWORD"
	pushTokenEnv    = "ROPEWALK_PUSH_TOKEN"
)

type pushCmd struct {
	Site    string `arg:"" help:"The site's folder."`
	To      string `placeholder:"URL" help:"Address of the store's Graph Store HTTP Protocol; the site file's (push: { to: … }) if not given. Credentials are taken from ROPEWALK_PUSH_USER and ROPEWALK_PUSH_PASSWORD, or from ROPEWALK_PUSH_TOKEN."`
	All     bool   `help:"Send every document, and delete the graph of every one that is withdrawn or moved, whatever the store has."`
	DryRun  bool   `help:"Show what would be sent, and send nothing."`
	First   int    `help:"With --dry-run: how many documents to show." default:"10"`
	Workers int    `help:"How many requests to make at once." default:"4"`
}

func (c *pushCmd) Run(a *app) error {
	if c.Workers < 1 || c.Workers > 64 {
		return &failure{exitUsage, "--workers takes a number from 1 to 64"}
	}
	if c.First < 0 {
		return &failure{exitUsage, "--first takes a number of documents"}
	}
	s, err := a.loadSite(c.Site, false)
	if err != nil {
		return err
	}
	to := c.To
	if to == "" {
		if to = s.PushTo; to == "" {
			return &failure{exitUsage, "where to? Give --to with the address of a store's Graph Store HTTP Protocol, or write push: { to: … } in the site file"}
		}
	}
	target, err := push.NewTarget(to, push.Credentials{User: os.Getenv(pushUserEnv), Password: os.Getenv(pushPasswordEnv), Token: os.Getenv(pushTokenEnv)})
	if err != nil {
		return &failure{exitUsage, err.Error()}
	}
	defer target.Close()
	store, err := openPublished(storePath(c.Site, s), c.Site)
	if err != nil {
		return err
	}
	defer store.Close()
	last, err := store.Current(a.ctx)
	if err != nil {
		return err
	}
	if last.Number == 0 {
		return fmt.Errorf("nothing is published yet: run ropewalk publish %s", c.Site)
	}
	o := push.Options{Base: s.Base, All: c.All, Workers: c.Workers}
	if c.DryRun {
		return c.plan(a, store, target, o)
	}
	return c.push(a, store, target, o)
}

func (c *pushCmd) plan(a *app, store service.Store, target *push.Target, o push.Options) error {
	put, del := 0, 0
	err := push.Plan(a.ctx, store, target, o, func(r *service.Record) error {
		verb := "PUT   "
		if r.State == service.Live {
			put++
		} else {
			verb = "DELETE"
			del++
		}
		if put+del <= c.First {
			fmt.Fprintf(a.stdout, "%s <%s>  %s\n", verb, r.IRI, r.Label)
		}
		return nil
	})
	if err != nil {
		return err
	}
	if more := put + del - c.First; more > 0 && c.First > 0 {
		fmt.Fprintf(a.stdout, "… and %s\n", count(more, "more document"))
	}
	fmt.Fprintf(a.stdout, "%s to send, %s to delete in %s. Nothing was sent.\n", count(put, "document"), count(del, "graph"), target)
	return nil
}

func (c *pushCmd) push(a *app, store service.Store, target *push.Target, o push.Options) error {
	host, err := os.Hostname()
	if err != nil {
		host = "an unnamed machine"
	}
	o.Claim = fmt.Sprintf("%s on %s since %s", rand.Text(), host, a.time().UTC().Format(time.RFC3339))
	unlock, err := lockPush(target.String()+" "+o.Base, &o)
	if err != nil {
		return err
	}
	bar := a.progressTo("pushing")
	o.Progress = bar.to
	o.Waiting = func(claim string) {
		fmt.Fprintf(bar.above(a.stderr), "Another push is at work, or was interrupted: %s. Waiting until it ends; one that shows no life for two minutes has.\n", claim)
	}
	r, err := push.Run(a.ctx, store, target, o)
	bar.done()
	unlock(err == nil)
	for i, x := range r.Refused {
		if i == 20 {
			fmt.Fprintf(a.stderr, "… and %s\n", count(len(r.Refused)-i, "more document"))
			break
		}
		fmt.Fprintln(a.stderr, x)
	}
	sum := fmt.Sprintf("%s sent, %s deleted", count(r.Put, "document"), count(r.Deleted, "graph"))
	switch {
	case err != nil:
		if errors.Is(err, context.Canceled) {
			err = errors.New("interrupted")
		}
		if r.Put+r.Deleted > 0 {
			err = fmt.Errorf("%w\n%s before that; the next push goes on from there", err, sum)
		}
		return err
	case len(r.Refused) > 0:
		fmt.Fprintf(a.stdout, "%s; %s refused by %s. The next push tries %s again.\n", sum, count(len(r.Refused), "document"), target, them(len(r.Refused)))
		return problems()
	case r.Put+r.Deleted+r.Absent == 0:
		fmt.Fprintf(a.stdout, "Nothing has changed: %s has what is published.\n", target)
	default:
		fmt.Fprintf(a.stdout, "%s. %s has what is published.\n", sum, target)
	}
	return nil
}
