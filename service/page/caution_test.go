package page

import (
	"strings"
	"testing"

	"ropewalk/mapping/entity"
)

const cautioned = `{"@context":"https://linked.art/ns/v1/linked-art.json","id":"https://linked.art/example/object/7","type":"HumanMadeObject","_label":"Altimeter",
"referred_to_by":[
 {"type":"LinguisticObject","classified_as":[{"id":"http://vocab.getty.edu/aat/300435416","type":"Type","_label":"Description"}],"content":"With a dial."},
 {"type":"LinguisticObject","classified_as":[{"id":"http://vocab.getty.edu/aat/300027200","type":"Type","_label":"Note"},
  {"id":"https://linked.art/example/concept/cautions/radioactive-luminous-paint","type":"Type","_label":"radioactive luminous paint"}],
  "identified_by":[{"type":"Name","content":"Caution"}],"content":"Handle it only as trained."}]}`

// A caution stands in front of everything else that a page says of the thing, once.
func TestCautionFirst(t *testing.T) {
	d, err := entity.Parse([]byte(cautioned), "")
	if err != nil {
		t.Fatal(err)
	}
	html := draw(t, d)
	at := strings.Index(html, "Handle it only as trained.")
	box, title, other := strings.Index(html, `role="note"`), strings.Index(html, "<h1>"), strings.Index(html, "With a dial.")
	if title < 0 || box < title || at < box || other < at {
		t.Errorf("title at %d, box at %d, caution at %d, description at %d", title, box, at, other)
	}
	if strings.Count(html, "Handle it only as trained.") != 1 || !strings.Contains(html, "radioactive luminous paint") {
		t.Error("the caution is not told once, with its kind")
	}
	d, err = entity.Parse([]byte(strings.ReplaceAll(cautioned, "/concept/cautions/", "/concept/other/")), "")
	if err != nil {
		t.Fatal(err)
	}
	if html := draw(t, d); strings.Contains(html, `role="note"`) || !strings.Contains(html, "Handle it only as trained.") {
		t.Error("a statement of another kind stands in the box, or nowhere")
	}
}
