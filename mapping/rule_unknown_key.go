package mapping

import (
	"fmt"
	"slices"

	"ropewalk/vocab"
)

var ruleUnknownKey = &Rule{Name: "unknown-key", About: "a key that nodes of the class don't have, or a word that has no place there"}

// everyday are words that people look for, with the key of the profile that says
// it and how.
var everyday = []struct{ word, key, hint string }{
	{"title", "identified_by", "a title is a Name: identified_by: { use: primary-name, content: … }"},
	{"name", "identified_by", "a name is a Name: identified_by: { use: primary-name, content: … }"},
	{"number", "identified_by", "a number is an Identifier: identified_by: { use: accession-number, content: … }"},
	{"identifier", "identified_by", "a number is an Identifier: identified_by: { use: accession-number, content: … }"},
	{"description", "referred_to_by", "words about it are statements: referred_to_by: { use: description, content: … }"},
	{"notes", "referred_to_by", "words about it are statements: referred_to_by: { use: note, content: … }"},
	{"inscription", "referred_to_by", "words about it are statements: referred_to_by: { use: inscription, content: … }"},
	{"condition", "referred_to_by", "words about it are statements: referred_to_by: { use: condition-statement, content: … }"},
	{"credit", "referred_to_by", "words about it are statements: referred_to_by: { use: credit-line, content: … }"},
	{"provenance", "referred_to_by", "words about it are statements: referred_to_by: { use: provenance-statement, content: … }"},
	{"maker", "produced_by", "a maker carried out the making: produced_by: { carried_out_by: … }"},
	{"creator", "produced_by", "a maker carried out the making: produced_by: { carried_out_by: … }"},
	{"artist", "produced_by", "a maker carried out the making: produced_by: { carried_out_by: … }"},
	{"date", "produced_by", "the date is that of the making: produced_by: { timespan: { read: date, from: … } }"},
	{"technique", "produced_by", "the technique is that of the making: produced_by: { technique: … }"},
	{"materials", "made_of", "made_of: { term: …, from: … }"},
	{"medium", "made_of", "made_of: { term: …, from: … }"},
	{"dimensions", "dimension", "dimension: { read: dimensions, from: … }"},
	{"measurements", "dimension", "dimension: { read: dimensions, from: … }"},
	{"owner", "current_owner", "current_owner: { refer: …, label: … }"},
	{"location", "current_location", "current_location: { refer: …, label: … }"},
	{"image", "representation", "representation: { use: digital-image, address: … }"},
	{"picture", "representation", "representation: { use: digital-image, address: … }"},
	{"url", "subject_of", "a web page about it: subject_of: { use: web-page, address: … }"},
	{"web_page", "subject_of", "a web page about it: subject_of: { use: web-page, address: … }"},
	{"same_as", "equivalent", "equivalent: { id: … }"},
	{"collection", "member_of", "member_of: { refer: …, label: … }"},
	{"classification", "classified_as", "classified_as: { use: type-of-work, term: …, from: … }"},
	{"object_type", "classified_as", "classified_as: { use: type-of-work, term: …, from: … }"},
	{"born", "born", "born: { timespan: { read: date, from: … } }"},
}

func (c *compiler) unknownKey(n *node, key *Scalar, e *env) {
	var have []string
	for _, s := range n.shape.Slots {
		k := s.Key
		if k == "_label" {
			k = "label"
		}
		have = append(have, k)
	}
	near := append(append([]string{}, have...), nodeWords...)
	if e != nil {
		near = append(near, e.pattern.holeNames()...)
	}
	what := a(n.class.Key)
	switch {
	case n.shape.Document:
	case n.shape.ID == vocab.IDRequired:
		what = "a reference to " + what
	case len(vocab.Record(n.class)) > 0: // it has other keys as a document
		what = "an embedded " + n.class.Key
	}
	hint := didYouMean(key.Text, near)
	if key.Text == "public_from" {
		hint = "it holds back whole documents: write it in the head of a mapping, beside \"make\" and \"from\""
	}
	if hint == "" {
		var words []string
		for _, w := range everyday {
			if slices.Contains(have, w.key) {
				words = append(words, w.word)
			}
		}
		if w := nearest(key.Text, words); w != "" {
			hint = everyday[slices.IndexFunc(everyday, func(x struct{ word, key, hint string }) bool { return x.word == w })].hint
		}
	}
	if hint == "" {
		hint = fmt.Sprintf("the keys of %s are %s", what, oneOf(have))
		if others := classesWith(key.Text); len(others) > 0 && len(others) <= 4 {
			hint = orList(others) + " has this key; " + hint
		}
	}
	c.add(ruleUnknownKey, key.Span, fmt.Sprintf("%s has no key %q in the profile", what, key.Text), hint)
}

// classesWith are the names of the classes that have a key, sorted.
func classesWith(key string) []string {
	var out []string
	for _, sh := range vocab.Shapes() {
		if sh.Slot(key) == nil {
			continue
		}
		for _, cl := range sh.Classes {
			if !slices.Contains(out, cl.Key) {
				out = append(out, cl.Key)
			}
		}
	}
	slices.Sort(out)
	return out
}

// wordAlone reports "from", "split" or "otherwise" without the word it belongs to.
func (c *compiler) wordAlone(key *Scalar) {
	hint := "it belongs to \"term\", which names a term list"
	if key.Text == "from" {
		hint = "it belongs to \"term\", which names a term list, or to \"read\", which names a reader"
	}
	c.add(ruleUnknownKey, key.Span, fmt.Sprintf("%q has no place here", key.Text), hint)
}
