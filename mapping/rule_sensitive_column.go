package mapping

import (
	"fmt"
	"slices"
	"strings"
)

var (
	ruleSensitiveColumn = &Rule{Name: "sensitive-column", About: "a mapping that publishes a column the site calls sensitive, neither made coarse nor disclosed with a reason"}
	ruleDisclosure      = &Rule{Name: "disclosure", About: "a disclosure without a reason, or of a column that the mapping does not publish as it is"}
)

// disclosure is a column that a mapping publishes although it is sensitive.
type disclosure struct {
	key  *Scalar
	used bool
}

// disclosures reads what a mapping discloses.
func (c *compiler) disclosures(d *document, v Value) {
	const hint = `write disclose: { Column: "why it may be known as exactly as it stands" }`
	m, ok := v.(*Map)
	if !ok {
		c.add(ruleDisclosure, v.Place(), "a disclosure names a column and the reason", hint)
		return
	}
	for _, e := range m.Entries {
		why, ok := e.Value.(*Scalar)
		if !ok || strings.TrimSpace(why.Text) == "" || why.Null {
			c.add(ruleDisclosure, e.Value.Place(), fmt.Sprintf("the disclosure of %q gives no reason, so it is refused", e.Key.Text), hint)
			continue
		}
		d.disclose = append(d.disclose, &disclosure{key: e.Key})
	}
}

func checkSensitiveColumn(c *compiler, d *document) {
	seen := map[Span]bool{}
	cautioned := d.cautioned()
	see := func(t *text) {
		t.openRefs(func(r *fieldRef) {
			if r.scope.source == nil {
				return
			}
			src, column, kind := c.column(r)
			if _, _, hidden := c.withheld(src, column); hidden {
				return // that rule speaks
			}
			i := slices.IndexFunc(d.disclose, func(x *disclosure) bool {
				return x.key.Text == r.path || src == d.source && x.key.Text == column
			})
			switch {
			case i >= 0 && kind != Open:
				d.disclose[i].used = true
			case kind == Location:
				c.add(ruleSensitiveColumn, r.span, fmt.Sprintf("the column %q of source %q is sensitive (location): published as it is, it leads people there", column, src.Name),
					fmt.Sprintf("write coarse(…, 0.1) round it, leave it out, or say why it may be known: disclose: { %s: … }", r.path))
			case kind == Personal:
				c.add(ruleSensitiveColumn, r.span, fmt.Sprintf("the column %q of source %q is sensitive (personal)", column, src.Name),
					fmt.Sprintf("write year_only(…) round a date, leave it out, or say why it may be known: disclose: { %s: … }", r.path))
			case kind == NotSaid && !seen[r.span]:
				seen[r.span] = true
				rule, why := c.looks(src, column)
				switch {
				case rule == nil:
				case rule == ruleLooksPersonal && cautioned["person"], rule == ruleLooksLikeFindSpot && cautioned["location"]:
					c.add(ruleSensitiveColumn, r.span, fmt.Sprintf("the mapping gives a caution, and publishes the column %q of source %q as it is: %s", column, src.Name, why),
						"write coarse(…, 0.1) or year_only(…) round it, leave it out, or name it under \"sensitive\" in the site file, as open if it is harmless")
				default:
					c.add(rule, r.span, fmt.Sprintf("the column %q of source %q is published as it is: %s", column, src.Name, why),
						"name it under \"sensitive\" in the site file, as location or personal, or as open if it is harmless; or withhold it")
				}
			}
		})
	}
	d.root.walk(func(n *node) { n.published(see) })
	for _, x := range d.disclose {
		if !x.used {
			c.add(ruleDisclosure, x.key.Span, fmt.Sprintf("the mapping publishes no sensitive column %q as it is, so there is nothing to disclose", x.key.Text),
				"name the column as the mapping does; take the line out if it is no longer needed")
		}
	}
}
