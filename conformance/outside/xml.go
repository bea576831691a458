package outside

import (
	"bytes"
	"cmp"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// xmllint is the command of Debian's libxml2-utils.
func xmllint(t testing.TB) string {
	t.Helper()
	file, err := exec.LookPath("xmllint")
	if err != nil {
		Missing(t, "xmllint")
	}
	return file
}

// XMLSchema validates texts against a published XML Schema, given by its path below
// standards, with xmllint and without a network. It returns the fault of each text that
// is not valid, by its place.
func XMLSchema(t testing.TB, schema string, texts [][]byte) map[int]string {
	t.Helper()
	return lint(t, "--schema", Shared(t, "standards", schema), texts)
}

// Schematron checks texts against a Schematron schema in XPath 1.0, in the same way.
func Schematron(t testing.TB, schema string, texts [][]byte) map[int]string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "rules.sch")
	if err := os.WriteFile(file, []byte(schema), 0o666); err != nil {
		t.Fatal(err)
	}
	return lint(t, "--schematron", file, texts)
}

var lintVerdict = regexp.MustCompile(`^(\d+)\.xml (validates|fails to validate)$`)

// lint runs xmllint over many files at once. Every file must come back with a verdict.
func lint(t testing.TB, option, schema string, texts [][]byte) map[int]string {
	t.Helper()
	faults := map[int]string{}
	dir := t.TempDir()
	const most = 1000
	for from := 0; from < len(texts); from += most {
		args := []string{"--nonet", "--noout", option, schema}
		part := texts[from:min(from+most, len(texts))]
		for i, text := range part {
			name := strconv.Itoa(from+i) + ".xml"
			if err := os.WriteFile(filepath.Join(dir, name), text, 0o666); err != nil {
				t.Fatal(err)
			}
			args = append(args, name)
		}
		cmd := exec.Command(xmllint(t), args...)
		cmd.Dir = dir
		cmd.Env = append(os.Environ(), "XML_CATALOG_FILES="+Shared(t, "standards", "catalog.xml"))
		out, err := cmd.CombinedOutput()
		var exit *exec.ExitError
		if err != nil && !errors.As(err, &exit) {
			t.Fatal(err)
		}
		verdicts, said := map[int]bool{}, ""
		for line := range strings.Lines(string(out)) {
			line = strings.TrimSpace(line)
			if m := lintVerdict.FindStringSubmatch(line); m != nil {
				n, _ := strconv.Atoi(m[1])
				if verdicts[n] = true; m[2] != "validates" {
					faults[n] = cmp.Or(said, "no reason given")
				}
				said = ""
			} else if said == "" && line != "" && !strings.Contains(line, "Skipping import of schema") {
				said = line
			}
		}
		for i := range part {
			if !verdicts[from+i] {
				t.Fatalf("xmllint gave no verdict on text %d:\n%.2000s", from+i, out)
			}
		}
		for i := range part {
			_ = os.Remove(filepath.Join(dir, strconv.Itoa(from+i)+".xml"))
		}
	}
	return faults
}

// XPath evaluates expressions of XPath 1.0 in a text with xmllint. The values are their
// strings with white space normalised, 500 characters at most. Prefixes are by name.
func XPath(t testing.TB, text []byte, prefixes [][2]string, exprs []string) []string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "text.xml")
	if err := os.WriteFile(file, text, 0o666); err != nil {
		t.Fatal(err)
	}
	// The shell shows the first forty bytes of a string and bytes beyond ASCII as "#C3":
	// so it is asked for pieces of nine characters, with "^" for "#".
	const pieces, size = 56, 9
	var in bytes.Buffer
	for _, p := range prefixes {
		fmt.Fprintf(&in, "setns %s=%s\n", p[0], p[1])
	}
	for _, e := range exprs {
		for k := range pieces {
			fmt.Fprintf(&in, "xpath concat('{', substring(translate(normalize-space(%s), '#', '^'), %d, %d), '}')\n", e, 1+k*size, size)
		}
	}
	cmd := exec.Command(xmllint(t), "--nonet", "--shell", file)
	cmd.Stdin = &in
	out, err := cmd.CombinedOutput()
	if err != nil {
		t.Fatalf("xmllint --shell: %v\n%s", err, out)
	}
	found := shellString.FindAllSubmatch(out, -1)
	if len(found) != pieces*len(exprs) {
		t.Fatalf("xmllint gave %d values of %d:\n%.3000s", len(found), pieces*len(exprs), out)
	}
	values := make([]string, len(exprs))
	for i := range exprs {
		var b strings.Builder
		for _, m := range found[i*pieces : (i+1)*pieces] {
			b.Write(m[1])
		}
		raw := shellByte.ReplaceAllStringFunc(b.String(), func(s string) string {
			n, _ := strconv.ParseUint(s[1:], 16, 8)
			return string([]byte{byte(n)})
		})
		values[i] = strings.ReplaceAll(raw, "^", "#")
	}
	return values
}

var (
	shellString = regexp.MustCompile(`(?m)Object is a string : \{(.*)\}$`)
	shellByte   = regexp.MustCompile(`#[0-9A-F]{2}`)
)

// Rule is a rule of a Schematron schema.
type Rule struct {
	Context string
	Report  bool   // it is broken where the test holds, not where it fails
	Test    string // XPath 1.0
	Text    string // what is said where it is broken
}

// AppinfoRules reads the Schematron rules that stand in the annotations of published XML
// Schemas, with the abstract rules they extend. Tests are those of the schema, save that
// exists(x) of XPath 2.0 is written (x), which means the same in a condition. It also
// gives the prefixes they use.
func AppinfoRules(t testing.TB, schemas ...string) (rules []Rule, prefixes [][2]string) {
	t.Helper()
	type rawRule struct {
		context  string
		rules    []Rule
		extends  []string
		abstract string
	}
	var raw []*rawRule
	seen := map[[2]string]bool{}
	for _, schema := range schemas {
		dec := xml.NewDecoder(bytes.NewReader(ReadShared(t, "standards", schema)))
		var open *rawRule
		var at *Rule
		for {
			tok, err := dec.Token()
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatalf("%s: %v", schema, err)
			}
			switch e := tok.(type) {
			case xml.StartElement:
				if e.Name.Space != "http://purl.oclc.org/dsdl/schematron" {
					continue
				}
				attr := map[string]string{}
				for _, a := range e.Attr {
					attr[a.Name.Local] = a.Value
				}
				switch e.Name.Local {
				case "ns":
					if p := [2]string{attr["prefix"], attr["uri"]}; !seen[p] {
						seen[p] = true
						prefixes = append(prefixes, p)
					}
				case "rule":
					open = &rawRule{context: attr["context"]}
					if attr["abstract"] == "true" {
						open.abstract = attr["id"]
					}
					raw = append(raw, open)
				case "extends":
					open.extends = append(open.extends, attr["rule"])
				case "assert", "report":
					test := strings.Join(strings.Fields(strings.ReplaceAll(attr["test"], "exists(", "(")), " ")
					open.rules = append(open.rules, Rule{Report: e.Name.Local == "report", Test: test})
					at = &open.rules[len(open.rules)-1]
				}
			case xml.CharData:
				if at != nil {
					at.Text += string(e)
				}
			case xml.EndElement:
				if e.Name.Local == "assert" || e.Name.Local == "report" {
					at.Text = strings.Join(strings.Fields(at.Text), " ")
					at = nil
				}
			}
		}
	}
	abstract := map[string][]Rule{}
	for _, r := range raw {
		if r.abstract != "" {
			abstract[r.abstract] = r.rules
		}
	}
	for _, r := range raw {
		if r.abstract != "" {
			continue
		}
		all := r.rules
		for _, name := range r.extends {
			if len(abstract[name]) == 0 {
				t.Fatalf("there is no abstract rule %q", name)
			}
			all = append(all, abstract[name]...)
		}
		for _, rule := range all {
			rule.Context = r.context
			rules = append(rules, rule)
		}
	}
	return rules, prefixes
}

// SchematronSchema writes rules as a schema of its own, each in a pattern of its own.
func SchematronSchema(rules []Rule, prefixes [][2]string) string {
	var b strings.Builder
	text := func(s string) string {
		var e bytes.Buffer
		_ = xml.EscapeText(&e, []byte(s))
		return e.String()
	}
	b.WriteString(`<schema xmlns="http://purl.oclc.org/dsdl/schematron">`)
	for _, p := range prefixes {
		fmt.Fprintf(&b, "<ns prefix=\"%s\" uri=\"%s\"/>\n", p[0], text(p[1]))
	}
	for i, r := range rules {
		kind := "assert"
		if r.Report {
			kind = "report"
		}
		fmt.Fprintf(&b, "<pattern name=\"rule %d\"><rule context=\"%s\"><%s test=\"%s\">%s</%s></rule></pattern>\n",
			i+1, text(r.Context), kind, text(r.Test), text(r.Text), kind)
	}
	b.WriteString("</schema>\n")
	return b.String()
}

// XMLSchemaText is [XMLSchema] with a schema of the test's own, beside which there are
// other files.
func XMLSchemaText(t testing.TB, schema string, others map[string]string, texts [][]byte) map[int]string {
	t.Helper()
	dir := t.TempDir()
	others = maps.Clone(others)
	others["driver.xsd"] = schema
	for name, text := range others {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	return lint(t, "--schema", filepath.Join(dir, "driver.xsd"), texts)
}
