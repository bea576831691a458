package reading

import "testing"

func TestReadLife(t *testing.T) {
	for _, x := range []struct{ text, born, died, active string }{
		{"1852–1911", "1852", "1911", ""},
		{"(1852–1911)", "1852", "1911", ""},
		{"born 1930", "1930", "", ""},
		{"b. 1930", "1930", "", ""},
		{"died 1911", "", "1911", ""},
		{"died before 1911", "", "[..1911]", ""},
		{"active 1720s", "", "", "172X"},
		{"active 1720–1743", "", "", "1720/1743"},
		{"active 1456/1500", "", "", "[1456..1500]"},
		{"active c. 1719 - active 1743", "", "", "1719~/1743"},
		{"fl. 1652 - 1687", "", "", "1652/1687"},
		{"active from 1645", "", "", "1645/"},
		{"active early 17th century", "", "", "[1600..1633]"},
		{"*1.1.1666", "1666-01-01", "", ""},
		{"1648* - 1718+", "1648", "1718", ""},
		{"1818-01-24*", "1818-01-24", "", ""},
		{"1593*+", "1593", "1593", ""},
		{"† 1911", "", "1911", ""},
		{"1670+", "", "1670", ""},
		{"geb. 1852, gest. 1911", "1852", "1911", ""},
		{"born Paris 1852, died London 1911", "1852", "1911", ""},
		{"American, born Germany, 1809 - 1879", "1809", "1879", ""},
		{"American, born Germany, 1942", "1942", "", ""},
		{"American, born Austria-Hungary (now Croatia), 1915 - 1982", "1915", "1982", ""},
		{"c. 1460 - active 1520s", "1460~", "", "152X"},
		{"active 1572, died 1624", "", "1624", "1572"},
		{"1652 or 1658 - 1746", "[1652..1658]", "1746", ""},
		{"c. 1500/1510 - after 1574", "[1500~..1510~]", "[1574..]", ""},
		{"before 1500 - 1564", "[..1500]", "1564", ""},
		{"1723 - 1791?", "1723", "1791?", ""},
		{"1874 - unknown", "1874", "", ""},
		{"?-1903", "", "1903", ""},
		{"founded 1896, closed 1917", "1896", "1917", ""},
		{"est. 1842", "1842", "", ""},
		{"Jane Example: 1919 - 2007", "1919", "2007", ""},
		{"17th century", "", "", "16XX"},
		{"French, 16th century", "", "", "15XX"},
	} {
		l, err := ReadLife(x.text, nil)
		if err != nil {
			t.Errorf("%s: %v", x.text, err)
			continue
		}
		for _, p := range []struct {
			name, want string
			got        *Date
		}{{"born", x.born, &l.Born}, {"died", x.died, &l.Died}, {"active", x.active, &l.Active}} {
			if got := p.got.EDTF(); got != p.want {
				t.Errorf("%s: %s %q, want %q", x.text, p.name, got, p.want)
			}
		}
	}
	for text, code := range map[string]string{
		"he: 1798 - 1865; she: 1804 - 1892": "two-dates",
		"born 1930, born 1935":              "two-dates",
		"unknown":                           "no-date",
		"":                                  "empty",
		"1911–1852":                         "backwards",
		"born 1911, died 1852":              "backwards",
		"active 1911, active 1852":          "backwards",
	} {
		if l, err := ReadLife(text, nil); err == nil || err.(*Unread).Code != code {
			t.Errorf("%s: %+v %v, want %s", text, l, err, code)
		}
	}
	exclusive := &Conventions{Date: DateConventions{Exclusive: true}}
	for _, text := range []string{"active 1550 but before 1550", "from 1550 to before 1550"} {
		if _, err := ReadLife(text, nil); err != nil {
			t.Errorf("%s: %v", text, err)
		}
		if l, err := ReadLife(text, exclusive); err == nil || err.(*Unread).Code != "backwards" {
			t.Errorf("%s, with years left out: %+v %v", text, l, err)
		}
	}
}
