package entity_test

import (
	"fmt"
	"strconv"
	"testing"
	"time"

	"pgregory.net/rapid"

	"ropewalk/mapping/entity"
	"ropewalk/vocab"
)

// TestTwins: of equal siblings the first stays, however many there are, also where
// nodes are given up half-way and where runs are nested.
func TestTwins(t *testing.T) {
	typ := vocab.ClassByKey("Type")
	nameClass := vocab.ClassByKey("Name")
	rapid.Check(t, func(t *rapid.T) {
		merged := 0
		var want []string
		d := build("https://museum.example/object/1", func(d *entity.Document, c *vocab.Class) {
			seen := map[string]bool{}
			for i := range rapid.IntRange(0, 120).Draw(t, "n") {
				text := strconv.Itoa(rapid.IntRange(0, 60).Draw(t, "text"))
				mark := d.Mark()
				d.Begin(c.Term("identified_by"), true, nameClass, false, "", -1)
				d.Text(nameClass.Term("content"), false, text, -1)
				inner := map[string]bool{}
				for range rapid.SampledFrom([]int{0, 0, 0, 40}).Draw(t, "inner") {
					ref := "https://museum.example/type/" + strconv.Itoa(rapid.IntRange(0, 50).Draw(t, "ref"))
					d.Begin(nameClass.Term("classified_as"), true, typ, true, ref, -1)
					if d.End() == inner[ref] {
						t.Fatalf("reference %s: seen %v", ref, inner[ref])
					}
					if inner[ref] {
						merged++
					}
					inner[ref] = true
					text += " " + ref
				}
				if rapid.IntRange(0, 4).Draw(t, "cut") == 0 {
					d.Cut(mark)
					continue
				}
				key := fmt.Sprint(text[:1], len(inner))
				if len(inner) == 0 {
					key = text
				} else {
					key += strconv.Itoa(i) // content is random: taken for different
					d.Text(nameClass.Term("_label"), false, key, -1)
				}
				if d.End() == seen[key] {
					t.Fatalf("%s: seen %v", key, seen[key])
				}
				if seen[key] {
					merged++
				} else {
					want = append(want, key)
				}
				seen[key] = true
			}
		})
		if d.Merged() != merged {
			t.Fatalf("%d merged, want %d", d.Merged(), merged)
		}
		var names int
		for _, e := range d.Events() {
			if e.Kind == entity.Open && e.Class == nameClass {
				names++
			}
		}
		if names != len(want) {
			t.Fatalf("%d names, want %d", names, len(want))
		}
	})
}

// TestManySiblings: the time for a node does not grow with the number of its
// siblings.
func TestManySiblings(t *testing.T) {
	const n = 50000
	from := time.Now()
	d := build("https://museum.example/object/1", func(d *entity.Document, c *vocab.Class) {
		typ := vocab.ClassByKey("Type")
		for i := range n {
			name(d, c, "", "name "+strconv.Itoa(i))
		}
		for i := range n {
			d.Begin(c.Term("classified_as"), true, typ, true, "https://museum.example/type/"+strconv.Itoa(i), -1)
			d.End()
		}
	})
	if got := len(d.Nodes()); got != 2*n+1 {
		t.Errorf("%d nodes", got)
	}
	if d.Err() != nil {
		t.Error(d.Err())
	}
	if took := time.Since(from); took > 5*time.Second {
		t.Errorf("%v for %d siblings", took, n)
	}
}
