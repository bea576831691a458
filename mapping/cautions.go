package mapping

import (
	_ "embed" // the table
	"encoding/csv"
	"fmt"
	"strings"
	"sync"

	"ropewalk/vocab/termlist"
)

// CautionList is the name of the term list of cautions, which every site has, and of
// the local concepts that are made of its words.
const CautionList = "cautions"

//go:embed cautions/cautions.csv
var cautionCSV string

// caution is a kind of caution. The wordings are common practice, ours and without a
// source; they instruct nobody.
type caution struct {
	kind, label string
	concerns    string // hazard, community, location or person
	words       string
}

// hazardCare is what is said of every hazard.
const hazardCare = "Handle it only as trained. This is a warning from our records and no instruction: before anybody opens, moves, cleans, repairs, posts or discards it, " +
	"follow the safety codes that apply where it is, and ask a specialist licensed for such material."

var cautionTable = sync.OnceValues(func() ([]caution, *termlist.List) {
	rows, err := csv.NewReader(strings.NewReader(cautionCSV)).ReadAll()
	if err != nil {
		panic(fmt.Sprintf("mapping: the table of cautions: %v", err)) // a test reads it
	}
	var out []caution
	words := "word,label\n"
	for _, r := range rows[1:] {
		care := r[4]
		if care == "" {
			care = hazardCare
		}
		out = append(out, caution{kind: r[0], label: r[1], concerns: r[2], words: r[3] + " " + care})
		words += r[0] + "," + r[1] + "\n"
	}
	list, err := termlist.Parse(CautionList, "cautions.csv", []byte(words))
	if err != nil {
		panic(fmt.Sprintf("mapping: the table of cautions: %v", err))
	}
	return out, list
})

// cautionOf finds a kind as the term list finds its words.
func cautionOf(kind string) *caution {
	table, list := cautionTable()
	t, ok := list.Find(kind)
	if !ok {
		return nil
	}
	return &table[t.Line-2]
}

// cautionWords is the wording of a caution; nothing for a kind that there is not, which
// the term list reports.
func cautionWords(kind string) string {
	if c := cautionOf(kind); c != nil {
		return c.words
	}
	return ""
}

// CautionKinds are the kinds of caution.
func CautionKinds() []string {
	table, _ := cautionTable()
	var out []string
	for _, c := range table {
		out = append(out, c.kind)
	}
	return out
}

// cautioned are the matters of concern of the cautions that a mapping gives; of one whose
// kind stands in a cell, all.
func (d *document) cautioned() map[string]bool {
	out := map[string]bool{}
	var see func(v *value)
	see = func(v *value) {
		for _, x := range v.first {
			see(x)
		}
		if v.kind != termValue || v.name != CautionList {
			return
		}
		if v.text.holes > 0 {
			out["location"], out["person"] = true, true
		} else if c := cautionOf(v.text.fixed); c != nil {
			out[c.concerns] = true
		}
	}
	d.root.walk(func(n *node) {
		for _, f := range n.fills {
			for _, v := range f.values {
				see(v)
			}
		}
	})
	return out
}
