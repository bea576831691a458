package source

import (
	"context"
	"errors"
	"strings"
	"sync"
	"testing"
)

var joinFiles = files(
	"objects.csv", "id,maker,place\n1,m1,p1\n2,m2,\n3,m9,p9\n4,,p2\n",
	"makers.csv", "key,name,town\nm1,Ann\u00a0B.,p2\nm2,Carl,p1\nm2,Carla,p2\nm3,Dora,\n",
	"places.csv", "code;name\np1;Port\np2;Bay\n",
	"notes.csv", "object,no,text,by\n2,1,first,m1\n1,1,only,m2\n2,2,second,m8\n7,1,lost,\n,1,nobody's,m1\n",
)

func joinSpecs() []Spec {
	on := func(here, there string) [][2]string { return [][2]string{{here, there}} }
	return []Spec{
		{Name: "objects", Files: []string{"objects.csv"}, Key: "id",
			Lookups: map[string]Join{"who": {From: "makers", On: on("maker", "key")}, "where": {From: "places", On: on("place", "code")}},
			Rows:    map[string]Join{"notes": {From: "notes", On: on("id", "object")}}},
		{Name: "makers", Files: []string{"makers.csv"}, Lookups: map[string]Join{"home": {From: "places", On: on("town", "code")}},
			Rows: map[string]Join{"works": {From: "objects", On: on("key", "maker")}}},
		{Name: "places", Files: []string{"places.csv"}},
		{Name: "notes", Files: []string{"notes.csv"}, Lookups: map[string]Join{"author": {From: "makers", On: on("by", "key")}}},
	}
}

func TestJoins(t *testing.T) {
	set := mustNew(t, joinFiles, joinSpecs()...)
	src := set.Source("objects")
	l := src.Layout()
	slots(t, l, "id", "who.name", "who.home.name", "where.name")
	notes, _ := kids(t, l, "notes")
	slots(t, notes, "text", "author.name", "author.home.name")
	works, _ := kids(t, l, "who.works")
	slots(t, works, "id")
	rep := &Report{}
	same(t, "rows", rowsOf(t, src, l, rep), []string{
		"2/2: 1|m1|Ann B.|Bay|p1|Port", "  3/3: 1|only|m2|Carl|Port", "  2/2: m1|1",
		"3/3: 2|m2|Carl|Port||", "  2/2: 2|first|m1|Ann B.|Bay", "  4/4: 2|second|m8||", "  3/3: m2|2",
		"4/4: 3|m9|||p9|",
		"5/5: 4||||p2|Bay",
	})
	same(t, "report", noted(rep), []string{
		"special-spaces name: 1 @ makers.csv row 2 line 2 name=\"Ann\u00a0B.\"",
		`several-matches author: 1 @ notes.csv row 3 line 3 by="m2"`,
		`several-matches who: 1 @ objects.csv row 3 line 3 maker="m2"`,
		`unmatched author: 1 @ notes.csv row 4 line 4 by="m8"`,
		`unmatched where: 1 @ objects.csv row 4 line 4 place="p9"`,
		`unmatched who: 1 @ objects.csv row 4 line 4 maker="m9"`,
		`unclaimed-rows works: 2 @ objects.csv row 5 line 5 maker="" objects.csv row 4 line 4 maker="m9"`,
		`unclaimed-rows notes: 2 @ notes.csv row 6 line 6 object="" notes.csv row 5 line 5 object="7"`,
	})
}

func TestWhereOfLookedUpCells(t *testing.T) {
	set := mustNew(t, joinFiles, joinSpecs()...)
	src := set.Source("objects")
	l := src.Layout()
	f := slots(t, l, "who.name", "who.home.name", "where.name")
	var got []string
	err := src.Read(t.Context(), l, Options{}, func(b *Batch) error {
		for _, i := range []int{0, 2} {
			for _, slot := range f {
				got = append(got, place(l.Where(&b.Rows[i], slot)))
			}
		}
		b.Release()
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	same(t, "places", got, []string{
		`makers.csv row 2 line 2 name="Ann B."`, `places.csv row 3 line 3 name="Bay"`, `places.csv row 2 line 2 name="Port"`,
		`objects.csv row 4 line 4 maker=""`, `objects.csv row 4 line 4 maker=""`, `objects.csv row 4 line 4 place=""`,
	})
}

// A look-up by a key that is itself looked up, and keys of several fields.
func TestJoinsByOtherKeys(t *testing.T) {
	set := mustNew(t, files("a.csv", "id,b\n1,x\n2,y\n3,z\n", "b.csv", "b,c,d\nx,1,2\ny,1,3\nz,,\n", "c.csv", "c,d,name\n1,2,twelve\n1,3,thirteen\n,,none\n"),
		Spec{Name: "a", Files: []string{"a.csv"}, Lookups: map[string]Join{
			"b": {From: "b", On: [][2]string{{"b", "b"}}},
			"c": {From: "c", On: [][2]string{{"b.c", "c"}, {"b.d", "d"}}}}},
		Spec{Name: "b", Files: []string{"b.csv"}}, Spec{Name: "c", Files: []string{"c.csv"}})
	src := set.Source("a")
	l := src.Layout()
	slots(t, l, "id", "c.name")
	same(t, "fields", l.Names(), []string{"id", "b", "b.c", "b.d", "c.name"})
	same(t, "rows", rowsOf(t, src, l, nil), []string{"2/2: 1|x|1|2|twelve", "3/3: 2|y|1|3|thirteen", "4/4: 3|z|||"})
}

func TestJoinsOfNestedRows(t *testing.T) {
	set := mustNew(t, files("o.json", `[{"id":1,"by":[{"who":"m1"},{"who":"m2"}],"own":["p1","p9"]}]`, "makers.csv", joinFiles2("makers.csv"), "places.csv", joinFiles2("places.csv")),
		Spec{Name: "o", Files: []string{"o.json"}, Lookups: map[string]Join{
			"maker": {From: "makers", On: [][2]string{{"by.who", "key"}}},
			"at":    {From: "places", On: [][2]string{{"own", "code"}}}}},
		Spec{Name: "makers", Files: []string{"makers.csv"}}, Spec{Name: "places", Files: []string{"places.csv"}})
	src := set.Source("o")
	l := src.Layout()
	slots(t, l, "id", "maker.name")
	by, _ := kids(t, l, "by")
	slots(t, by, "maker.name")
	own, _ := kids(t, l, "own")
	slots(t, own, "at.name")
	rep := &Report{}
	same(t, "rows", rowsOf(t, src, l, rep), []string{"1/1: 1|m1|Ann B.", "  1/1 by[0]: m1|Ann B.", "  1/1 by[1]: m2|Carl", "  1/1 own[0]: p1|Port", "  1/1 own[1]: p9|"})
	same(t, "report", noted(rep)[1:], []string{`several-values by.who: 1 @ o.json row 1 line 1 by.who="m2"`,
		`several-matches by.maker: 1 @ o.json row 1 line 1 by[1].who="m2"`, `unmatched own.at: 1 @ o.json row 1 line 1 own[1]="p9"`})
	var u *UnknownField
	if _, err := own.Field("maker.name"); !errors.As(err, &u) || !strings.Contains(u.Reason, "does not lie within own") {
		t.Errorf("a look-up of other rows: %v", err)
	}
}

func joinFiles2(name string) string { return string(joinFiles[name].Data) }

// Two Reads of a source with one report count everything once.
func TestReportOfSeveralReads(t *testing.T) {
	set := mustNew(t, joinFiles, joinSpecs()...)
	src := set.Source("objects")
	rep := &Report{}
	var want []string
	for i := range 3 {
		l := src.Layout()
		slots(t, l, "id", "who.name")
		rowsOf(t, src, l, rep)
		if i == 0 {
			want = noted(rep)
		}
	}
	same(t, "report", noted(rep), want)
	if n := rep.Records("objects"); n != 4 {
		t.Errorf("%d objects in the report, want 4", n)
	}
}

func TestReadsAtTheSameTime(t *testing.T) {
	set := mustNew(t, joinFiles, joinSpecs()...)
	rep := &Report{}
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			src := set.Source("objects")
			l := src.Layout()
			for _, f := range []string{"id", "who.name", "where.name"} {
				if _, err := l.Field(f); err != nil {
					t.Error(err)
				}
			}
			if _, err := readAll(src, l, Options{Report: rep}); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	if n := rep.Count(Unmatched); n != 2 {
		t.Errorf("%d unmatched, want 2", n)
	}
}

// A joined source that can't be read fails the Read, and is tried again by the
// next.
func TestJoinedSourceFails(t *testing.T) {
	fsys := files("a.csv", "id\n1\n", "b.csv", "id,x\n1,\"y\n")
	set := mustNew(t, fsys, Spec{Name: "a", Files: []string{"a.csv"}, Lookups: map[string]Join{"b": {From: "b", On: [][2]string{{"id", "id"}}}}}, Spec{Name: "b", Files: []string{"b.csv"}})
	l := set.Source("a").Layout()
	slots(t, l, "b.x")
	if _, err := readAll(set.Source("a"), l, Options{Report: &Report{}}); err == nil {
		t.Error("no error")
	}
	for range 2 {
		if e := failure(t, set.Source("a"), l); e.File != "b.csv" || e.Line != 2 {
			t.Errorf("%v", e)
		}
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	fsys["b.csv"].Data = []byte("id,x\n1,y\n")
	if err := set.Source("a").Read(ctx, l, Options{}, func(*Batch) error { return nil }); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
	same(t, "rows after mending", rowsOf(t, set.Source("a"), l, nil), []string{"2/2: 1|y"})
}
