package reading

import "strings"

// settle decides what only the whole cell can tell: units, the same measure given
// twice, letters.
func (p *dimensionParser) settle() {
	p.unitsOfLists()
	p.inferUnits()
	if p.err != nil {
		return
	}
	for i := range p.drafts {
		d := &p.drafts[i]
		p.elementByUnit(d)
		if d.letter != 0 && units[d.m.Unit].class != classLength {
			p.fail("unit-mismatch", "the unit does not measure what the letter stands for", d.m.Start)
			return
		}
		if d.m.Value.isZero() || d.m.Upper.isZero() || d.m.Lower.isZero() && !d.m.Upper.Given() {
			p.fail("zero", "nothing measures zero: the cell is empty in truth", d.m.Start)
			return
		}
	}
	p.pair()
	p.settleLetters()
	for i := range p.drafts {
		if g := p.groupDrafts(p.drafts[i].group); p.drafts[i].unordered && !p.drafts[i].merged {
			p.note("element-unknown", "it is not said which number is which", g[0].m.Start, g[len(g)-1].m.End)
		}
	}
	for i := range p.drafts {
		d := &p.drafts[i]
		if units[d.m.Unit].system == systemMetric && (eitherOr(d.m.Value) || eitherOr(d.m.Lower) || eitherOr(d.m.Upper)) {
			p.fail("ambiguous-number", "a fraction, or two numbers", d.m.Start)
			return
		}
		if !fitsElement(d.m.Element, units[d.m.Unit].class) {
			p.fail("unit-mismatch", "the unit does not measure "+string(d.m.Element), d.m.Start)
			return
		}
	}
}

// unitsOfLists: in "H 24, W 10, D 5 cm" the unit at the end stands for all.
func (p *dimensionParser) unitsOfLists() {
	written := 0 // units written
	for i := range p.drafts {
		if !p.drafts[i].pending && p.drafts[i].m.UnitText != "" {
			written++
		}
	}
	for i := range p.drafts {
		d := &p.drafts[i]
		if !d.pending || !d.named {
			continue
		}
		for k := i + 1; k < len(p.drafts) && (p.drafts[k].clause == d.clause || written == 1); k++ {
			next := &p.drafts[k]
			if next.pending && next.named {
				continue
			}
			if !next.pending && next.named && units[next.m.Unit].class == classLength && next.m.UnitText != "" && next.paren == d.paren {
				d.m.Unit, d.pending = next.m.Unit, false
			}
			break
		}
	}
}

// inferUnits gives units to the numbers still without: centimetres or millimetres where
// they repeat the inches before them, otherwise the unit of the conventions.
func (p *dimensionParser) inferUnits() {
	for i := 0; i < len(p.drafts); {
		d := &p.drafts[i]
		if !d.pending {
			i++
			continue
		}
		g := p.groupDrafts(d.group)
		if prev := p.groupBefore(i); len(prev) == len(g) && !prev[0].pending && p.mayRepeat(prev, g) {
			if u := p.repeats(prev, g); u != "" {
				for k := range g {
					g[k].m.Unit, g[k].pending = u, false
				}
				p.note("unit-inferred", "the unit is not written; the numbers repeat the ones before in "+string(u), g[0].m.Start, g[len(g)-1].m.End)
				i += len(g)
				continue
			}
		}
		if p.defaultUnit() == "" {
			p.fail("missing-unit", "the number has no unit", d.m.Start)
			return
		}
		if d.byUnit || d.m.Element == ElementWeight || d.m.Element == ElementVolume || d.m.Element == ElementDuration {
			p.fail("missing-unit", "the number has no unit", d.m.Start)
			return
		}
		p.useUnit(d)
		i++
	}
}

// groupBefore gives the product before the draft at i.
func (p *dimensionParser) groupBefore(i int) []draft {
	if i == 0 {
		return nil
	}
	return p.groupDrafts(p.drafts[i-1].group)
}

// repeats finds the unit in which g repeats the numbers of prev.
func (p *dimensionParser) repeats(prev, g []draft) Unit {
	try := [...]Unit{"cm", "mm", "in"}
	for _, u := range try {
		if units[u].system == units[prev[0].m.Unit].system || units[prev[0].m.Unit].class != classLength {
			continue
		}
		all := true
		for k := range g {
			a := g[k].m.Amount
			a.Unit = u
			all = all && compareAmounts(&prev[k].m.Amount, prev[k].finest, &a, g[k].finest, 8) == amountsAgree
		}
		if all {
			return u
		}
	}
	return ""
}

// elementByUnit: a mass is a weight, whatever letter stands before it.
func (p *dimensionParser) elementByUnit(d *draft) {
	class := units[d.m.Unit].class
	if d.byUnit {
		// "v 13 mm" is 13 mm of part v.
		if !fitsElement(d.m.Element, class) {
			d.m.Element = ElementUnstated
			if d.m.Part == "" {
				d.m.Part = d.m.ElementText
			}
			d.m.ElementText, d.named = "", false
		}
	}
	switch class {
	case classMass:
		switch d.m.ElementText {
		case "W", "w", "W.", "w.", "P", "p", "P.", "p.":
			d.m.Element, d.letter = ElementWeight, 0
		}
		if !d.named {
			d.m.Element = ElementWeight
		}
	case classVolume:
		if !d.named {
			d.m.Element = ElementVolume
		}
	case classArea:
		if !d.named {
			d.m.Element = ElementArea
		}
	case classTime:
		if !d.named {
			d.m.Element = ElementDuration
		}
	}
}

// eitherOr says whether a fraction of a metric unit may be two numbers: "4/5 cm". Halves,
// quarters and unit fractions are what they seem.
func eitherOr(n Number) bool {
	return n.Places < 0 && n.Num != 1 && n.Num < n.Den && n.Den != 4 && strings.IndexByte(n.Text, '/') > 0
}

func fitsElement(e Element, class unitClass) bool {
	switch e {
	case ElementUnstated:
		return true
	case ElementWeight:
		return class == classMass
	case ElementVolume:
		return class == classVolume
	case ElementArea:
		return class == classArea
	case ElementDuration:
		return class == classTime
	case ElementCount:
		return class == classNone
	}
	return class == classLength || class == classPixel
}

// settleLetters decides what D, T and l are by the measures of the same part.
func (p *dimensionParser) settleLetters() {
	for i := range p.drafts {
		d := &p.drafts[i]
		if d.letter == 0 {
			continue
		}
		var height, width, length, diameter, depth, breadth, capitalL, capitals bool
		for k := range p.drafts {
			s := &p.drafts[k]
			if k == i || s.m.Part != d.m.Part || s.letter == d.letter && k != i {
				continue
			}
			switch s.m.Element {
			case ElementHeight:
				height = true
			case ElementWidth:
				width = true
				breadth = breadth || s.m.ElementText != "" && s.m.ElementText[0]|0x20 == 'b'
			case ElementLength:
				length = true
			case ElementDiameter:
				diameter = true
			case ElementDepth:
				depth = depth || s.letter == 0
			}
			if t := s.m.ElementText; t != "" && (len(t) == 1 || t[1] == '.') {
				capitalL = capitalL || t[0] == 'L'
				capitals = capitals || t[0] >= 'A' && t[0] <= 'Z'
			}
		}
		e := ElementUnstated
		switch d.letter {
		case 'D':
			if (width || length || diameter) && !depth {
				e = ElementDepth
			}
		case 'T':
			if breadth && !depth || height && width && !depth && !breadth && d.m.ElementText[0] == 'T' && p.germanWords() {
				e = ElementDepth
			}
		case 'l':
			switch {
			case capitalL, capitals && p.frenchWords():
				e = ElementWidth // as the French write: L. and l.
			case !capitals:
				e = ElementLength
			}
		}
		d.m.Element = e
		if e == ElementUnstated {
			p.note("ambiguous-letter", "the letter "+d.m.ElementText+" stands for different measures in different languages", d.m.Start, d.m.End)
		}
	}
}

// frenchWords says whether the cell is French.
func (p *dimensionParser) frenchWords() bool {
	for i := 0; i < p.n; i++ {
		if p.kind(i) != tokWord {
			continue
		}
		switch p.text[p.tok(i).start:p.tok(i).end] {
		case "en", "Pr", "P", "Ép", "Ep", "ép", "Haut", "Hauteur", "hauteur", "Largeur", "largeur", "Profondeur", "profondeur", "Longueur", "Diamètre", "Poids", "Épaisseur", "Epaisseur", "cadre", "avec", "sans", "et":
			return true
		}
	}
	return false
}

// germanWords says whether a German or Scandinavian word for an element stands in the cell.
func (p *dimensionParser) germanWords() bool {
	for i := 0; i < p.n; i++ {
		if w := p.word(i); w != nil && w.element == ElementWidth {
			if t := p.text[p.tok(i).start]; t|0x20 == 'b' {
				return true
			}
		}
	}
	return false
}

// result copies the drafts out.
func (p *dimensionParser) result() Dimensions {
	n, also := 0, 0
	for i := range p.drafts {
		if p.drafts[i].merged {
			also++
		} else {
			n++
		}
	}
	out := Dimensions{Text: p.text, Measures: make([]Measure, 0, n), Notes: p.notes}
	var amounts []Amount
	if also > 0 {
		amounts = make([]Amount, 0, also)
	}
	for i := range p.drafts {
		d := &p.drafts[i]
		if d.merged {
			continue
		}
		if d.also > 0 {
			from := len(amounts)
			for k := range p.drafts {
				if p.drafts[k].merged && int(p.drafts[k].also) == i {
					amounts = append(amounts, p.drafts[k].m.Amount)
				}
			}
			d.m.Also = amounts[from:len(amounts):len(amounts)]
		}
		out.Measures = append(out.Measures, d.m)
	}
	return out
}
