package reading

import (
	"cmp"
	"slices"
	"strings"

	"golang.org/x/text/unicode/norm"
)

// dateWords is a row of a language's table: words and phrases, separated by
// commas, that mean the same. They are written in small letters and without full
// stops; hyphens and apostrophes are blanks. Where a word has accents, the
// spelling without them is understood too unless another word has it.
type dateWords struct {
	class dateClass
	val   int16
	words string
}

type dateEntry struct {
	class  dateClass
	starts bool // phrases begin with the word
	val    int16
}

type datePhrase struct {
	rest  []string
	class dateClass
	val   int16
}

// Values of datePart tokens and of dateTermX.part.
const (
	partNone = iota
	partEarly
	partMid
	partLate
	partTurn
	partBegin // "beginning of", "end of": as early and late
	partEnd
	partShare // a half, third or quarter
)

// Values of dateNoise, dateOf and other tokens that need telling apart.
const (
	noiseA   = 2  // English article; "to" in Spanish and Italian
	noiseEn  = 3  // French, Spanish "in"; Dutch "and"
	noiseDes = 12 // French article or Norwegian December

	aboutC       = 1  // circa, or century after a number
	aboutSign    = 3  // ±, which may have a number of years behind it
	aboutH       = 2  // Spanish hacia, or German Hälfte after an ordinal
	centuryS     = 1  // siècle, siglo, saeculum beside a numeral only
	talT         = 1  // Swedish "1500-t": only written on
	yearAn       = 1  // French "an", which counts the years of the Republic too
	shareMid     = 16 // a half after an ordinal, otherwise the middle
	ordinalPrimo = 64 // first, or Scandinavian "primo": the beginning of
	lastUltimo   = 1  // last, or Scandinavian "ultimo": the end of
)

// Kinds of period named without years, the values of datePeriod tokens.
const (
	periodGeological = iota
	periodArchaeological
	periodNamed
	periodBeforePresent
)

// dateLexicon and datePhrases are made once from the tables of all languages and
// never changed.
var dateLexicon, datePhrases = buildDateWords()

func dateLanguages() [][]dateWords {
	return [][]dateWords{
		dateWordsEnglish, dateWordsGerman, dateWordsFrench, dateWordsDutch, dateWordsSpanish,
		dateWordsItalian, dateWordsSwedish, dateWordsDanish, dateWordsLatin, dateWordsPeriods,
		dateRulerWords(), dateStageWords(), frenchMonthWords,
	}
}

func buildDateWords() (map[string]dateEntry, map[string][]datePhrase) {
	words, phrases := map[string]dateEntry{}, map[string][]datePhrase{}
	add := func(w string, r dateWords, only bool) {
		first, rest, many := strings.Cut(w, " ")
		if !many {
			if old, ok := words[w]; !ok || old.class == dateWord {
				words[w] = dateEntry{r.class, ok && old.starts, r.val}
			} else if !only && (old.class != r.class || old.val != r.val) {
				panic("reading: two meanings of the date word " + w)
			}
			return
		}
		e, ok := words[first]
		if !ok {
			e = dateEntry{class: dateWord}
		}
		e.starts = true
		words[first] = e
		ps := phrases[first]
		p := datePhrase{strings.Fields(rest), r.class, r.val}
		for _, q := range ps {
			if slices.Equal(q.rest, p.rest) {
				if !only && (q.class != p.class || q.val != p.val) {
					panic("reading: two meanings of the date phrase " + w)
				}
				return
			}
		}
		phrases[first] = append(ps, p)
	}
	for _, only := range []bool{false, true} {
		for _, language := range dateLanguages() {
			for _, row := range language {
				for w := range strings.SplitSeq(row.words, ",") {
					w = strings.TrimSpace(w)
					if !only {
						add(w, row, false)
						continue
					}
					for _, v := range plainSpellings(w) {
						add(v, row, true)
					}
				}
			}
		}
	}
	for _, ps := range phrases {
		slices.SortStableFunc(ps, func(a, b datePhrase) int { return cmp.Compare(len(b.rest), len(a.rest)) })
	}
	return words, phrases
}

var dateUmlauts = strings.NewReplacer("ä", "ae", "ö", "oe", "ü", "ue", "ß", "ss", "å", "aa", "ø", "oe", "æ", "ae")
var datePlainLetters = strings.NewReplacer("ß", "ss", "ø", "o", "æ", "ae", "œ", "oe")

// plainSpellings gives the ways to write w without accents that differ from it.
func plainSpellings(w string) []string {
	var out []string
	var b strings.Builder
	for _, r := range norm.NFD.String(w) {
		if r < 0x300 || r > 0x36F {
			b.WriteRune(r)
		}
	}
	for _, v := range []string{datePlainLetters.Replace(b.String()), dateUmlauts.Replace(w)} {
		if v != w {
			out = append(out, v)
		}
	}
	return out
}
