package reading

import "strings"

// dateRuler is a reign by whose years documents are dated. Years run from the
// day of accession and its anniversaries.
type dateRuler struct {
	name     string // first of the spellings in rulerNames
	number   uint8  // 0 for rulers who need none
	from, to DateDay
}

// dateRulers holds the kings and queens of England and Britain from 1066. Days
// before 14 September 1752 are in the Julian calendar, with years from 1
// January. Set down from memory after C. R. Cheney, A Handbook of Dates for
// Students of English History (Royal Historical Society), and checked against
// the Table of British Regnal Years in Select Essays in Anglo-American Legal
// History I (1907), from which only William I differs (here from his coronation,
// there from Hastings). King John's years began on Ascension Day: see rulerYear. The years
// of Philip and Mary and of William and Mary are counted with the queen's and the
// king's.
var dateRulers = [...]dateRuler{
	{"william", 1, DateDay{1066, 12, 25}, DateDay{1087, 9, 9}},
	{"william", 2, DateDay{1087, 9, 26}, DateDay{1100, 8, 2}},
	{"henry", 1, DateDay{1100, 8, 5}, DateDay{1135, 12, 1}},
	{"stephen", 0, DateDay{1135, 12, 26}, DateDay{1154, 10, 25}},
	{"henry", 2, DateDay{1154, 12, 19}, DateDay{1189, 7, 6}},
	{"richard", 1, DateDay{1189, 9, 3}, DateDay{1199, 4, 6}},
	{"john", 0, DateDay{1199, 5, 27}, DateDay{1216, 10, 19}},
	{"henry", 3, DateDay{1216, 10, 28}, DateDay{1272, 11, 16}},
	{"edward", 1, DateDay{1272, 11, 20}, DateDay{1307, 7, 7}},
	{"edward", 2, DateDay{1307, 7, 8}, DateDay{1327, 1, 20}},
	{"edward", 3, DateDay{1327, 1, 25}, DateDay{1377, 6, 21}},
	{"richard", 2, DateDay{1377, 6, 22}, DateDay{1399, 9, 29}},
	{"henry", 4, DateDay{1399, 9, 30}, DateDay{1413, 3, 20}},
	{"henry", 5, DateDay{1413, 3, 21}, DateDay{1422, 8, 31}},
	{"henry", 6, DateDay{1422, 9, 1}, DateDay{1461, 3, 4}},
	{"edward", 4, DateDay{1461, 3, 4}, DateDay{1483, 4, 9}},
	{"edward", 5, DateDay{1483, 4, 9}, DateDay{1483, 6, 25}},
	{"richard", 3, DateDay{1483, 6, 26}, DateDay{1485, 8, 22}},
	{"henry", 7, DateDay{1485, 8, 22}, DateDay{1509, 4, 21}},
	{"henry", 8, DateDay{1509, 4, 22}, DateDay{1547, 1, 28}},
	{"edward", 6, DateDay{1547, 1, 28}, DateDay{1553, 7, 6}},
	{"mary", 1, DateDay{1553, 7, 6}, DateDay{1558, 11, 17}},
	{"philip and mary", 0, DateDay{1554, 7, 25}, DateDay{1558, 11, 17}},
	{"elizabeth", 1, DateDay{1558, 11, 17}, DateDay{1603, 3, 24}},
	{"james", 1, DateDay{1603, 3, 24}, DateDay{1625, 3, 27}},
	{"charles", 1, DateDay{1625, 3, 27}, DateDay{1649, 1, 30}},
	{"charles", 2, DateDay{1649, 1, 30}, DateDay{1685, 2, 6}},
	{"james", 2, DateDay{1685, 2, 6}, DateDay{1688, 12, 11}},
	{"william and mary", 0, DateDay{1689, 2, 13}, DateDay{1694, 12, 27}},
	{"william", 3, DateDay{1689, 2, 13}, DateDay{1702, 3, 8}},
	{"anne", 0, DateDay{1702, 3, 8}, DateDay{1714, 8, 1}},
	{"george", 1, DateDay{1714, 8, 1}, DateDay{1727, 6, 11}},
	{"george", 2, DateDay{1727, 6, 11}, DateDay{1760, 10, 25}},
	{"george", 3, DateDay{1760, 10, 25}, DateDay{1820, 1, 29}},
	{"george", 4, DateDay{1820, 1, 29}, DateDay{1830, 6, 26}},
	{"william", 4, DateDay{1830, 6, 26}, DateDay{1837, 6, 20}},
	{"victoria", 0, DateDay{1837, 6, 20}, DateDay{1901, 1, 22}},
	{"edward", 7, DateDay{1901, 1, 22}, DateDay{1910, 5, 6}},
	{"george", 5, DateDay{1910, 5, 6}, DateDay{1936, 1, 20}},
	{"edward", 8, DateDay{1936, 1, 20}, DateDay{1936, 12, 11}},
	{"george", 6, DateDay{1936, 12, 11}, DateDay{1952, 2, 6}},
	{"elizabeth", 2, DateDay{1952, 2, 6}, DateDay{2022, 9, 8}},
}

// rulerNames lists the names with the spellings of statutes and record offices,
// English and Latin. Their order numbers the tokens.
var rulerNames = []string{
	"george, geo, georgius, georgii, king george",
	"henry, hen, henrici, hen rici, king henry",
	"edward, edw, edwardi, king edward",
	"william, will, wm, guil, gul, gulielmi, king william",
	"richard, ric, rich, ricardi",
	"charles, cha, chas, car, caroli, king charles",
	"james, jas, jac, jacobi, king james",
	"elizabeth, eliz, elizabethae, queen elizabeth",
	"victoria, vict, victoriae, queen victoria, vic",
	"mary, mariae",
	"anne, annae, queen anne",
	"stephen, king stephen",
	"john, king john",
	"philip and mary, phil mar, ph and m, p and m, phil and mar, phil and mary",
	"william and mary, will and mar, w and m, wm and mary, will and mary, wm and m",
}

func rulerName(i int64) string {
	name, _, _ := strings.Cut(rulerNames[i], ",")
	return name
}

// findRuler looks a ruler up by name token and number; 0 is for rulers who are
// the only ones of their name, and for Elizabeth I and Mary I, whom nobody
// numbered before 1952.
func findRuler(name, number int64) *dateRuler {
	n := rulerName(name)
	for i := range dateRulers {
		r := &dateRulers[i]
		if r.name != n {
			continue
		}
		if int64(r.number) == number || number == 1 && r.number == 0 || number == 0 && (n == "elizabeth" || n == "mary") {
			return r
		}
	}
	return nil
}

// rulerYear gives the days of a year of a reign, counted from 1, as Gregorian days.
func rulerYear(r *dateRuler, n int64) (lo, hi DateDay, ok bool) {
	if n < 1 || n > 80 {
		return lo, hi, false
	}
	lo, hi = anniversary(r, n-1), anniversary(r, n)
	hi = dayFromNumber(hi.dayNumber() - 1)
	end := englishDay(r.to)
	if lo.Compare(end) > 0 {
		return lo, hi, false
	}
	if hi.Compare(end) > 0 {
		hi = end
	}
	return lo, hi, true
}

// rulerReign gives the days of a whole reign.
func rulerReign(r *dateRuler) (lo, hi DateDay) { return anniversary(r, 0), englishDay(r.to) }

func anniversary(r *dateRuler, years int64) DateDay {
	if r.name == "john" {
		return dayFromNumber(easter(r.from.Year+years, true).dayNumber() + 39) // Ascension Day
	}
	d := r.from
	d.Year += years
	if d.Month == 2 && d.Day == 29 {
		d.Day = 28
	}
	if r.from.Year < 1752 { // kept on the same day of the sun when the calendar changed
		day, _ := julianDay(d.Year, d.Month, d.Day)
		return day
	}
	return d
}

// englishDay converts a day written in the calendar of its time in England.
func englishDay(d DateDay) DateDay {
	if d.Compare(DateDay{1752, 9, 14}) < 0 {
		day, _ := julianDay(d.Year, d.Month, d.Day)
		return day
	}
	return d
}

// dateReign is an era of East Asia with its first and last year.
type dateReign struct {
	names    string // spellings, separated by commas
	from, to int64
	solar    bool // the years are those of the Gregorian calendar
}

// dateReigns holds the eras of Japan from 1573 and the reign periods of China
// from 1368, as in the chronological tables of N. M. Tsuchihashi (Japan) and of the
// Cihai (China), set down from memory; those of Japan agree with the eras of the
// Unicode Common Locale Data Repository. The year given as the first is the one
// the greater part of the era's first lunar year falls in.
var dateReigns = [...]dateReign{
	{"tenshō", 1573, 1592, false}, {"bunroku", 1592, 1596, false}, {"keichō", 1596, 1615, false}, {"genna", 1615, 1624, false},
	{"kan ei, kanei", 1624, 1644, false}, {"shōhō", 1644, 1648, false}, {"keian", 1648, 1652, false}, {"jōō, shōō", 1652, 1655, false},
	{"meireki", 1655, 1658, false}, {"manji", 1658, 1661, false}, {"kanbun, kambun", 1661, 1673, false}, {"enpō, empō", 1673, 1681, false},
	{"tenna", 1681, 1684, false}, {"jōkyō", 1684, 1688, false}, {"genroku", 1688, 1704, false}, {"hōei", 1704, 1711, false},
	{"shōtoku", 1711, 1716, false}, {"kyōhō", 1716, 1736, false}, {"genbun, gembun", 1736, 1741, false}, {"kanpō, kampō", 1741, 1744, false},
	{"enkyō", 1744, 1748, false}, {"kan en, kanen", 1748, 1751, false}, {"hōreki", 1751, 1764, false}, {"meiwa", 1764, 1772, false},
	{"an ei, anei", 1772, 1781, false}, {"tenmei, temmei", 1781, 1789, false}, {"kansei", 1789, 1801, false}, {"kyōwa", 1801, 1804, false},
	{"bunka", 1804, 1818, false}, {"bunsei", 1818, 1830, false}, {"tenpō, tempō", 1830, 1844, false}, {"kōka", 1844, 1848, false},
	{"kaei", 1848, 1854, false}, {"ansei", 1854, 1860, false}, {"man en, manen", 1860, 1861, false}, {"bunkyū", 1861, 1864, false},
	{"genji", 1864, 1865, false}, {"keiō", 1865, 1868, false}, {"meiji", 1868, 1912, true}, {"taishō", 1912, 1926, true},
	{"shōwa", 1926, 1989, true}, {"heisei", 1989, 2019, true},
	{"hongwu, hung wu", 1368, 1398, false}, {"jianwen, chien wen", 1399, 1402, false}, {"yongle, yung lo", 1403, 1424, false},
	{"hongxi, hung hsi", 1425, 1425, false}, {"xuande, hsüan te", 1426, 1435, false}, {"zhengtong, cheng t ung", 1436, 1449, false},
	{"jingtai, ching t ai", 1450, 1456, false}, {"tianshun, t ien shun", 1457, 1464, false}, {"chenghua, ch eng hua", 1465, 1487, false},
	{"hongzhi, hung chih", 1488, 1505, false}, {"zhengde, cheng te", 1506, 1521, false}, {"jiajing, chia ching", 1522, 1566, false},
	{"longqing, lung ch ing", 1567, 1572, false}, {"wanli, wan li", 1573, 1620, false}, {"tianqi, t ien ch i", 1621, 1627, false},
	{"chongzhen, ch ung chen", 1628, 1644, false}, {"shunzhi, shun chih", 1644, 1661, false}, {"kangxi, k ang hsi, kang hsi", 1662, 1722, false},
	{"yongzheng, yung cheng", 1723, 1735, false}, {"qianlong, ch ien lung, chien lung", 1736, 1795, false}, {"jiaqing, chia ch ing", 1796, 1820, false},
	{"daoguang, tao kuang", 1821, 1850, false}, {"xianfeng, hsien feng", 1851, 1861, false}, {"tongzhi, t ung chih, tung chih", 1862, 1874, false},
	{"guangxu, kuang hsü", 1875, 1908, false}, {"xuantong, hsüan t ung", 1909, 1911, false},
}

func dateRulerWords() []dateWords {
	var rows []dateWords
	for i, names := range rulerNames {
		rows = append(rows, dateWords{dateRulerW, int16(i), names})
	}
	for i := range dateReigns {
		rows = append(rows, dateWords{dateReignN, int16(i), dateReigns[i].names})
	}
	return rows
}

// reignYear gives the days of year n of an era. A lunar year begins between 21
// January and 20 February and may end as late as 20 February of the next.
func reignYear(r *dateReign, n int64) (lo, hi DateDay, ok bool) {
	y := r.from + n - 1
	if n < 1 || y > r.to {
		return lo, hi, false
	}
	if r.solar && y >= 1873 {
		return DateDay{y, 1, 1}, DateDay{y, 12, 31}, true
	}
	return DateDay{y, 1, 21}, DateDay{y + 1, 2, 20}, true
}
