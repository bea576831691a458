// Package changes is the stream of all changes of a site as the IIIF Change Discovery
// API 1.0 has it (https://iiif.io/api/discovery/1.0/, "§" means a section of it), with
// the context of the Linked Art profile's page on harvesting in front of its own. It
// is of level 2: creations, updates, deletions and moves, with their times.
//
// The stream is an OrderedCollection in pages of a fixed number of activities, oldest
// first (§2.2.3). Every version of a record is one activity, for ever at the same place:
// a page that is full never changes again, but for the link to the next.
package changes

import (
	"bytes"
	"context"
	"encoding/json"
	"strconv"
	"time"

	"ropewalk/service"
)

// PageSize is the number of activities on a full page. It can never change: the
// addresses of the pages depend on it.
const PageSize = 200

// Context is what all documents of the stream begin with.
var Context = []string{"https://linked.art/ns/v1/record-types.json", "http://iiif.io/api/discovery/1/context.json"}

// MediaType is that of the documents (§2.5).
const MediaType = `application/ld+json;profile="http://iiif.io/api/discovery/1/context.json"`

// Stream makes the documents of a site's stream. It is safe for concurrent use.
type Stream struct {
	store service.Store
	site  service.Site
	id    string // address of the collection
	see   []Dataset
}

// Dataset describes the whole in another way (§2.2.1, seeAlso).
type Dataset struct {
	ID      string              `json:"id"`
	Type    string              `json:"type"` // "Dataset"
	Label   map[string][]string `json:"label,omitempty"`
	Format  string              `json:"format,omitempty"`
	Profile string              `json:"profile,omitempty"`
}

// New makes a stream that is found at an address. The addresses of its pages are
// below that: a slash and the page's number, from 1.
func New(store service.Store, site service.Site, address string, see ...Dataset) *Stream {
	return &Stream{store: store, site: site, id: address, see: see}
}

type reference struct {
	ID   string `json:"id"`
	Type string `json:"type"`
}

type collection struct {
	Context []string  `json:"@context"`
	ID      string    `json:"id"`
	Type    string    `json:"type"`
	Total   int64     `json:"totalItems"`
	Rights  string    `json:"rights,omitempty"`
	SeeAlso []Dataset `json:"seeAlso,omitempty"`
	First   reference `json:"first"`
	Last    reference `json:"last"`
}

type page struct {
	Context []string   `json:"@context"`
	ID      string     `json:"id"`
	Type    string     `json:"type"`
	Start   int64      `json:"startIndex"`
	PartOf  reference  `json:"partOf"`
	Prev    *reference `json:"prev,omitempty"`
	Next    *reference `json:"next,omitempty"`
	Items   []activity `json:"orderedItems"`
}

type activity struct {
	ID      string     `json:"id"`
	Type    string     `json:"type"`
	Object  reference  `json:"object"`
	Target  *reference `json:"target,omitempty"`
	EndTime string     `json:"endTime"`
	Summary string     `json:"summary,omitempty"`
}

func (s *Stream) page(n int64) reference {
	return reference{s.id + "/" + strconv.FormatInt(n, 10), "OrderedCollectionPage"}
}

// lastPage is the number of the page on which the activity with a Seq is; there is a
// first page even if it is empty.
func lastPage(seq int64) int64 { return max(1, (seq+PageSize-1)/PageSize) }

// Collection is the document of the stream, and the time of its last change.
func (s *Stream) Collection(ctx context.Context) ([]byte, time.Time, error) {
	current, err := s.store.Current(ctx)
	if err != nil {
		return nil, time.Time{}, err
	}
	return encode(collection{
		Context: Context, ID: s.id, Type: "OrderedCollection", Total: current.Last, Rights: s.site.Licence, SeeAlso: s.see,
		First: s.page(1), Last: s.page(lastPage(current.Last)),
	}), current.Time, nil
}

// Page is the document of a page by its number as text, and the time of the last
// change in it. Its error has the code NotFound if there is no such page.
func (s *Stream) Page(ctx context.Context, number string) ([]byte, time.Time, error) {
	none := func() ([]byte, time.Time, error) {
		return nil, time.Time{}, service.Errorf(service.NotFound, "There is no such page of changes.")
	}
	n, err := strconv.ParseInt(number, 10, 64)
	if err != nil || n < 1 || strconv.FormatInt(n, 10) != number {
		return none()
	}
	current, err := s.store.Current(ctx)
	if err != nil {
		return nil, time.Time{}, err
	}
	last := lastPage(current.Last)
	if n > last {
		return none()
	}
	start := (n - 1) * PageSize
	records, err := s.store.Log(ctx, start, int(min(PageSize, current.Last-start)))
	if err != nil {
		return nil, time.Time{}, err
	}
	if current.Last == 0 {
		records = nil
	}
	p := page{
		Context: Context, ID: s.page(n).ID, Type: "OrderedCollectionPage", Start: start,
		PartOf: reference{s.id, "OrderedCollection"}, Items: make([]activity, 0, len(records)),
	}
	if n > 1 {
		prev := s.page(n - 1)
		p.Prev = &prev
	}
	if n < last {
		next := s.page(n + 1)
		p.Next = &next
	}
	modified := current.Time
	for i := range records {
		p.Items = append(p.Items, s.activity(p.ID, &records[i]))
		if n < last {
			modified = records[i].Modified
		}
	}
	return encode(p), modified, nil
}

// activity is what a version of a record did (§2.1.3). One that returned was created
// anew. A tombstone that changed, such as by a reason, deletes once more; so does a
// redirection move.
func (s *Stream) activity(page string, r *service.Record) activity {
	a := activity{
		ID: page + "#" + strconv.FormatInt(r.Seq, 10), Object: reference{r.IRI, r.Class}, EndTime: r.Modified.UTC().Format(time.RFC3339),
	}
	if r.Class == "" {
		a.Object.Type = "Dataset" // a tombstone of what was never published here
	}
	switch {
	case r.State == service.Gone:
		a.Type, a.Summary = "Delete", r.Reason
	case r.State == service.Moved:
		a.Type, a.Target = "Move", &reference{r.MovedTo, a.Object.Type}
	case r.Change == service.Added || r.Change == service.Returned:
		a.Type = "Create"
	default:
		a.Type = "Update"
	}
	return a
}

// encode writes JSON with a line feed; the types given here cannot fail.
func encode(v any) []byte {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		panic(err)
	}
	return b.Bytes()
}
