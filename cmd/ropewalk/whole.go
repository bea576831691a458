package main

import (
	"fmt"
	"io"
	"os"
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

// downloadsEnv names a folder that takes the place of the one of [siteDownloads]:
// publishers and servers on several machines share one.
const downloadsEnv = "ROPEWALK_DOWNLOADS"

// downloadsPath is the folder of a site's downloads.
func downloadsPath(dir string, store string) string {
	if v := os.Getenv(downloadsEnv); v != "" {
		return v
	}
	return siteDownloads(dir, store)
}

// siteDownloads is the folder "downloads" beside the store if that is a file, else in the
// site's folder.
func siteDownloads(dir string, store string) string {
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

// warnOfDownloads says so if the downloads in a server's folder are not those of what is
// published.
func warnOfDownloads(w io.Writer, dir string, pub service.Publication) {
	set, err := download.NewShelf(dir).Set()
	var what string
	switch {
	case pub.Number == 0 || err == nil && set.Publication == pub.Number:
		return
	case service.CodeOf(err) == service.NotFound:
		what = fmt.Sprintf("There are no downloads in %s, though publication %d is published.", dir, pub.Number)
	case err != nil:
		what = err.Error() + "."
	default:
		what = fmt.Sprintf("The downloads in %s are those of publication %d; published is publication %d.", dir, set.Publication, pub.Number)
	}
	fmt.Fprintf(w, "ropewalk: %s\nThey are made by ropewalk publish; where that runs elsewhere, %s names the folder that it fills and the servers share.\n", what, downloadsEnv)
}
