package harvest

import (
	"encoding/xml"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"ropewalk/service"
	"ropewalk/service/store/storetest"
)

// rules are what OAI-PMH 2.0 demands of a repository, section by section, with a test
// each: in this file, or elsewhere, given as a package's folder and the name of a test.
// RULES.md is made from them.
var rules = []struct {
	section, rule string
	test          any // func(*bench) or string
}{
	{"2.4", "an identifier is a URI, and the same for the item in all formats", func(b *bench) {
		for _, prefix := range []string{"rdf", "oai_dc", "words"} {
			h := b.ask(args("verb", "ListIdentifiers", "metadataPrefix", prefix)).ListIdentifiers.Headers
			if len(h) == 0 || !uri(h[0].Identifier) || h[0].Identifier != id("object/1") {
				b.Errorf("%s: %+v", prefix, h)
			}
		}
	}},
	{"2.5", "a record has a header and, unless it is deleted, metadata", func(b *bench) {
		for _, r := range b.ask("verb=ListRecords&metadataPrefix=rdf").ListRecords.Records {
			if (r.Metadata == nil) != (r.Header.Status == "deleted") {
				b.Errorf("%+v", r)
			}
		}
	}},
	{"2.5", "a datestamp is that of the last change", func(b *bench) {
		for path, want := range map[string]string{"object/1": "2031-05-06T07:08:09Z", "object/2": "2031-05-06T07:09:09Z"} {
			if h := find(b, b.ask("verb=ListIdentifiers&metadataPrefix=rdf").ListIdentifiers, path); h.Datestamp != want {
				b.Errorf("%+v", h)
			}
		}
	}},
	{"2.5.1", "deletions are kept for ever: they are in lists and in GetRecord, with their date", func(b *bench) {
		h := find(b, b.ask("verb=ListIdentifiers&metadataPrefix=rdf").ListIdentifiers, "object/gone")
		g := b.ask(args("verb", "GetRecord", "metadataPrefix", "rdf", "identifier", id("object/gone"))).GetRecord.Records[0]
		if h == nil || h.Status != "deleted" || g.Header.Status != "deleted" || g.Metadata != nil || h.Datestamp != "2031-05-06T07:09:09Z" {
			b.Errorf("%+v %+v", h, g)
		}
	}},
	{"2.5.1", "a moved item is deleted under its old identifier", func(b *bench) {
		if h := find(b, b.ask("verb=ListIdentifiers&metadataPrefix=rdf").ListIdentifiers, "object/moved"); h == nil || h.Status != "deleted" {
			b.Errorf("%+v", h)
		}
	}},
	{"2.5.1", "what could be had in a format and cannot any more is deleted in it, alike in lists and in GetRecord", func(b *bench) {
		h := find(b, b.ask("verb=ListIdentifiers&metadataPrefix=words").ListIdentifiers, "object/2")
		g := b.ask(args("verb", "GetRecord", "metadataPrefix", "words", "identifier", id("object/2")))
		if h == nil || h.Status != "deleted" || g.GetRecord == nil || g.GetRecord.Records[0].Header.Status != "deleted" {
			b.Errorf("%+v %+v", h, g)
		}
	}},
	{"2.5.1", "what never could be had in a format is in none of its lists", func(b *bench) {
		for _, prefix := range []string{"words", "objects"} {
			l := b.ask("verb=ListIdentifiers&metadataPrefix=" + prefix).ListIdentifiers
			if h := find(b, l, "object/3"); h != nil {
				b.Errorf("%+v", h)
			}
			if h := find(b, l, "person/1"); prefix == "objects" && h != nil {
				b.Errorf("%+v", h)
			}
		}
	}},
	{"2.6", "a setSpec is made of names with colons between them; others are refused in the site", func(b *bench) {
		for spec, ok := range map[string]bool{"a": true, "a:b": true, "A-_.!~*'()9": true, "": false, ":": false, "a:": false, ":a": false, "a::b": false, "a b": false, "a/b": false, "é": false} {
			b.o.Site.Sets = []service.Set{{Spec: spec, Name: "x"}}
			if _, err := New(b.o); (err == nil) != ok {
				b.Errorf("%q: %v", spec, err)
			}
		}
	}},
	{"2.6", "a header names the sets of the item", func(b *bench) {
		if h := find(b, b.ask("verb=ListIdentifiers&metadataPrefix=rdf").ListIdentifiers, "object/1"); !slices.Equal(h.Sets, []string{"a:b", "d:e:f"}) {
			b.Errorf("%+v", h)
		}
	}},
	{"2.6", "a set takes in the sets below it", func(b *bench) {
		for set, want := range map[string]int{"a": 3, "a:b": 2, "d": 1, "d:e": 1, "d:e:f": 1} {
			l := b.ask("verb=ListIdentifiers&metadataPrefix=rdf&set=" + set).ListIdentifiers
			n := 0
			for _, h := range l.Headers {
				if h.Status == "" {
					n++
				}
			}
			if n != want {
				b.Errorf("%s: %+v", set, l.Headers)
			}
		}
	}},
	{"2.6", "an item that left a set is deleted to those who harvest the set, and to no one else", func(b *bench) {
		h := find(b, b.ask("verb=ListIdentifiers&metadataPrefix=rdf&set=a").ListIdentifiers, "object/2")
		all := find(b, b.ask("verb=ListIdentifiers&metadataPrefix=rdf").ListIdentifiers, "object/2")
		if h == nil || h.Status != "deleted" || all.Status != "" {
			b.Errorf("%+v %+v", h, all)
		}
	}},
	{"2.7.1", "datestamps are in UTC, of the granularity that Identify states", func(b *bench) {
		for _, h := range b.ask("verb=ListIdentifiers&metadataPrefix=rdf").ListIdentifiers.Headers {
			if _, err := time.Parse(second, h.Datestamp); err != nil {
				b.Error(err)
			}
		}
	}},
	{"2.7.1", "from and until are inclusive", func(b *bench) {
		for _, c := range []struct{ from, until, want string }{
			{"2031-05-06T07:08:09Z", "2031-05-06T07:08:09Z", "object/1 object/3 person/1"},
			{"2031-05-06T07:08:10Z", "2031-05-06T07:09:08Z", ""},
			{"2031-05-06T07:09:09Z", "", "object/2 object/gone object/moved"},
			{"", "2031-05-06T07:08:09Z", "object/1 object/3 person/1"},
			{"2031-05-06T07:08:10Z", "", "object/2 object/gone object/moved"},
			{day, day, "object/1 object/2 object/3 object/gone object/moved person/1"},
			{"2031-05-07", "", ""}, {"", "2031-05-05", ""}, {"2031-05-05", "2031-05-06", "object/1 object/2 object/3 object/gone object/moved person/1"},
		} {
			q := []string{"verb", "ListIdentifiers", "metadataPrefix", "rdf"}
			for _, a := range [][2]string{{"from", c.from}, {"until", c.until}} {
				if a[1] != "" {
					q = append(q, a[0], a[1])
				}
			}
			r := b.ask(args(q...))
			var got []string
			if r.ListIdentifiers != nil {
				for _, h := range r.ListIdentifiers.Headers {
					got = append(got, strings.TrimPrefix(h.Identifier, id("")))
				}
			} else if r.codes() != noRecordsMatch {
				b.Errorf("%v: %s", c, r.codes())
			}
			slices.Sort(got)
			if strings.Join(got, " ") != c.want {
				b.Errorf("%v: %v", c, got)
			}
		}
	}},
	{"2.7.2", "a set and dates restrict together", func(b *bench) {
		for arguments, want := range map[string]string{"set=a&from=2031-05-06T07:08:10Z": "object/2 object/gone", "set=a:b&until=2031-05-06T07:08:10Z": "object/1 person/1"} {
			var got []string
			for _, h := range b.ask("verb=ListIdentifiers&metadataPrefix=rdf&" + arguments).ListIdentifiers.Headers {
				got = append(got, strings.TrimPrefix(h.Identifier, id("")))
			}
			slices.Sort(got)
			if strings.Join(got, " ") != want {
				b.Errorf("%s: %v", arguments, got)
			}
		}
	}},
	{"3.1.1", "requests are made by GET or by POST, with the same outcome", "service/web TestHarvesting"},
	{"3.1.1", "posted arguments are application/x-www-form-urlencoded", "service/web TestHarvesting"},
	{"3.1.1", "arguments may be in any order, and special characters are encoded", func(b *bench) {
		r := b.ask("metadataPrefix=rdf&identifier=oai%3Amuseum.example%3acoll%2Fobject%2F1&verb=GetRecord")
		if r.GetRecord == nil {
			b.Errorf("%s", r.codes())
		}
	}},
	{"3.1.2", "responses are text/xml, and errors of the protocol have the status 200", "service/web TestHarvesting"},
	{"3.1.2", "a repository that cannot answer now says 503 and when to come back", "service/web TestHarvestUnavailable"},
	{"3.1.3", "responses are compressed for those who ask for it only, in the codings that Identify names", "service/web TestHarvesting"},
	{"3.2", "a response has the date of the response in UTC and the request that it answers", func(b *bench) {
		text := b.text("verb=ListRecords&metadataPrefix=rdf&from=" + day + "&set=a%3Ab")
		r := parse(b, text)
		if !strings.HasPrefix(text, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<OAI-PMH xmlns=\"http://www.openarchives.org/OAI/2.0/\"") {
			b.Errorf("%.200s", text)
		}
		if at, err := time.Parse(second, r.ResponseDate); err != nil || at.After(b.clock) || b.clock.Sub(at) > settling {
			b.Errorf("%s: %v", r.ResponseDate, err)
		}
		if r.Request.Text != storetest.Base+"harvest" || attributes(r) != "verb=ListRecords metadataPrefix=rdf from="+day+" set=a:b" {
			b.Errorf("%+v", r.Request)
		}
	}},
	{"3.2", "the request's attributes are its arguments as they were given, token included", func(b *bench) {
		b.o.Limits.Records = 1
		b.remake()
		token := b.ask("verb=ListRecords&metadataPrefix=rdf").ListRecords.Token.Text
		if got := attributes(b.ask(args("verb", "ListRecords", "resumptionToken", token))); got != "verb=ListRecords resumptionToken="+token {
			b.Errorf("%s", got)
		}
	}},
	{"3.2", "after badVerb or badArgument the request has no attributes; after other errors it has", func(b *bench) {
		for arguments, want := range map[string]string{
			"verb=Sing&set=a":   "",
			"verb=Identify&x=1": "",
			"verb=GetRecord&identifier=oai:x:1&metadataPrefix=no": "verb=GetRecord identifier=oai:x:1 metadataPrefix=no",
			"verb=ListRecords&resumptionToken=%22%3C%26":          "verb=ListRecords resumptionToken=\"<&",
		} {
			if got := attributes(b.ask(arguments)); got != want {
				b.Errorf("%s: %s", arguments, got)
			}
		}
	}},
	{"3.2.1", "all responses are valid, whatever is asked", "service/harvest TestResponsesValidate"},
	{"3.2.1", "all responses of a whole harvest are valid, with the metadata in them", "conformance TestServed"},
	{"3.3.1", "both granularities are understood; other forms, other zones and dates that are none are refused", func(b *bench) {
		for value, ok := range map[string]bool{
			"2031-05-06": true, "2031-05-06T07:08:09Z": true, "2028-02-29": true,
			"2031": false, "2031-05": false, "20310506": false, "2031-5-6": false, "2031-05-06T07:08Z": false, "2031-05-06T07:08:09": false,
			"2031-05-06T07:08:09+00:00": false, "2031-05-06T07:08:09.5Z": false, "2031-05-06t07:08:09z": false, "2031-05-06T24:00:00Z": false,
			"2031-02-29": false, "2031-13-01": false, "0000-01-01": false, "-2031-05-06": false, "12031-05-06": false, "": false, " 2031-05-06": false, "2031-05-06 ": false, "yesterday": false,
		} {
			for _, name := range []string{"from", "until"} {
				if r := b.ask(args("verb", "ListIdentifiers", "metadataPrefix", "rdf", name, value)); (r.codes() != badArgument) != ok {
					b.Errorf("%s=%q: %s", name, value, r.codes())
				}
			}
		}
	}},
	{"3.3.2", "dates in responses are in UTC with seconds, those of tokens too", func(b *bench) {
		b.o.Limits.Records = 1
		b.remake()
		r := b.ask("verb=ListRecords&metadataPrefix=rdf")
		for _, at := range []string{r.ResponseDate, r.ListRecords.Token.Expires, r.ListRecords.Records[0].Header.Datestamp, b.ask("verb=Identify").Identify.EarliestDatestamp} {
			if _, err := time.Parse(second, at); err != nil {
				b.Error(err)
			}
		}
	}},
	{"3.4", "the root element of metadata is of the namespace that ListMetadataFormats gives for the prefix", func(b *bench) {
		for _, f := range b.ask("verb=ListMetadataFormats").Formats {
			n := 0
			for _, r := range b.ask("verb=ListRecords&metadataPrefix=" + f.Prefix).ListRecords.Records {
				if r.Metadata == nil {
					continue
				}
				var root struct{ XMLName xml.Name }
				if err := xml.Unmarshal([]byte(r.Metadata.XML), &root); err != nil || root.XMLName.Space != f.Namespace {
					b.Errorf("%s: %v %v", f.Prefix, root.XMLName, err)
				}
				n++
			}
			if n == 0 {
				b.Errorf("no record in %s", f.Prefix)
			}
		}
	}},
	{"3.4", "the repository has oai_dc, and every item is available in it", func(b *bench) {
		n := 0
		for _, r := range b.ask("verb=ListRecords&metadataPrefix=oai_dc").ListRecords.Records {
			if r.Header.Status == "" {
				n++
			}
		}
		if n != 4 {
			b.Errorf("%d", n)
		}
	}},
	{"3.5", "an incomplete list ends with a token; the last part of one with an empty token; a complete list with none", func(b *bench) {
		if l := b.ask("verb=ListRecords&metadataPrefix=rdf").ListRecords; l.Token != nil {
			b.Errorf("%+v", l.Token)
		}
		for most := 1; most <= 7; most++ {
			b.o.Limits.Records, b.o.Limits.Headers = most, most
			b.remake()
			for _, verb := range tokenVerbs {
				all, cursor := []string(nil), 0
				for q := args("verb", verb, "metadataPrefix", "rdf"); q != ""; {
					l := b.ask(q).list()
					n := 0
					for _, r := range l.Records {
						l.Headers = append(l.Headers, r.Header)
					}
					for _, h := range l.Headers {
						all = append(all, h.Identifier)
						n++
					}
					q = ""
					switch {
					case l.Token == nil:
						if most < 6 {
							b.Errorf("%d: no token", most)
						}
						continue
					case l.Token.Text != "":
						q = args("verb", verb, "resumptionToken", l.Token.Text)
						if n != most || l.Token.Size != "6" {
							b.Errorf("%d: %d records, %+v", most, n, l.Token)
						}
					}
					if l.Token.Cursor != strconv.Itoa(cursor) {
						b.Errorf("%d: cursor %s, want %d", most, l.Token.Cursor, cursor)
					}
					cursor += n
				}
				slices.Sort(all)
				if len(slices.Compact(all)) != 6 {
					b.Errorf("%d: %v", most, all)
				}
			}
		}
	}},
	{"3.5", "a response that is large enough ends before its number of records is reached", func(b *bench) {
		b.o.Limits.Bytes = 1
		b.remake()
		if l := b.ask("verb=ListRecords&metadataPrefix=rdf").ListRecords; len(l.Records) != 1 || l.Token == nil {
			b.Errorf("%+v", l)
		}
	}},
	{"3.5", "an expirationDate is kept: until then the token is good, afterwards it is refused", func(b *bench) {
		b.o.Limits.Records = 1
		b.remake()
		tok := b.ask("verb=ListRecords&metadataPrefix=rdf").ListRecords.Token
		at, err := time.Parse(second, tok.Expires)
		if err != nil || at.Sub(b.clock) != 72*time.Hour {
			b.Fatalf("%s %v", tok.Expires, err)
		}
		b.clock = at
		if r := b.ask(args("verb", "ListRecords", "resumptionToken", tok.Text)); r.codes() != "" {
			b.Errorf("%s", r.codes())
		}
		b.clock = at.Add(time.Second)
		if r := b.ask(args("verb", "ListRecords", "resumptionToken", tok.Text)); r.codes() != badResumptionToken {
			b.Errorf("%s", r.codes())
		}
	}},
	{"3.5", "who follows tokens while records change ends with what there is", "service/harvest TestInterleaved"},
	{"3.5", "a list of which nothing is left, since all the rest changed after until, ends with noRecordsMatch", func(b *bench) {
		b.o.Limits.Records = 2
		b.remake()
		tok := b.ask("verb=ListRecords&metadataPrefix=rdf&until=2031-05-06T07:08:09Z").ListRecords.Token
		b.publish(rec("object/1", "anew"), rec("object/3", "anew"), rec("person/1", "anew"))
		if r := b.ask(args("verb", "ListRecords", "resumptionToken", tok.Text)); r.codes() != noRecordsMatch {
			b.Errorf("%s", r.codes())
		}
	}},
	{"3.5.1", "the same token gives the same part again, after a restart and from another replica, too", func(b *bench) {
		b.o.Limits.Records = 2
		b.remake()
		q := args("verb", "ListRecords", "resumptionToken", b.ask("verb=ListRecords&metadataPrefix=rdf").ListRecords.Token.Text)
		first := b.text(q)
		b.remake()
		if again := b.text(q); again != first {
			b.Errorf("%s\n%s", first, again)
		}
	}},
	{"3.6", "all errors of a request are reported", func(b *bench) {
		for arguments, want := range map[string]string{
			"verb=GetRecord": "badArgument badArgument",
			"verb=ListRecords&metadataPrefix=rdf&from=x&until=y&set=%20&z=1": "badArgument badArgument badArgument badArgument",
			"x=1": "badVerb badArgument",
			"verb=GetRecord&metadataPrefix=none&identifier=oai:x:1": "cannotDisseminateFormat idDoesNotExist",
			"verb=GetRecord&metadataPrefix=rdf&identifier=a%20b":    "badArgument idDoesNotExist",
		} {
			if r := b.ask(arguments); r.codes() != want {
				b.Errorf("%s: %s", arguments, r.codes())
			}
		}
	}},
	{"3.6", "badVerb: missing, repeated or unknown", func(b *bench) {
		for _, arguments := range []string{"", "verb", "verb=", "verb=identify", "verb=Identify&verb=Identify", "verb=Identify&verb=ListSets", "metadataPrefix=rdf"} {
			if r := b.ask(arguments); !strings.HasPrefix(r.codes(), badVerb) {
				b.Errorf("%s: %s", arguments, r.codes())
			}
		}
	}},
	{"3.6", "badArgument: illegal, missing, repeated, or of illegal syntax", func(b *bench) {
		for _, arguments := range []string{
			"verb=Identify&metadataPrefix=rdf", "verb=ListSets&set=a", "verb=ListRecords", "verb=ListIdentifiers&set=a",
			"verb=ListRecords&metadataPrefix=rdf&metadataPrefix=rdf", "verb=ListRecords&metadataPrefix=rdf&identifier=x:1",
			"verb=ListRecords&metadataPrefix=a%20b", "verb=ListRecords&metadataPrefix=rdf&set=a::b", "verb=ListRecords&metadataPrefix=rdf&set=:a",
			"verb=ListRecords&metadataPrefix=rdf&set=a%2Fb", "verb=ListRecords&metadataPrefix=rdf&from=2031-05-06&until=2031-05-06T07:08:09Z",
			"verb=ListRecords&metadataPrefix=rdf&from=2031-05-07&until=2031-05-06", "verb=Identify&%zz", "verb=Identify;x=1", "verb=Identify&%FF=1", "verb=Identify&%00=1",
			"verb=ListMetadataFormats&resumptionToken=x", "verb=GetRecord&metadataPrefix=rdf&identifier=oai:museum.example:coll/object/1&from=2031-05-06",
			"verb=Identify&resumptionToken=x", "verb=ListRecords&metadataPrefix=", "verb=Identify&=", "verb=GetRecord&metadataPrefix=rdf&identifier=" + strings.Repeat("%E2%82%AC", 30),
		} {
			if r := b.ask(arguments); !strings.Contains(r.codes(), badArgument) || strings.Contains(r.codes(), badVerb) && arguments[:13] == "verb=Identify&" {
				b.Errorf("%s: %s", arguments, r.codes())
			}
		}
	}},
	{"3.6", "badArgument: resumptionToken is an exclusive argument", func(b *bench) {
		for _, verb := range []string{"ListRecords", "ListIdentifiers"} {
			for _, other := range []string{"metadataPrefix=rdf", "from=" + day, "until=" + day, "set=a"} {
				if r := b.ask("verb=" + verb + "&resumptionToken=x&" + other); r.codes() != badArgument {
					b.Errorf("%s: %s", other, r.codes())
				}
			}
		}
	}},
	{"3.6", "badResumptionToken: none of ours, altered, of another verb, of another store, empty", func(b *bench) {
		b.o.Limits.Records, b.o.Limits.Headers = 1, 1
		b.remake()
		good := b.ask("verb=ListRecords&metadataPrefix=rdf").ListRecords.Token.Text
		other := newBench(b.TB)
		collection(other)
		other.o.Limits.Records = 1
		other.remake()
		bad := []string{"", "x", good[1:], good + "A", good[:len(good)-1], strings.ToLower(good), "é", good + "=", " " + good,
			b.ask("verb=ListIdentifiers&metadataPrefix=rdf").ListIdentifiers.Token.Text,
			other.ask("verb=ListRecords&metadataPrefix=rdf").ListRecords.Token.Text}
		const alphabet = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_"
		for i := range good {
			c := alphabet[(strings.IndexByte(alphabet, good[i])+1+i%62)%64]
			bad = append(bad, good[:i]+string(c)+good[i+1:])
		}
		for _, text := range bad {
			if r := b.ask(args("verb", "ListRecords", "resumptionToken", text)); r.codes() != badResumptionToken {
				b.Errorf("%q: %s", text, r.codes())
			}
		}
		if r := b.ask("verb=ListSets&resumptionToken=" + good); r.codes() != badResumptionToken {
			b.Errorf("%s", r.codes())
		}
		if r := b.ask("verb=ListRecords&resumptionToken=" + good); r.codes() != "" {
			b.Errorf("%s", r.codes())
		}
	}},
	{"3.6", "badResumptionToken: of a format that is not offered any more", func(b *bench) {
		b.o.Limits.Records = 1
		b.remake()
		good := b.ask("verb=ListRecords&metadataPrefix=words").ListRecords.Token.Text
		b.o.Formats = b.o.Formats[:2]
		b.remake()
		if r := b.ask("verb=ListRecords&resumptionToken=" + good); r.codes() != badResumptionToken {
			b.Errorf("%s", r.codes())
		}
	}},
	{"4.1", "GetRecord: the record, or idDoesNotExist, or cannotDisseminateFormat", func(b *bench) {
		for _, c := range []struct{ identifier, prefix, want string }{
			{id("object/1"), "rdf", ""}, {id("object/1"), "objects", ""}, {id("person/1"), "objects", cannotDisseminateFormat},
			{id("object/3"), "words", cannotDisseminateFormat}, {id("object/1"), "none", cannotDisseminateFormat},
			{id("object/none"), "rdf", idDoesNotExist}, {storetest.Base + "object/1", "rdf", idDoesNotExist}, {"oai:elsewhere.example:object/1", "rdf", idDoesNotExist},
			{id("object%2F1"), "rdf", idDoesNotExist}, {id("object/%31"), "rdf", idDoesNotExist}, {id(""), "rdf", idDoesNotExist}, {id("object/1?x"), "rdf", idDoesNotExist}, {id("object/../object/1"), "rdf", idDoesNotExist},
			{id("object/gone"), "words", ""},
		} {
			r := b.ask(args("verb", "GetRecord", "metadataPrefix", c.prefix, "identifier", c.identifier))
			if r.codes() != c.want || c.want == "" && r.GetRecord.Records[0].Header.Identifier != c.identifier {
				b.Errorf("%v: %s %+v", c, r.codes(), r.GetRecord)
			}
		}
	}},
	{"4.2", "Identify: everything that it must say", func(b *bench) {
		i := b.ask("verb=Identify").Identify
		if i.RepositoryName != site.Title || i.BaseURL != storetest.Base+"harvest" || i.ProtocolVersion != "2.0" || !slices.Equal(i.AdminEmail, []string{site.Email}) ||
			i.EarliestDatestamp != "2031-05-06T07:08:09Z" || i.DeletedRecord != "persistent" || i.Granularity != "YYYY-MM-DDThh:mm:ssZ" || !slices.Equal(i.Compression, []string{"gzip", "zstd"}) {
			b.Errorf("%+v", i)
		}
		text := fmt.Sprint(i.Description)
		for _, want := range []string{"<scheme>oai</scheme>", "<repositoryIdentifier>museum.example</repositoryIdentifier>", "<sampleIdentifier>" + id("object/1") + "</sampleIdentifier>",
			`rightsReference ref="https://creativecommons.org/publicdomain/zero/1.0/"`, "What is there."} {
			if !strings.Contains(text, want) {
				b.Errorf("no %s in %s", want, text)
			}
		}
	}},
	{"4.2", "no datestamp is before earliestDatestamp", func(b *bench) {
		earliest := b.ask("verb=Identify").Identify.EarliestDatestamp
		for _, h := range b.ask("verb=ListIdentifiers&metadataPrefix=rdf").ListIdentifiers.Headers {
			if h.Datestamp < earliest {
				b.Errorf("%+v", h)
			}
		}
	}},
	{"4.3", "ListIdentifiers: cannotDisseminateFormat and noRecordsMatch", listErrors("ListIdentifiers")},
	{"4.3", "ListIdentifiers gives the headers that ListRecords gives", func(b *bench) {
		for _, prefix := range []string{"rdf", "oai_dc", "words", "objects"} {
			for _, more := range []string{"", "&set=a", "&from=2031-05-06T07:09:09Z"} {
				var want []header
				for _, r := range b.ask("verb=ListRecords&metadataPrefix=" + prefix + more).ListRecords.Records {
					want = append(want, r.Header)
				}
				if got := b.ask("verb=ListIdentifiers&metadataPrefix=" + prefix + more).ListIdentifiers.Headers; !reflect.DeepEqual(got, want) {
					b.Errorf("%s%s: %+v, want %+v", prefix, more, got, want)
				}
			}
		}
	}},
	{"4.4", "ListMetadataFormats: those of the repository, and those of an item", func(b *bench) {
		for identifier, want := range map[string]string{"": "rdf oai_dc words objects", id("object/1"): "rdf oai_dc words objects", id("person/1"): "rdf oai_dc words", id("object/3"): "rdf oai_dc", id("object/2"): "rdf oai_dc"} {
			q := []string{"verb", "ListMetadataFormats"}
			if identifier != "" {
				q = append(q, "identifier", identifier)
			}
			var got []string
			for _, f := range b.ask(args(q...)).Formats {
				got = append(got, f.Prefix)
				if f.Schema == "" || f.Namespace == "" {
					b.Errorf("%+v", f)
				}
			}
			if strings.Join(got, " ") != want {
				b.Errorf("%s: %v", identifier, got)
			}
		}
	}},
	{"4.4", "ListMetadataFormats: idDoesNotExist and noMetadataFormats", func(b *bench) {
		for identifier, want := range map[string]string{id("object/none"): idDoesNotExist, id("object/gone"): noMetadataFormats, id("object/moved"): noMetadataFormats} {
			if r := b.ask(args("verb", "ListMetadataFormats", "identifier", identifier)); r.codes() != want {
				b.Errorf("%s: %s", identifier, r.codes())
			}
		}
	}},
	{"4.5", "ListRecords: cannotDisseminateFormat and noRecordsMatch", listErrors("ListRecords")},
	{"4.6", "ListSets: all sets, with those that others are in", func(b *bench) {
		var got []string
		for _, s := range b.ask("verb=ListSets").Sets.Sets {
			got = append(got, s.Spec+"="+s.Name)
		}
		if want := "a=All of it, a:b=Part of it, d=d, d:e=d:e, d:e:f=Deep down, empty=None"; strings.Join(got, ", ") != want {
			b.Errorf("%v", got)
		}
	}},
	{"4.6", "ListSets: a set's description is in simple Dublin Core; there are no tokens", func(b *bench) {
		r := b.ask("verb=ListSets")
		if text := b.text("verb=ListSets"); !strings.Contains(text, "<dc:description>A &amp; more.</dc:description>") || len(r.Sets.Sets) != 6 {
			b.Errorf("%s", text)
		}
		if r := b.ask("verb=ListSets&resumptionToken=x"); r.codes() != badResumptionToken {
			b.Errorf("%s", r.codes())
		}
	}},
	{"4.6", "a repository without sets says noSetHierarchy", func(b *bench) {
		b.o.Site.Sets = nil
		b.remake()
		for _, arguments := range []string{"verb=ListSets", "verb=ListRecords&metadataPrefix=rdf&set=a", "verb=ListIdentifiers&metadataPrefix=rdf&set=a"} {
			if r := b.ask(arguments); r.codes() != noSetHierarchy {
				b.Errorf("%s: %s", arguments, r.codes())
			}
		}
		if h := b.ask("verb=ListIdentifiers&metadataPrefix=rdf").ListIdentifiers.Headers; len(h[0].Sets) != 0 {
			b.Errorf("%+v", h)
		}
	}},
	{"5", "oai_dc is simple Dublin Core, valid by its schema, for every document of the demonstration", "conformance TestServed"},
}

func listErrors(verb string) func(*bench) {
	return func(b *bench) {
		for arguments, want := range map[string]string{
			"metadataPrefix=none": cannotDisseminateFormat, "metadataPrefix=rdf&set=empty": noRecordsMatch, "metadataPrefix=rdf&set=unknown": noRecordsMatch,
			"metadataPrefix=rdf&from=2999-01-01": noRecordsMatch, "metadataPrefix=rdf&until=1999-01-01": noRecordsMatch, "metadataPrefix=rdf&until=0001-01-01T00:00:00Z": noRecordsMatch,
			"metadataPrefix=rdf&until=0001-01-01": noRecordsMatch, "metadataPrefix=rdf&until=2031-05-06T07:08:08Z": noRecordsMatch, "metadataPrefix=rdf&from=0001-01-01T00:00:00Z": "",
			"metadataPrefix=objects&set=d:e&from=2031-05-06T07:09:09Z": noRecordsMatch, "metadataPrefix=none&set=unknown": cannotDisseminateFormat,
		} {
			if r := b.ask("verb=" + verb + "&" + arguments); r.codes() != want {
				b.Errorf("%s: %s", arguments, r.codes())
			}
		}
	}
}

func id(path string) string { return "oai:museum.example:coll/" + path }

func attributes(r *response) string {
	var out []string
	for _, a := range r.Request.Attrs {
		out = append(out, a.Name.Local+"="+a.Value)
	}
	return strings.Join(out, " ")
}

func find(b *bench, l *list, path string) *header {
	b.Helper()
	if l == nil {
		b.Fatal("no list")
	}
	for i := range l.Headers {
		if l.Headers[i].Identifier == id(path) {
			return &l.Headers[i]
		}
	}
	return nil
}

// collection publishes twice: object/2 changes, leaves its set and fits no longer;
// object/gone and object/moved end.
func collection(b *bench) {
	b.Helper()
	one, three, person := rec("object/1", "one", "a:b", "d:e:f"), rec("object/3", "unfit", "a"), rec("person/1", "she", "a:b")
	b.publish(one, rec("object/2", "two", "a"), three, person, rec("object/gone", "gone", "a"), rec("object/moved", "moved"))
	b.publish(one, rec("object/2", "now unfit"), three, person,
		&service.Record{IRI: storetest.Base + "object/moved", Path: "object/moved", State: service.Moved, MovedTo: storetest.Base + "object/1"})
}

var update = flag.Bool("update", false, "write RULES.md anew")

// sections are those of the specification that speak of what a repository does.
var sections = []string{"2.4", "2.5", "2.5.1", "2.6", "2.7.1", "2.7.2", "3.1.1", "3.1.2", "3.1.3", "3.2", "3.2.1", "3.3.1", "3.3.2", "3.4", "3.5", "3.5.1", "3.6", "4.1", "4.2", "4.3", "4.4", "4.5", "4.6", "5"}

func TestRules(t *testing.T) {
	seen, tested := map[string]bool{}, map[string]bool{}
	table := `# What OAI-PMH 2.0 demands, and where it is tested

The sections are those of [the specification](https://www.openarchives.org/OAI/openarchivesprotocol.html), version 2.0 of 2002-06-14 in the
document of 2015-01-08; what they demand is told in our own words. Made from ` + "`rules_test.go`" + ` by ` + "`go test ./service/harvest -run TestRules -update`" + `.

| section | rule | test |
| --- | --- | --- |
`
	for i, r := range rules {
		name := fmt.Sprintf("%s/%d", r.section, i)
		if !slices.Contains(sections, r.section) || seen[r.rule] || strings.Contains(r.rule, "|") || i > 0 && slices.Index(sections, r.section) < slices.Index(sections, rules[i-1].section) {
			t.Fatalf("§%s %s: not a section, or out of order, or twice", r.section, r.rule)
		}
		seen[r.rule], tested[r.section] = true, true
		switch test := r.test.(type) {
		case func(*bench):
			table += fmt.Sprintf("| %s | %s | `TestRules/%s` |\n", r.section, r.rule, name)
			t.Run(name, func(t *testing.T) {
				b := newBench(t)
				collection(b)
				test(b)
				if t.Failed() {
					t.Logf("§%s: %s", r.section, r.rule)
				}
			})
		case string:
			folder, test, _ := strings.Cut(test, " ")
			table += fmt.Sprintf("| %s | %s | `%s` in `%s` |\n", r.section, r.rule, test, folder)
			files, _ := filepath.Glob(filepath.Join("..", "..", folder, "*_test.go"))
			found := false
			for _, f := range files {
				data, err := os.ReadFile(f)
				found = found || err == nil && strings.Contains(string(data), "\nfunc "+test+"(t *testing.T)")
			}
			if !found {
				t.Errorf("there is no test %s in %s", test, folder)
			}
		default:
			t.Errorf("§%s %s: no test", r.section, r.rule)
		}
	}
	for _, s := range sections {
		if !tested[s] {
			t.Errorf("no rule of §%s is tested", s)
		}
	}
	const file = "RULES.md"
	if *update {
		if err := os.WriteFile(file, []byte(table), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	if was, err := os.ReadFile(file); err != nil || string(was) != table {
		t.Errorf("%s is not that of these rules (%v): -update writes it anew", file, err)
	}
}
