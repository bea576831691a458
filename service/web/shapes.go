package web

import (
	"bytes"
	"encoding/json"
	"fmt"

	"github.com/piprate/json-gold/ld"

	"ropewalk/vocab"
)

// Profiles of JSON-LD that a request may ask for (JSON-LD 1.1, appendix C).
const (
	compactedURI = "http://www.w3.org/ns/json-ld#compacted"
	expandedURI  = "http://www.w3.org/ns/json-ld#expanded"
	flattenedURI = "http://www.w3.org/ns/json-ld#flattened"
	framedURI    = "http://www.w3.org/ns/json-ld#framed"
)

// shapes makes the other forms of JSON-LD by the algorithms of JSON-LD 1.1. The
// profile's context is parsed once for expansion; nothing is ever fetched. One
// goroutine at a time may use it: the parsed context is not made for more.
type shapes struct {
	loader  ld.DocumentLoader
	context any // the context document
	expand  *ld.Context
}

// embedded is a loader that knows the profile's context alone.
type embedded struct{ context any }

func (e embedded) LoadDocument(u string) (*ld.RemoteDocument, error) {
	if u != vocab.ContextURL {
		return nil, ld.NewJsonLdError(ld.LoadingDocumentFailed, fmt.Sprintf("%s is not embedded", u))
	}
	return &ld.RemoteDocument{DocumentURL: u, Document: e.context}, nil
}

func newShapes() (*shapes, error) {
	doc, err := ld.DocumentFromReader(bytes.NewReader(vocab.ContextJSON()))
	if err != nil {
		return nil, fmt.Errorf("the profile's context: %w", err)
	}
	s := &shapes{context: doc, loader: embedded{doc}}
	if s.expand, err = ld.NewContext(nil, s.options()).Parse(doc.(map[string]any)["@context"]); err != nil {
		return nil, fmt.Errorf("the profile's context: %w", err)
	}
	return s, nil
}

func (s *shapes) options() *ld.JsonLdOptions {
	o := ld.NewJsonLdOptions("")
	o.ProcessingMode = ld.JsonLd_1_1
	o.DocumentLoader = s.loader
	return o
}

// read is a document and its expansion.
func (s *shapes) read(body []byte) ([]any, error) {
	doc, err := ld.DocumentFromReader(bytes.NewReader(body))
	if err != nil {
		return nil, err
	}
	m, ok := doc.(map[string]any)
	if !ok || m["@context"] != vocab.ContextURL {
		return nil, fmt.Errorf("the document does not have the profile's context")
	}
	delete(m, "@context")
	out, err := ld.NewJsonLdApi().Expand(s.expand, "", m, s.options(), false, nil)
	if err != nil {
		return nil, err
	}
	return ld.Arrayify(out), nil
}

func (s *shapes) expanded(body []byte) ([]byte, error) {
	doc, err := s.read(body)
	if err != nil {
		return nil, err
	}
	return marshal(doc)
}

func (s *shapes) flattened(body []byte) ([]byte, error) {
	doc, err := s.read(body)
	if err != nil {
		return nil, err
	}
	flat, err := ld.NewJsonLdProcessor().Flatten(doc, nil, s.options())
	if err != nil {
		return nil, err
	}
	return marshal(flat)
}

// framed puts the document's entity on top and everything once below it.
func (s *shapes) framed(body []byte) ([]byte, error) {
	var head struct {
		ID string `json:"id"`
	}
	if err := json.Unmarshal(body, &head); err != nil {
		return nil, err
	}
	doc, err := s.read(body)
	if err != nil {
		return nil, err
	}
	frame := map[string]any{"@context": vocab.ContextURL, "id": head.ID}
	o := s.options()
	o.OmitGraph = true
	out, err := ld.NewJsonLdProcessor().Frame(doc, frame, o)
	if err != nil {
		return nil, err
	}
	return marshal(out)
}

func marshal(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}
