package main

import (
	"context"
	"fmt"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"strings"

	"ropewalk/mapping/site"
	"ropewalk/service"
	"ropewalk/service/demo"
	"ropewalk/service/harvest"
	"ropewalk/service/web"
)

type serveCmd struct {
	Site   string `arg:"" optional:"" help:"The site's folder."`
	Demo   bool   `help:"Serve the demo collection from a temporary folder; no site is needed."`
	Listen string `help:"Address to listen on, such as 127.0.0.1:8080; the site file's if not given. Port 0 takes any free one."`
}

func (c *serveCmd) Run(a *app) error {
	switch {
	case c.Demo && c.Site != "":
		return &failure{exitUsage, "name a site or --demo, not both"}
	case !c.Demo && c.Site == "":
		return &failure{exitUsage, "which site? Name its folder, or use --demo to look at the demo collection"}
	}
	dir := c.Site
	if c.Demo {
		tmp, err := os.MkdirTemp("", "ropewalk-demo-")
		if err != nil {
			return err
		}
		defer os.RemoveAll(tmp)
		dir = filepath.Join(tmp, "site")
		if err := demo.Write(dir); err != nil {
			return err
		}
	}
	s, err := a.loadSite(dir, false)
	if err != nil {
		return err
	}
	// The demo never goes into anybody's own store.
	name := siteStore(dir, s)
	files := siteDownloads(dir, name)
	if !c.Demo {
		name = storePath(dir, s)
		files = downloadsPath(dir, name)
	}
	open := func() (service.Store, error) { return openPublished(name, c.Site) }
	if c.Demo {
		open = func() (service.Store, error) { return openStore(name) }
	}
	store, err := open()
	if err != nil {
		return err
	}
	defer store.Close()
	if c.Demo {
		if err := harvest.Prepare(a.ctx, store); err != nil {
			return err
		}
		p, err := a.plan(a.ctx, s, store, 1)
		if err != nil {
			return err
		}
		pub, err := p.Commit(a.ctx, "")
		if err != nil {
			return err
		}
		if err := a.downloads(s, store, files, 1, pub); err != nil {
			return err
		}
	}
	if pub, err := store.Current(a.ctx); err == nil {
		warnOfDownloads(a.stderr, files, pub)
	}
	look := views(s)
	srv, err := web.New(web.Options{Store: store, Log: slog.New(slog.NewTextHandler(a.stderr, &slog.HandlerOptions{Level: slog.LevelWarn})),
		Site: serviceSite(s), Views: look, Formats: harvestFormats(look), Downloads: files})
	if err != nil {
		return err
	}
	listen := s.Listen
	if c.Listen != "" {
		listen = c.Listen
	}
	l, err := net.Listen("tcp", listen)
	if err != nil && c.Demo && c.Listen == "" {
		l, err = net.Listen("tcp", "127.0.0.1:0") // the usual port is taken; any will do to look around
	}
	if err != nil {
		return err
	}
	address := "http://" + l.Addr().String()
	if err := c.greet(a, s, store, address, dir); err != nil {
		return err
	}
	return srv.Serve(a.ctx, l)
}

// greet says where the server answers. For the demo it names five addresses worth
// opening.
func (c *serveCmd) greet(a *app, s *site.Site, store service.Store, address, dir string) error {
	if !c.Demo {
		fmt.Fprintf(a.stdout, "%s is served at %s/ (its documents are <%s…>). Stop with Ctrl-C.\n", s.Title, address, s.Base)
		return nil
	}
	show, err := pick(a.ctx, store)
	if err != nil {
		return err
	}
	fmt.Fprintf(a.stdout, `%s: a made-up museum, so that you can see what comes out.
Its site, with exports, mappings and term lists, is in %s until you stop the server.

Five addresses worth opening:
  %s/
      the collection, and everything it serves
  %s/object/
      all its objects, page by page
  %s/%s
      the record of one object, as a page (and as data, if the client asks for data)
  %s/%s.ttl
      the same record as RDF triples, in Turtle
  %s/%s.jsonld
      and as Linked Art JSON-LD

Stop with Ctrl-C.
`, s.Title, dir, address, address, address, show, address, show, address, show)
	return nil
}

// pick finds an object with much to say: the one with the longest document.
func pick(ctx context.Context, store service.Store) (string, error) {
	list, err := store.List(ctx, service.Listing{Endpoint: "object", Limit: 200})
	if err != nil {
		return "", err
	}
	best, most := "", -1
	for _, e := range list {
		r, err := store.Get(ctx, e.Path)
		if err != nil {
			return "", err
		}
		if len(r.Body) > most {
			best, most = e.Path, len(r.Body)
		}
	}
	return strings.TrimPrefix(best, "/"), nil
}
