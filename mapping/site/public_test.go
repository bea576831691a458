package site_test

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"ropewalk/mapping"
	"ropewalk/mapping/entity"
	"ropewalk/mapping/line"
	"ropewalk/mapping/render"
	"ropewalk/mapping/site"
)

// gateSite has one record for each line of rows, "number;title;date".
func gateSite(mappings string, rows ...string) fstest.MapFS {
	return fstest.MapFS{
		site.FileName:     {Data: []byte("title: T\nbase: https://a.example/\nsources:\n  things: { files: t.csv }\n")},
		"t.csv":           {Data: []byte("no;title;until\n" + strings.Join(rows, "\n") + "\n")},
		"mapping/a.yaml":  {Data: []byte(mappings)},
		"mapping/ns.yaml": {Data: []byte("pattern: none\ntype: Name\ncontent: x\n")},
	}
}

const gateMapping = `make: Type
from: things
id: concept/{no}
label: "{title}"
public_from: "{until}"
`

type plainEncoder struct{ enc *render.Encoder }

func (p plainEncoder) Encode(dst []byte, d *entity.Document, _ mapping.Meta, _ func(mapping.RecordProblem)) []byte {
	dst, err := p.enc.Append(dst, d)
	if err != nil {
		panic(err)
	}
	return dst
}

// gated runs a site at a time and says what became of every record.
func gated(t *testing.T, files fstest.MapFS, now time.Time) (made []string, missed []string, problems []string) {
	t.Helper()
	s, diags := site.Load(files)
	if diags.Problems() > 0 {
		t.Fatal(diags)
	}
	for workers := 1; workers <= 3; workers++ {
		made, missed, problems = nil, nil, nil
		_, err := line.Run(context.Background(), s.Program, line.Options{
			Workers: workers, Rows: 1, Now: now,
			NewEncoder: func() line.Encoder {
				return plainEncoder{render.NewEncoder(render.FormatByName("jsonld"), render.Options{})}
			},
			Missed: func(m mapping.Missed) {
				missed = append(missed, fmt.Sprintf("%s %d %s row %d", short(s.Base, m.IRI), m.Why, m.From.Format(time.RFC3339), m.Place.Row))
			},
			Problem: func(p mapping.RecordProblem) { problems = append(problems, string(p.Rule)+" "+p.Value) },
		}, func(it *line.Item) error {
			made = append(made, short(s.Base, it.IRI))
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	return made, missed, problems
}

func same(t *testing.T, what string, got []string, want ...string) {
	t.Helper()
	if !slices.Equal(got, want) {
		t.Errorf("%s:\n got %q\nwant %q", what, got, want)
	}
}

// Documents are held back until their day, and no longer; what can't be read holds
// them back, too.
func TestPublicFrom(t *testing.T) {
	files := gateSite(gateMapping,
		"1;past;2020-02-29", "2;future;2031-05-01", "3;open;", "4;nonsense;next year", "5;a year;2020", "6;no such day;2021-02-29",
		"7;with a time;2031-04-30T23:59:59Z", "8;with a space;2031-04-30 23:59", "9;elsewhere;2031-05-01T01:00:00+02:00", "10;;2031-05-01", "11;;")
	before := time.Date(2031, 4, 30, 23, 59, 59, 999_999_999, time.UTC)
	made, missed, problems := gated(t, files, before)
	same(t, "made", made, "concept/1", "concept/3", "concept/7", "concept/8", "concept/9")
	same(t, "missed", missed,
		fmt.Sprintf("concept/2 %d 2031-05-01T00:00:00Z row 3", mapping.Embargoed),
		fmt.Sprintf("concept/4 %d 0001-01-01T00:00:00Z row 5", mapping.Undated),
		fmt.Sprintf("concept/5 %d 0001-01-01T00:00:00Z row 6", mapping.Undated),
		fmt.Sprintf("concept/6 %d 0001-01-01T00:00:00Z row 7", mapping.Undated),
		fmt.Sprintf("concept/10 %d 2031-05-01T00:00:00Z row 11", mapping.Embargoed),
		fmt.Sprintf("concept/11 %d 0001-01-01T00:00:00Z row 12", mapping.Unfit))
	same(t, "problems", problems, "unread-public-from next year", "unread-public-from 2020", "unread-public-from 2021-02-29", "required-empty ")

	made, missed, _ = gated(t, files, before.Add(1))
	same(t, "made a moment later", made, "concept/1", "concept/2", "concept/3", "concept/7", "concept/8", "concept/9")
	if len(missed) != 5 || !strings.HasPrefix(missed[3], fmt.Sprintf("concept/10 %d", mapping.Unfit)) {
		t.Errorf("missed a moment later: %q", missed)
	}
}

// Where a date is demanded, and where it is computed.
func TestPublicFromWords(t *testing.T) {
	now := time.Date(2030, 6, 1, 0, 0, 0, 0, time.UTC)
	rows := []string{"1;a;2030", "2;b;2029", "3;c;", "4;d;x"}
	made, missed, problems := gated(t, gateSite(strings.Replace(gateMapping, "{until}", "{until!}", 1), "1;a;2030-06-01", "2;b;"), now)
	same(t, "demanded", made, "concept/1")
	same(t, "demanded, missed", missed, fmt.Sprintf("concept/2 %d 0001-01-01T00:00:00Z row 3", mapping.Undated))
	same(t, "demanded, problems", problems, "required-empty ")

	made, missed, problems = gated(t, gateSite(strings.Replace(gateMapping, "{until}", "{until}-12-31", 1), rows...), now)
	same(t, "end of a year", made, "concept/2", "concept/3")
	same(t, "end of a year, problems", problems, "unread-public-from x-12-31")
	if len(missed) != 2 {
		t.Errorf("end of a year, missed: %q", missed)
	}

	// An expression that fails does not open what it should hold back.
	made, missed, problems = gated(t, gateSite(strings.Replace(gateMapping, "{until}", "{string(int(until) + 1)}-01-01", 1), rows...), now)
	same(t, "expression", made, "concept/2", "concept/3")
	if len(missed) != 2 || len(problems) != 1 || !strings.HasPrefix(problems[0], "expression-failed") {
		t.Errorf("expression: missed %q, problems %q", missed, problems)
	}

	// A condition comes first: what it leaves out needs no date.
	made, missed, problems = gated(t, gateSite(gateMapping+"when: title != \"d\"\n", rows...), now)
	same(t, "condition", made, "concept/3")
	if len(missed) != 2 || len(problems) != 2 {
		t.Errorf("condition: missed %q, problems %q", missed, problems)
	}
}

// A document that one record missed and another made was made. Records that don't
// say which document they should have made are told of without an IRI.
func TestMissed(t *testing.T) {
	now := time.Date(2030, 6, 1, 0, 0, 0, 0, time.UTC)
	files := gateSite(gateMapping+"once: true\n", "1;a;2031-01-01", "1;a;", "2;b;2031-01-01", ";c;")
	made, missed, _ := gated(t, files, now)
	same(t, "made", made, "concept/1")
	same(t, "missed", missed,
		fmt.Sprintf("concept/2 %d 2031-01-01T00:00:00Z row 4", mapping.Embargoed),
		fmt.Sprintf(" %d 0001-01-01T00:00:00Z row 5", mapping.Unfit))

	// A condition that fails leaves it open whether there should be a document.
	files = gateSite("make: Type\nfrom: things\nid: concept/{no}\nlabel: \"{title}\"\nwhen: int(until) > 3\n", "1;a;4", "2;b;2", "3;c;x")
	made, missed, _ = gated(t, files, now)
	same(t, "made", made, "concept/1")
	same(t, "missed", missed, fmt.Sprintf("concept/3 %d 0001-01-01T00:00:00Z row 4", mapping.Unfit))
}

// TestPublicFromDates: what is a date, and what is none.
func TestPublicFromDates(t *testing.T) {
	for s, want := range map[string]string{
		"2031-05-01": "2031-05-01T00:00:00Z", "2031-05-01T12:30": "2031-05-01T12:30:00Z", "2031-05-01 12:30:15": "2031-05-01T12:30:15Z",
		"2031-05-01T12:30Z": "2031-05-01T12:30:00Z", "2031-05-01T00:30:00+01:00": "2031-04-30T23:30:00Z", "2031-05-01T12:30:00.5Z": "2031-05-01T12:30:00Z",
		"": "", "2031": "", "2031-05": "", "2031-5-1": "", "01.05.2031": "", "1/5/2031": "", "2031-13-01": "", "2031-05-01T25:00": "", "2031-05-01x": "",
		"20310501": "", " 2031-05-01": "",
	} {
		got, err := mapping.PublicFrom(s)
		if (err == nil) != (want != "") || err == nil && got.Truncate(time.Second).Format(time.RFC3339) != want {
			t.Errorf("%q: %v, %v, want %s", s, got, err, want)
		}
	}
}
