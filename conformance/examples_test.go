package conformance

import (
	"errors"
	"fmt"
	"testing"

	"ropewalk/conformance/outside"
)

// TestExamplesVerdicts proves the validation against the published schemas on the
// published examples: the verdicts are those of the table beside them, which a
// different validator made.
func TestExamplesVerdicts(t *testing.T) {
	schemas := outside.PublishedSchemas(t)
	dev := outside.LoadDeviations(t, "verdict")
	valid := 0
	for _, e := range outside.Examples(t) {
		err := schemas.Validate(e.Schema, e.Text)
		if err == nil {
			valid++
		}
		var fault error
		switch {
		case e.Valid && err != nil:
			fault = fmt.Errorf("said to be valid: %w", err)
		case !e.Valid && err == nil:
			fault = errors.New("said to be invalid, but is accepted")
		}
		dev.Check(e.File, fault)
	}
	t.Logf("%d examples valid", valid)
	dev.Done(true, 200)
}

// TestExamplesExpansion proves the graphs that the published context gives: the
// expansion by json-gold, which our writers are compared with, is that of
// jsonld.js.
func TestExamplesExpansion(t *testing.T) {
	expand := outside.PublishedContext(t)
	other := readerNamed(t, "jsonld")
	dev := outside.LoadDeviations(t, "expansion")
	examples := outside.Examples(t)
	if !outside.Long() {
		examples = examples[:2]
	}
	var reqs []outside.Request
	for _, e := range examples {
		reqs = append(reqs, outside.Request{Syntax: outside.JSONLD, Base: e.ID, Text: e.Text})
	}
	triples := 0
	for i, a := range other.Read(reqs) {
		want, err := expand.Quads(examples[i].Text)
		if err == nil {
			err = a.Err
		}
		if err == nil {
			err = sameGraph(want, a.Quads)
		}
		triples += len(want)
		dev.Check(examples[i].File, err)
	}
	t.Logf("%d documents, %d triples", len(examples), triples)
	dev.Done(outside.Long(), len(examples)*9/10)
}
