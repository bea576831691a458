package reading

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// wordFlags say what a word of a dimension cell can do.
type wordFlags uint32

const (
	wordApprox    wordFlags = 1 << iota
	wordUncertain           // the measure is doubted
	wordNeutral             // "dimensions", "size": says nothing more
	wordEach
	wordTimes    // between the numbers of a product: "by"
	wordRange    // between two numbers: "to"
	wordAnd      // "and"
	wordBetween  // before a range
	wordAtLeast  // a lower bound follows
	wordAtMost   // an upper bound follows
	wordOf       // joins an element to a part: "height of base"
	wordWith     // begins a part: "with stand"
	wordWithout  //
	wordVariable // the measures vary
	wordLetter   // one letter, or an abbreviation that differs between languages
	wordAdjective
	wordTradeSize  // "size" before a number without a unit
	wordEitherUnit // a unit of two systems
	wordShape      // tells of the shape, not of a part
	wordByUnit     // an element only beside a unit of its class, else part of a name
)

// dimensionWord is what is known of one word, in whatever language.
type dimensionWord struct {
	flags   wordFlags
	element Element
	mass    Element // the element beside a unit of mass, where different
	unit    Unit
	term    string // English term of a part
}

var dimensionWords = buildDimensionWords()

func buildDimensionWords() map[string]*dimensionWord {
	m := map[string]*dimensionWord{}
	at := func(w string) *dimensionWord {
		d := m[w]
		if d == nil {
			d = &dimensionWord{}
			m[w] = d
		}
		return d
	}
	each := func(words string, f func(*dimensionWord)) {
		for _, w := range strings.Fields(words) {
			f(at(w))
		}
	}
	element := func(e Element, words string) {
		each(words, func(d *dimensionWord) { d.element = e })
	}
	adjective := func(e Element, words string) {
		each(words, func(d *dimensionWord) { d.element, d.flags = e, d.flags|wordAdjective })
	}
	unit := func(u Unit, words string) { each(words, func(d *dimensionWord) { d.unit = u }) }
	flag := func(f wordFlags, words string) { each(words, func(d *dimensionWord) { d.flags |= f }) }
	part := func(term, words string) { each(words, func(d *dimensionWord) { d.term = term }) }

	// Elements: English, Swedish, German, French, Dutch, Spanish, Italian, Danish,
	// Norwegian, Portuguese, Latin.
	element(ElementHeight, "height heights heigth hgt ht h höjd höjden höhe hoehe hauteur haut hoogte altura altezza alt højde højden høyde høyden altitudo")
	element(ElementWidth, "width widths wd w breadth bredd bredden br b breite largeur larg breedte ancho anchura anch larghezza largura bredde bredden latitudo lat")
	element(ElementDepth, "depth depths dp djup djupet dj d t tiefe profondeur prof pr diepte fondo profundidad profondità profondita profundidade dybde dybden")
	element(ElementLength, "length lengths lgth lg len längd längden länge laenge longueur lengte longitud lunghezza lung comprimento compr længde længden lengde lengden longitudo l")
	element(ElementDiameter, "diameter diameters diametern diam diam dia diámetro diametro diamètre diamètres diametre durchmesser dm ø ⌀ diâmetro diametrus dmr")
	element(ElementRadius, "radius radie rayon straal radio raggio raio")
	element(ElementCircumference, "circumference circ circum girth omkrets omkretsen umfang circonférence circonference circonf omtrek circunferencia circonferenza omkreds perimeter vidd midjevidd")
	element(ElementThickness, "thickness th thk tjocklek tjockleken tj dicke stärke épaisseur epaisseur épais ép ep dikte grosor espesor esp spessore spess tykkelse tykkelsen espessura")
	element(ElementCaliber, "caliber calibre cal kaliber calibro")
	element(ElementArea, "area yta fläche surface oppervlakte superficie areal flate")
	element(ElementWeight, "weight weights weighs weighing weigh wt wgt vikt vikten väger gewicht gew poids gewicht peso vægt vekt pondus pond mass masse massa")
	element(ElementVolume, "volume vol capacity cap rymd volym inhalt fassungsvermögen volumen contenance inhoud capacidad capacità capacité rumfang rominnhold volum holds")
	element(ElementDuration, "duration durations running dur dauer durée duur duración durata varighet varighed playing time speltid")
	adjective(ElementHeight, "high tall hög högt hoch hoog høj høy alto alta")
	adjective(ElementWidth, "wide broad bred brett breit breed")
	adjective(ElementDepth, "deep djup djupt tief diep dyb dyp profond profonde")
	adjective(ElementLength, "long lång långt lang largo longo lungo longue")
	adjective(ElementThickness, "thick tjock tjockt dick dik tyk tykk épais épaisse")
	at("djup").flags &^= wordAdjective // Swedish, also the noun
	flag(wordLetter, "h w b l d t p v g ø dm br dj tj th")
	for _, w := range []string{"w", "p", "v", "g"} {
		at(w).mass = ElementWeight
	}
	element(ElementVolume, "v")
	element(ElementWeight, "g")
	element(ElementDepth, "p")
	flag(wordByUnit, "v g cap mass masse massa cal")

	// Units.
	unit("µm", "µm μm micron microns mikron")
	unit("mm", "mm millimetre millimetres millimeter millimeters millimètres millimètre millimetri milímetros")
	unit("cm", "cm cms centimetre centimetres centimeter centimeters centimètres centimètre centimetri centímetros zentimeter")
	unit("dm", "dm decimetre decimetres decimeter decimeters dezimeter")
	unit("m", "m metre metres meter meters mètre mètres metro metros metri mtr mtrs")
	unit("km", "km kilometre kilometres kilometer kilometers")
	unit("in", "in ins inch inches inchs")
	unit("ft", "ft foot feet")
	unit("yd", "yd yds yard yards")
	unit("mi", "mile miles")
	unit("mg", "mg milligram milligrams milligramm")
	unit("g", "g gram grams gramme grammes gramm gms gm grammi gramos")
	unit("g", "gr grs")
	flag(wordEitherUnit, "gr grs")
	unit("hg", "hg hektogram hectogram")
	unit("kg", "kg kgs kilo kilos kilogram kilograms kilogramme kilogrammes kilogramm kilogrammi kilogramos chilogrammi")
	unit("t", "t tonne tonnes")
	unit("ton", "ton tons")
	unit("ct", "ct cts carat carats karat")
	unit("lb", "lb lbs pound pounds")
	unit("oz", "oz ozs ounce ounces")
	unit("dwt", "dwt dwts pennyweight pennyweights")
	unit("gr", "grain grains")
	unit("st", "stone stones")
	unit("cwt", "cwt cwts hundredweight hundredweights")
	unit("ml", "ml millilitre millilitres milliliter milliliters cc")
	unit("cl", "cl centilitre centilitres centiliter centiliters zentiliter")
	unit("dl", "dl decilitre decilitres deciliter deciliters")
	unit("l", "l ltr ltrs litre litres liter liters litro litros litri")
	unit("hl", "hl hectolitre hectolitres hektoliter")
	unit("mm3", "mm3 mm³")
	unit("cm3", "cm3 cm³ ccm")
	unit("dm3", "dm3 dm³")
	unit("m3", "m3 m³ cbm")
	unit("in3", "in3 in³")
	unit("ft3", "ft3 ft³")
	unit("pt", "pint pints")
	unit("qt", "quart quarts")
	unit("gal", "gal gallon gallons")
	unit("mm2", "mm2 mm² qmm")
	unit("cm2", "cm2 cm² qcm")
	unit("m2", "m2 m² kvm qm")
	unit("ha", "ha hectare hectares hektar")
	unit("in2", "in2 in²")
	unit("ft2", "ft2 ft²")
	unit("s", "s sec secs second seconds sek sekunden sekunder secondes secondi segundos")
	unit("min", "min mins minute minutes minuten minuter minuut minuti minutos")
	unit("h", "h hr hrs hour hours stunde stunden std timme timmar tim heure heures uur ora ore hora horas timer")
	unit("px", "px pixel pixels")
	unit("Zoll", "zoll")
	unit("Fuß", "fuß fuss")
	unit("Elle", "elle ellen")
	unit("tum", "tum")
	unit("fot", "fot")
	unit("aln", "aln alnar")
	unit("pouce", "pouce pouces")
	unit("pied", "pied pieds")
	unit("duim", "duim duimen")
	unit("tomme", "tomme tommer")
	unit("pulgada", "pulgada pulgadas")
	unit("pollice", "pollice pollici")
	unit("skålpund", "skålpund")
	unit("lod", "lod")
	unit("Pfund", "pfund")
	unit("livre", "livre livres")

	flag(wordApprox, "c ca circa about approx approximate approximately approximatively around roughly nearly almost average avg estimated est cirka zirka ungefär ung omkring omkr uppskattad etwa ungefähr environ env ongeveer aproximadamente aprox alrededor omtrent cca circiter fere ungefärlig")
	flag(wordUncertain, "unconfirmed uncertain doubtful probably possibly perhaps presumably osäker osäkert troligen vermutlich wohl unsicher incertain vraisemblablement peut-être vermoedelijk probablemente probabilmente unverified")
	flag(wordNeutral, "masse dimensions dimension dims dim measurements measurement measures measuring measure measured mått måtten maße masse maß abmessungen format formaat format size sizes afmetingen afmeting medidas dimensiones misure dimensioni mål designated actual formato taille")
	flag(wordTradeSize, "size sizes storlek größe taille maat talla taglia")
	flag(wordEach, "each ea vardera je jeweils chacun chacune elk ieder cada ciascuno ciascuna hver hvert")
	flag(wordTimes, "x × ✕ ✖ х by auf sur op på per por par")
	flag(wordRange, "to till bis tot à a til fino hasta")
	flag(wordAnd, "and och und et en y e og")
	flag(wordBetween, "between mellan zwischen entre tussen tra mellem mellom from von från de")
	flag(wordAtLeast, "over exceeding minst mindestens über mer plus")
	flag(wordAtMost, "under below upto högst höchstens unter")
	flag(wordOf, "of the av på de des du der la le il del della dello van af den det from at à von vom vid i across on")
	flag(wordWith, "with w/ med m/ mit avec met con medelst incl including inkl inklusive incluant inclusief com inc")
	flag(wordWithout, "without w/o w/out utan ohne sans zonder sin senza uden uten excluding excl exkl exklusive sem")
	flag(wordVariable, "variable varying various vary varies varierande variabel variables verschieden diverse olika wechselnd")

	flag(wordShape, "irregular circular oval round octagonal hexagonal rund runt oregelbunden unregelmäßig irrégulier rond ovale ovaal onregelmatig irregolare")

	part("overall", "overall total totalt totala gesamt insgesamt totaal totale whole entire")
	part("base", "base sockel basis socle pedestal plinth basamento")
	part("frame", "frame ram ramen rahmen cadre lijst marco cornice ramme moldura")
	part("framed", "framed inramad gerahmt encadré encadrée ingelijst enmarcado incorniciato indrammet")
	part("unframed", "unframed oinramad ungerahmt")
	part("sight", "sight dager dagermått dagmått lichtmaß")
	part("case", "case fodral etui gehäuse étui estuche astuccio")
	part("stand", "stand ställ ständer fotställ standaard")
	part("image", "image bild bilden imagen immagine afbeelding billede bilde")
	part("sheet", "sheet blad bladet blatt feuille foglio hoja ark")
	part("plate", "plate plåt platte planche plaat lastra plancha")
	part("mount", "mount mounted passepartout uppfodring montage")
	part("support", "support canvas duk leinwand toile doek lienzo tela")
	part("lid", "lid cover lock locket deckel couvercle deksel tapa coperchio låg lokk")
	part("mouth", "mouth mynning mündung embouchure")
	part("rim", "rim brim brädd")
	part("handle", "handle skaft handtag griff manche anse")
	part("blade", "blade klinga klinge lame")
	part("object", "object objekt föremål gegenstand objet")
	return m
}

// lookupDimensionWord folds the case of a word and looks it up; nil if not known.
func lookupDimensionWord(s string) *dimensionWord {
	var buf [40]byte
	if len(s) > 32 {
		return nil
	}
	return dimensionWords[string(foldInto(buf[:0], s))]
}

// foldInto appends the lower-case form of s.
func foldInto(dst []byte, s string) []byte {
	for i := 0; i < len(s); {
		b := s[i]
		if b < utf8.RuneSelf {
			if b >= 'A' && b <= 'Z' {
				b += 'a' - 'A'
			}
			dst = append(dst, b)
			i++
			continue
		}
		r, size := utf8.DecodeRuneInString(s[i:])
		dst = utf8.AppendRune(dst, unicode.ToLower(r))
		i += size
	}
	return dst
}

// compoundElements are the elements that end compound words in the Germanic languages:
// Rahmenhöhe, totallängd, klingebredde.
var compoundElements = []struct {
	suffix  string
	element Element
}{
	{"maß", ElementUnstated}, {"mått", ElementUnstated}, {"maat", ElementUnstated}, // Rahmenmaß
	{"durchmesser", ElementDiameter}, {"diameter", ElementDiameter},
	{"höhe", ElementHeight}, {"höjd", ElementHeight}, {"hoogte", ElementHeight}, {"højde", ElementHeight}, {"høyde", ElementHeight},
	{"breite", ElementWidth}, {"bredd", ElementWidth}, {"breedte", ElementWidth}, {"bredde", ElementWidth},
	{"länge", ElementLength}, {"längd", ElementLength}, {"lengte", ElementLength}, {"længde", ElementLength}, {"lengde", ElementLength},
	{"tiefe", ElementDepth}, {"djup", ElementDepth}, {"diepte", ElementDepth}, {"dybde", ElementDepth},
	{"tjocklek", ElementThickness}, {"dicke", ElementThickness}, {"dikte", ElementThickness}, {"tykkelse", ElementThickness},
	{"gewicht", ElementWeight}, {"vikt", ElementWeight}, {"vægt", ElementWeight}, {"vekt", ElementWeight},
	{"umfang", ElementCircumference}, {"omkrets", ElementCircumference}, {"omtrek", ElementCircumference}, {"omkreds", ElementCircumference},
}

// compoundElement splits a compound word into part and element.
func compoundElement(s string) (head int, e Element, ok bool) {
	if len(s) < 7 || len(s) > 40 {
		return 0, "", false
	}
	var buf [64]byte
	low := foldInto(buf[:0], s)
	if len(low) != len(s) {
		return 0, "", false
	}
	for i := range compoundElements {
		suffix := compoundElements[i].suffix
		if h := len(low) - len(suffix); h >= 3 && string(low[h:]) == suffix {
			return h, compoundElements[i].element, true
		}
	}
	return 0, "", false
}
