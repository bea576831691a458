package reading

import "strings"

// numberWords are the small numbers in words: English to twenty and the tens, the
// other languages to twelve.
var numberWords = buildNumberWords()

func buildNumberWords() map[string]int64 {
	m := map[string]int64{}
	lists := []string{
		"zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen twenty",
		"- en två tre fyra fem sex sju åtta nio tio elva tolv",
		"- eins zwei drei vier fünf sechs sieben acht neun zehn elf zwölf",
		"- un deux trois quatre cinq six sept huit neuf dix onze douze",
		"- een twee drie vier vijf zes zeven acht negen tien elf twaalf",
		"- uno dos tres cuatro cinco seis siete ocho nueve diez once doce",
		"- uno due tre quattro cinque sei sette otto nove dieci undici dodici",
		"- én - tre - fem seks syv otte - - elleve tolv",
	}
	for _, list := range lists {
		for n, w := range strings.Fields(list) {
			if w != "-" {
				m[w] = int64(n)
			}
		}
	}
	for w, n := range map[string]int64{"a": 1, "an": 1, "ett": 1, "ein": 1, "eine": 1, "une": 1, "una": 1,
		"thirty": 30, "forty": 40, "fourty": 40, "fifty": 50, "sixty": 60, "seventy": 70, "eighty": 80, "ninety": 90,
		"trettio": 30, "fyrtio": 40, "femtio": 50, "zwanzig": 20, "dreißig": 30, "vingt": 20, "trente": 30, "tjugo": 20,
		"dozen": 12, "score": 20, "hundred": 100, "thousand": 1000, "dussin": 12, "dutzend": 12, "douzaine": 12, "hundra": 100, "hundert": 100, "cent": 100} {
		m[w] = n
	}
	return m
}

// numberInWords reads the number that the words at the beginning of s give ("twenty-five",
// "a dozen", "one hundred and twenty") and the byte after it; end 0 if there is none. A
// lone article is no number.
func numberInWords(s string) (n int64, end int) {
	var total, current int64
	words := 0
	article := false
	i := 0
	for i < len(s) {
		start := i
		for i < len(s) && (s[i]|0x20 >= 'a' && s[i]|0x20 <= 'z' || s[i] >= 0x80) {
			i++
		}
		if start == i {
			break
		}
		var buf [32]byte
		if i-start > 16 {
			break
		}
		low := string(foldInto(buf[:0], s[start:i]))
		v, ok := numberWords[low]
		switch {
		case low == "and" && words > 0 && (current%100 == 0 || total > 0) && end > 0:
			// "one hundred and twenty"
			if next, e := numberInWords(strings.TrimLeft(s[i:], " ")); e > 0 && next < 100 && current >= 100 {
				skip := len(s[i:]) - len(strings.TrimLeft(s[i:], " "))
				return total + current + next, i + skip + e
			}
			return total + current, end
		case !ok:
			if article {
				return 0, 0
			}
			return total + current, end
		case low == "a" || low == "an":
			if words > 0 {
				return total + current, end
			}
			current, article = 1, true
		case v == 1000:
			total, current, article = (total+max(current, 1))*1000, 0, false
		case v == 100 || (v == 12 || v == 20) && (low == "dozen" || low == "score" || low == "dussin" || low == "dutzend" || low == "douzaine"):
			current, article = max(current, 1)*v, false
		case article || words > 0 && !(current >= 20 && current%10 == 0 && v < 10 || current >= 100 && current%100 == 0 || total > 0 && current == 0):
			if article {
				return 0, 0
			}
			return total + current, end
		default:
			current += v
		}
		words++
		end = i
		for i < len(s) && (s[i] == ' ' || s[i] == '-') {
			i++
		}
	}
	if article || words == 0 {
		return 0, 0
	}
	return total + current, end
}
