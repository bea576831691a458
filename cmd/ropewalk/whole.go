package main

import (
	"fmt"
	"path/filepath"

	"ropewalk/mapping/render/view"
	"ropewalk/mapping/site"
	"ropewalk/service"
	"ropewalk/service/download"
	"ropewalk/service/harvest"
	"ropewalk/service/store/postgres"
)

// serviceSite is what the service says about a site.
func serviceSite(s *site.Site) service.Site {
	out := service.Site{Base: s.Base, Title: s.Title, About: s.About, Publisher: s.Publisher.Name, Page: s.Publisher.Page, Email: s.Publisher.Email,
		Licence: s.Licence, Language: s.Language}
	for _, set := range s.Sets {
		out.Sets = append(out.Sets, service.Set{Spec: set.Spec, Name: set.Name, About: set.About})
	}
	return out
}

// views is what the views of a site's documents must know of it.
func views(s *site.Site) *view.Context {
	return &view.Context{Base: s.Base, Language: s.Language, Licence: s.Licence, Rights: s.Rights,
		Publisher: view.Agent{Name: s.Publisher.Name, IRI: s.Publisher.ID, Page: s.Publisher.Page}}
}

// harvestFormats are the formats of harvesting beside RDF.
func harvestFormats(c *view.Context) []harvest.Format {
	var out []harvest.Format
	for _, v := range view.Views() {
		if v.Prefix != "" {
			out = append(out, harvest.View(v, c))
		}
	}
	return out
}

// downloadKinds are the syntaxes that lose nothing, and the views of which many
// documents make a file.
func downloadKinds(c *view.Context) []download.Kind {
	out := download.Kinds()
	for _, v := range view.Views() {
		if _, _, ok := v.Wrap(); ok {
			out = append(out, download.View(v, c))
		}
	}
	return out
}

// downloadsPath is the folder of a site's downloads: beside its store if that is a
// file, else "downloads" in the site's folder. Replicas share it.
func downloadsPath(dir string, s *site.Site, store string) string {
	if postgres.IsAddress(store) {
		if filepath.Base(dir) == site.FileName {
			dir = filepath.Dir(dir)
		}
		return filepath.Join(dir, "downloads")
	}
	return filepath.Join(filepath.Dir(store), "downloads")
}

// downloads makes the files of everything. What was published stays so if that fails.
func (a *app) downloads(s *site.Site, store service.Store, dir string, workers int, pub service.Publication) error {
	if pub.Number == 0 {
		return nil // nothing was ever published
	}
	if _, err := download.Make(a.ctx, store, dir, download.Options{Site: serviceSite(s), Kinds: downloadKinds(views(s)), Workers: workers}); err != nil {
		return fmt.Errorf("%w\nPublication %d stands; its downloads could not be made, and those of before are kept: run publish again", err, pub.Number)
	}
	return nil
}
