package trade

import (
	"slices"
	"strings"
	"testing"

	"ropewalk/mapping/entity"
)

// dealing is an activity in which something happens to the object "o", as in the patterns
// move, find and loan.
func dealing(t failer, iri, when, class, thing string, places ...string) *entity.Document { // "moved_to hull"
	return doc(t, "Activity", iri, func(m *maker) {
		m.refer("classified_as", "Type", provenanceActivity)
		if from, to, ok := strings.Cut(when, " to "); ok {
			m.throughout(from, to)
		} else if when != "" {
			m.when(when)
		}
		m.node("part", class, func() {
			m.refer(thing, "HumanMadeObject", "o")
			for _, p := range places {
				key, at, _ := strings.Cut(p, " ")
				m.refer(key, "Place", at)
			}
		})
	})
}

func TestPlaces(t *testing.T) {
	show := func(iri, kind, when string, in string, things []string, at ...string) *entity.Document {
		return doc(t, "Activity", iri, func(m *maker) {
			m.refer("classified_as", "Type", kind)
			if from, to, ok := strings.Cut(when, " to "); ok {
				m.throughout(from, to)
			} else {
				m.when(when)
			}
			for _, p := range at {
				m.refer("took_place_at", "Place", p)
			}
			for _, o := range things {
				class, iri, ok := strings.Cut(o, " ")
				if !ok {
					class, iri = "HumanMadeObject", o
				}
				m.refer("used_specific_object", class, iri)
			}
			if in != "" {
				m.refer("part_of", "Activity", in)
			}
		})
	}
	o := []string{"o"}
	shown := func(iri, when string, at ...string) *entity.Document {
		return show(iri, exhibition, when, "", o, at...)
	}
	moved := func(iri, when, from, to string) *entity.Document {
		var ends []string
		if from != "" {
			ends = append(ends, "moved_from "+from)
		}
		if to != "" {
			ends = append(ends, "moved_to "+to)
		}
		return dealing(t, iri, when, "Move", "moved", ends...)
	}
	found := func(iri, when, at string) *entity.Document {
		return dealing(t, iri, when, "Encounter", "encountered", "took_place_at "+at)
	}
	own := func(key, class, when, in string, at ...string) *entity.Document {
		return object(t, "o", func(m *maker) {
			m.node(key, class, func() {
				if class == "Activity" {
					m.refer("classified_as", "Type", exhibition)
				}
				if from, to, ok := strings.Cut(when, " to "); ok {
					m.throughout(from, to)
				} else if when != "" {
					m.when(when)
				}
				for _, p := range at {
					m.refer("took_place_at", "Place", p)
				}
				if in != "" {
					m.refer("part_of", "Activity", in)
				}
			})
		})
	}
	now := func(at string) *entity.Document {
		return object(t, "o", func(m *maker) { m.refer("current_location", "Place", at) })
	}
	place := func(iri, key, other string) *entity.Document {
		return doc(t, "Place", iri, func(m *maker) { m.refer(key, "Place", other) })
	}
	docs := func(d ...*entity.Document) []*entity.Document { return d }
	const summer, long = "1931-05-01 to 1931-09-30", "1930 to 1933"
	for _, r := range []row{
		{"moved while it was shown", docs(shown("e", summer, "town"), moved("m", "1931-07-01", "town", "hull")), "two-places e m"},
		{"moved within the town", docs(shown("e", summer, "town"), moved("m", "1931-07-01", "hall", "cellar"),
			place("hall", "part_of", "town"), place("cellar", "part_of", "town")), ""},
		{"moved elsewhere while it was shown", docs(shown("e", summer, "town"), moved("m", "1931-07-01", "hull", "york")), "two-places e m"},
		{"moved at the opening", docs(shown("e", summer, "town"), moved("m", "1931-05-01", "hull", "town")), ""},
		{"moved away at the close", docs(shown("e", summer, "town"), moved("m", "1931-09-30", "town", "hull")), ""},
		{"moved on a day of that year", docs(shown("e", summer, "town"), moved("m", "1931", "town", "hull")), ""},
		{"moved on a day of a year through which it was shown", docs(shown("e", long, "town"), moved("m", "1931", "", "hull")), "two-places e m"},
		{"moved for months about a show", docs(shown("e", summer, "town"), moved("m", "1931-03-01 to 1931-11-01", "hull", "york")), ""},
		{"two moves on one day", docs(moved("m1", "1931-07-01", "town", "hull"), moved("m2", "1931-07-01", "york", "town")), ""},
		{"found while it was shown", docs(shown("e", summer, "town"), found("f", "1931-07-01", "sands")), "two-places e f"},
		{"found in that year", docs(shown("e", summer, "town"), found("f", "1931", "sands")), ""},
		{"found twice", docs(found("f1", "1931-07-01", "sands"), found("f2", "1931-07-01", "cliff")), ""},
		{"found before a day on which it was shown", docs(shown("e", summer, "town"), found("f", "../1931-07-01", "sands")), ""},
		{"in its own record found while it was shown", docs(shown("e", summer, "town"), own("encountered_by", "Encounter", "1931-07-01", "", "sands")), "two-places e o"},
		{"made while it was shown", docs(shown("e", long, "town"), own("produced_by", "Production", "1931", "", "hull")), "two-places e o"},
		{"destroyed while it was shown elsewhere", docs(shown("e", summer, "town"), own("destroyed_by", "Destruction", "1931-07-01", "", "hull")), "two-places e o"},
		{"destroyed where it was shown", docs(shown("e", summer, "town"), own("destroyed_by", "Destruction", "1931-07-01", "", "town")), ""},
		{"treatment begun while it was shown", docs(shown("e", summer, "town"), own("modified_by", "Modification", "1931-07-01 to 1931-12-01", "", "studio")), "two-places e o"},
		{"shown between begin and end of a treatment", docs(shown("e", summer, "town"), own("modified_by", "Modification", "1931-03-01 to 1931-12-01", "", "studio")), ""},
		{"a day's show during a long one", docs(shown("e1", summer, "town"), shown("e2", "1931-07-01", "hull")), "two-places e1 e2"},
		{"a show of some year during a long one", docs(shown("e1", long, "town"), shown("e2", "1931", "hull")), "two-places e1 e2"},
		{"a day's show at the opening", docs(shown("e1", summer, "town"), shown("e2", "1931-05-01", "hull")), ""},
		{"old style and new", docs(shown("e1", "1701-05-01 to 1701-06-30", "town"), shown("e2", "1701-06-20 to 1701-08-30", "hull")), ""},
		{"beyond old style and new", docs(shown("e1", "1701-05-01 to 1701-06-30", "town"), shown("e2", "1701-06-10 to 1701-08-30", "hull")), "two-places e1 e2"},
		{"shown at one of two places", docs(shown("e1", summer, "town", "hull"), shown("e2", summer, "hull")), ""},
		{"shown at neither of two places", docs(shown("e1", summer, "town", "hull"), shown("e2", summer, "york")), "two-places e1 e2"},
		{"a tour and another show", docs(show("e1", travellingExhibition, summer, "", o, "town"), shown("e2", summer, "york")), ""},
		{"a tour within the time of a show", docs(show("e1", travellingExhibition, summer, "", o, "town"), shown("e2", long, "york")), "two-places e1 e2"},
		{"a station of an exhibition", docs(shown("e1", summer, "town"), show("e2", exhibition, summer, "e1", o, "hull")), ""},
		{"a station of a station", docs(shown("e1", summer, "town"), show("e2", exhibition, summer, "e1", nil, "hull"), show("e3", exhibition, summer, "e2", o, "york")), ""},
		{"two stations", docs(show("e2", exhibition, summer, "e1", o, "hull"), show("e3", exhibition, summer, "e1", o, "york")), "two-places e2 e3"},
		{"two stations of a set", docs(show("e2", exhibition, summer, "e1", []string{"Set s"}, "hull"), show("e3", exhibition, summer, "e1", []string{"Set s"}, "york")), ""},
		{"shown, as it says itself", docs(shown("e", summer, "town"), own("used_for", "Activity", summer, "", "hull")), "two-places e o"},
		{"shown in the same, as it says itself", docs(shown("e", summer, "town"), own("used_for", "Activity", summer, "e", "room")), ""},
		{"shown in one that has its own record", docs(shown("e1", summer, "town"), show("e2", exhibition, summer, "", nil, "hull"), own("used_for", "Activity", "", "e2")), "two-places e1 e2 o"},
		{"shown for some days in one that has its own record", docs(shown("e1", summer, "town"), show("e2", exhibition, long, "", nil, "hull"), own("used_for", "Activity", "1931-10-02 to 1931-10-05", "e2")), ""},
		{"a place of another name", docs(shown("e1", summer, "town"), shown("e2", summer, "burgh"), place("burgh", "equivalent", "town")), ""},
		{"a hall in the town of another name", docs(shown("e1", summer, "town"), shown("e2", summer, "hall"), place("burgh", "equivalent", "town"), place("hall", "part_of", "burgh")), ""},
		{"places with a place in common", docs(shown("e1", summer, "county"), shown("e2", summer, "valley"), doc(t, "Place", "meadow", func(m *maker) {
			m.refer("part_of", "Place", "county")
			m.refer("part_of", "Place", "valley")
		})), ""},
		{"a loan while it was shown elsewhere", docs(shown("e", summer, "town"), dealing(t, "l", "1931-07-01", "TransferOfCustody", "transferred_custody_of", "took_place_at hull")), ""},
		{"sold at a place while it was shown elsewhere", docs(shown("e", summer, "town"), dealing(t, "s", "1931-07-01", "Acquisition", "transferred_title_of", "took_place_at hull")), ""},
		{"now elsewhere", docs(shown("e", "2020 to 2030", "town"), now("hull")), ""},

		{"moved on from where it was", docs(moved("m1", "1900", "town", "hull"), moved("m2", "1950", "hull", "york"), now("york")), ""},
		{"moved on from the hall in which it was", docs(moved("m1", "1900", "town", "hull"), moved("m2", "1950", "hall", "york"), now("york"), place("hall", "part_of", "hull")), ""},
		{"a move is missing", docs(moved("m1", "1900", "town", "hull"), moved("m2", "1950", "york", "town"), now("town")), "place-gap m1 m2"},
		{"a move is missing, not known which", docs(moved("m1", "1900", "town", "hull"), moved("m2", "1950", "york", "town"), moved("m3", "", "hull", "attic"), now("attic")), ""},
		{"a loan lies between", docs(moved("m1", "1900", "town", "hull"), moved("m2", "1950", "york", "town"), dealing(t, "l", "1920", "TransferOfCustody", "transferred_custody_of")), ""},
		{"a sale lies between", docs(moved("m1", "1900", "town", "hull"), moved("m2", "1950", "york", "town"), dealing(t, "s", "1920", "Acquisition", "transferred_title_of")), ""},
		{"a show lies between", docs(moved("m1", "1900", "town", "hull"), moved("m2", "1950", "york", "town"), shown("e", "1931", "york")), ""},
		{"a treatment lies around", docs(moved("m1", "1900", "town", "hull"), moved("m2", "1950", "york", "town"), own("modified_by", "Modification", "1890-01-01 to 1960-01-01", "")), ""},
		{"the last move is missing", docs(moved("m1", "1900", "town", "hull"), now("york")), "place-gap m1 o"},
		{"the last move is missing, the first without a date", docs(moved("m1", "", "town", "hull"), now("york")), "place-gap m1 o"},
	} {
		t.Run(r.name, func(t *testing.T) {
			if got := findings(t, r.docs...); got != r.want {
				t.Errorf("%q, want %q", got, r.want)
			}
			slices.Reverse(r.docs)
			if got := findings(t, r.docs...); got != r.want {
				t.Errorf("in the other order: %q, want %q", got, r.want)
			}
		})
	}
}
