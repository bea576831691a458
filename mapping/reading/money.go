package reading

import "math/big"

// Currency is the money of an amount by its English name. Where the words do not say
// whose it is ("dollar", "krona"), neither does the name; [Money.Code] then stays empty
// unless the conventions give one.
type Currency string

// The currencies read.
const (
	CurrencyPound     Currency = "pound sterling"
	CurrencyScots     Currency = "pound Scots"
	CurrencyDollar    Currency = "dollar"
	CurrencyEuro      Currency = "euro"
	CurrencyFranc     Currency = "franc"
	CurrencyLivre     Currency = "livre tournois"
	CurrencyMark      Currency = "mark"
	CurrencyThaler    Currency = "thaler"
	CurrencyGulden    Currency = "gulden"
	CurrencyFlorin    Currency = "florin"
	CurrencyKrona     Currency = "krona"
	CurrencyRiksdaler Currency = "riksdaler"
	CurrencyDaler     Currency = "daler"
	CurrencyLira      Currency = "lira"
	CurrencyPeseta    Currency = "peseta"
	CurrencyReal      Currency = "real"
	CurrencyPeso      Currency = "peso"
	CurrencyRuble     Currency = "ruble"
	CurrencyRupee     Currency = "rupee"
	CurrencyYen       Currency = "yen"
	CurrencyDucat     Currency = "ducat"
	CurrencyScudo     Currency = "scudo"
)

// MoneyConventions are habits of writing amounts of money. The zero value gives the
// defaults stated with each field.
type MoneyConventions struct {
	// Currency is the money of numbers written without one. Default: none, and such
	// numbers are not read.
	Currency Currency
	// Codes gives ISO 4217 codes to currencies of several countries, such as
	// CurrencyDollar: "USD". Default: no code.
	Codes map[Currency]string
	// DecimalPounds says that "£12.10" is twelve pounds and ten new pence. Default: it
	// may as well be twelve pounds ten shillings, and is read only beside a year after
	// 1971.
	DecimalPounds bool
}

// Money is an amount of money, as written and in the money of its time.
type Money struct {
	Text         string
	Value        Number // in the main unit of the currency; not given if a range or a bound was written
	Lower        Number // of a range, or of "over"
	Upper        Number // of a range, or of "up to"
	Currency     Currency
	CurrencyText string // as written: "£", "gns", "fr."
	Code         string // ISO 4217, where the words or the conventions say which
	Pounds       int64  // the parts as written, for pounds, shillings and pence
	Shillings    int64
	Pence        Number // may have a fraction
	Guineas      Number // as written; Value is 21 shillings each
	Year         int    // a year beside the amount; 0 if none
	Approximate  bool
	Uncertain    bool
	Each         bool
	Before       string // the words before the amount and after it, without the year
	After        string
	Start, End   int // byte offsets of the amount in the text
}

// coin is a unit of a currency and what part of the main unit it is.
type coin struct {
	currency Currency
	num, den int64
	code     string
	weak     bool // a letter that only other signs of money make a coin
	main     bool
}

// Coinage. Great Britain before 15 February 1971: 1 pound = 20 shillings = 240 pence,
// 1 shilling = 12 pence, 1 penny = 4 farthings; the guinea of account = 21 shillings
// (from 1717); crown 5s, half-crown 2s 6d, British florin 2s, groat 4d, sovereign 20s.
// Decimal coins are hundredths of their currency. Other old coins: livre tournois = 20
// sols = 240 deniers; Dutch gulden = 20 stuivers; rupee = 16 annas = 192 pies; real =
// 34 maravedís. The parts of thaler, daler, riksdaler and the German gulden changed
// from state to state: their small coins are named but joined with nothing.
var coins = map[string]coin{
	"£": {CurrencyPound, 1, 1, "", false, true}, "pound": {CurrencyPound, 1, 1, "", false, true}, "pounds": {CurrencyPound, 1, 1, "", false, true},
	"l": {CurrencyPound, 1, 1, "", true, true}, "li": {CurrencyPound, 1, 1, "", true, true}, "lib": {CurrencyPound, 1, 1, "", true, true},
	"gbp": {CurrencyPound, 1, 1, "GBP", false, true}, "stg": {CurrencyPound, 1, 1, "", false, true},
	"sovereign": {CurrencyPound, 1, 1, "", false, true}, "sovereigns": {CurrencyPound, 1, 1, "", false, true},
	"s": {CurrencyPound, 1, 20, "", true, false}, "sh": {CurrencyPound, 1, 20, "", false, false}, "shilling": {CurrencyPound, 1, 20, "", false, false},
	"shillings": {CurrencyPound, 1, 20, "", false, false}, "/-": {CurrencyPound, 1, 20, "", false, false},
	"d": {CurrencyPound, 1, 240, "", true, false}, "penny": {CurrencyPound, 1, 240, "", false, false}, "pennies": {CurrencyPound, 1, 240, "", false, false},
	"farthing": {CurrencyPound, 1, 960, "", false, false}, "farthings": {CurrencyPound, 1, 960, "", false, false},
	"halfpenny": {CurrencyPound, 1, 480, "", false, false}, "halfpence": {CurrencyPound, 1, 480, "", false, false},
	"groat": {CurrencyPound, 1, 60, "", false, false}, "groats": {CurrencyPound, 1, 60, "", false, false},
	"crown": {CurrencyPound, 1, 4, "", false, false}, "crowns": {CurrencyPound, 1, 4, "", false, false},
	"half-crown": {CurrencyPound, 1, 8, "", false, false}, "half-crowns": {CurrencyPound, 1, 8, "", false, false},
	"guinea": {CurrencyPound, 21, 20, "", false, true}, "guineas": {CurrencyPound, 21, 20, "", false, true}, "gns": {CurrencyPound, 21, 20, "", false, true},
	"gn": {CurrencyPound, 21, 20, "", false, true}, "gs": {CurrencyPound, 21, 20, "", false, true},
	"half-guinea": {CurrencyPound, 21, 40, "", false, false},
	// New pence; "pence" is either, by the year or by what stands before it.
	"pence": {CurrencyPound, 1, 240, "", false, false}, "p": {CurrencyPound, 1, 100, "GBP", true, false},

	"$": {CurrencyDollar, 1, 1, "", false, true}, "dollar": {CurrencyDollar, 1, 1, "", false, true}, "dollars": {CurrencyDollar, 1, 1, "", false, true},
	"us$": {CurrencyDollar, 1, 1, "USD", false, true}, "usd": {CurrencyDollar, 1, 1, "USD", false, true}, "$us": {CurrencyDollar, 1, 1, "USD", false, true},
	"c$": {CurrencyDollar, 1, 1, "CAD", false, true}, "can$": {CurrencyDollar, 1, 1, "CAD", false, true}, "cad": {CurrencyDollar, 1, 1, "CAD", false, true},
	"a$": {CurrencyDollar, 1, 1, "AUD", false, true}, "aud": {CurrencyDollar, 1, 1, "AUD", false, true},
	"nz$": {CurrencyDollar, 1, 1, "NZD", false, true}, "nzd": {CurrencyDollar, 1, 1, "NZD", false, true},
	"cent": {"", 1, 100, "", false, false}, "cents": {"", 1, 100, "", false, false}, "¢": {"", 1, 100, "", false, false}, "ct": {"", 1, 100, "", true, false},
	"c": {"", 1, 100, "", true, false}, "cts": {"", 1, 100, "", false, false},

	"€": {CurrencyEuro, 1, 1, "EUR", false, true}, "eur": {CurrencyEuro, 1, 1, "EUR", false, true}, "euro": {CurrencyEuro, 1, 1, "EUR", false, true}, "euros": {CurrencyEuro, 1, 1, "EUR", false, true},

	"franc": {CurrencyFranc, 1, 1, "", false, true}, "francs": {CurrencyFranc, 1, 1, "", false, true}, "fr": {CurrencyFranc, 1, 1, "", false, true},
	"frs": {CurrencyFranc, 1, 1, "", false, true}, "fcs": {CurrencyFranc, 1, 1, "", false, true}, "f": {CurrencyFranc, 1, 1, "", true, true},
	"franken": {CurrencyFranc, 1, 1, "", false, true}, "frank": {CurrencyFranc, 1, 1, "", false, true}, "ffr": {CurrencyFranc, 1, 1, "FRF", false, true}, "ff": {CurrencyFranc, 1, 1, "FRF", false, true},
	"frf": {CurrencyFranc, 1, 1, "FRF", false, true}, "chf": {CurrencyFranc, 1, 1, "CHF", false, true}, "sfr": {CurrencyFranc, 1, 1, "CHF", false, true}, "bef": {CurrencyFranc, 1, 1, "BEF", false, true},
	"centime": {CurrencyFranc, 1, 100, "", false, false}, "centimes": {CurrencyFranc, 1, 100, "", false, false}, "rappen": {CurrencyFranc, 1, 100, "CHF", false, false},
	"livre": {CurrencyLivre, 1, 1, "", false, true}, "livres": {CurrencyLivre, 1, 1, "", false, true},
	"sol": {CurrencyLivre, 1, 20, "", false, false}, "sols": {CurrencyLivre, 1, 20, "", false, false}, "sous": {CurrencyLivre, 1, 20, "", false, false},
	"denier": {CurrencyLivre, 1, 240, "", false, false}, "deniers": {CurrencyLivre, 1, 240, "", false, false},

	"mark": {CurrencyMark, 1, 1, "", false, true}, "marks": {CurrencyMark, 1, 1, "", false, true}, "mk": {CurrencyMark, 1, 1, "", false, true}, "m": {CurrencyMark, 1, 1, "", true, true},
	"reichsmark": {CurrencyMark, 1, 1, "", false, true}, "rm": {CurrencyMark, 1, 1, "", false, true}, "dm": {CurrencyMark, 1, 1, "DEM", false, true}, "dem": {CurrencyMark, 1, 1, "DEM", false, true},
	"pfennig": {CurrencyMark, 1, 100, "", false, false}, "pfennige": {CurrencyMark, 1, 100, "", false, false}, "pf": {CurrencyMark, 1, 100, "", false, false}, "pfg": {CurrencyMark, 1, 100, "", false, false},
	"taler": {CurrencyThaler, 1, 1, "", false, true}, "thaler": {CurrencyThaler, 1, 1, "", false, true}, "thalers": {CurrencyThaler, 1, 1, "", false, true}, "talers": {CurrencyThaler, 1, 1, "", false, true},
	"reichstaler": {CurrencyThaler, 1, 1, "", false, true}, "reichsthaler": {CurrencyThaler, 1, 1, "", false, true}, "rthlr": {CurrencyThaler, 1, 1, "", false, true}, "rtlr": {CurrencyThaler, 1, 1, "", false, true},
	"gulden": {CurrencyGulden, 1, 1, "", false, true}, "guilder": {CurrencyGulden, 1, 1, "", false, true}, "guilders": {CurrencyGulden, 1, 1, "", false, true}, "nlg": {CurrencyGulden, 1, 1, "NLG", false, true}, "ƒ": {CurrencyGulden, 1, 1, "", false, true},
	"stuiver": {CurrencyGulden, 1, 20, "", false, false}, "stuivers": {CurrencyGulden, 1, 20, "", false, false},
	"florin": {CurrencyFlorin, 1, 1, "", false, true}, "florins": {CurrencyFlorin, 1, 1, "", false, true}, "fl": {CurrencyFlorin, 1, 1, "", false, true}, "florijn": {CurrencyFlorin, 1, 1, "", false, true},

	"kr": {CurrencyKrona, 1, 1, "", false, true}, "krona": {CurrencyKrona, 1, 1, "", false, true}, "kronor": {CurrencyKrona, 1, 1, "", false, true}, "krone": {CurrencyKrona, 1, 1, "", false, true}, "kroner": {CurrencyKrona, 1, 1, "", false, true},
	"sek": {CurrencyKrona, 1, 1, "SEK", false, true}, "dkk": {CurrencyKrona, 1, 1, "DKK", false, true}, "nok": {CurrencyKrona, 1, 1, "NOK", false, true}, "skr": {CurrencyKrona, 1, 1, "SEK", false, true},
	"öre": {CurrencyKrona, 1, 100, "", false, false}, "øre": {CurrencyKrona, 1, 100, "", false, false},
	"riksdaler": {CurrencyRiksdaler, 1, 1, "", false, true}, "rdr": {CurrencyRiksdaler, 1, 1, "", false, true}, "rd": {CurrencyRiksdaler, 1, 1, "", false, true}, "rdlr": {CurrencyRiksdaler, 1, 1, "", false, true}, "rigsdaler": {CurrencyRiksdaler, 1, 1, "", false, true},
	"daler": {CurrencyDaler, 1, 1, "", false, true}, "dlr": {CurrencyDaler, 1, 1, "", false, true},

	"lira": {CurrencyLira, 1, 1, "", false, true}, "lire": {CurrencyLira, 1, 1, "", false, true}, "lit": {CurrencyLira, 1, 1, "ITL", false, true}, "itl": {CurrencyLira, 1, 1, "ITL", false, true}, "₤": {CurrencyLira, 1, 1, "", false, true},
	"centesimi": {CurrencyLira, 1, 100, "", false, false}, "scudo": {CurrencyScudo, 1, 1, "", false, true}, "scudi": {CurrencyScudo, 1, 1, "", false, true},
	"ducat": {CurrencyDucat, 1, 1, "", false, true}, "ducats": {CurrencyDucat, 1, 1, "", false, true}, "dukat": {CurrencyDucat, 1, 1, "", false, true}, "dukaten": {CurrencyDucat, 1, 1, "", false, true}, "dukater": {CurrencyDucat, 1, 1, "", false, true}, "ducati": {CurrencyDucat, 1, 1, "", false, true},
	"peseta": {CurrencyPeseta, 1, 1, "ESP", false, true}, "pesetas": {CurrencyPeseta, 1, 1, "ESP", false, true}, "ptas": {CurrencyPeseta, 1, 1, "ESP", false, true}, "pts": {CurrencyPeseta, 1, 1, "ESP", false, true},
	"céntimos": {CurrencyPeseta, 1, 100, "", false, false}, "real": {CurrencyReal, 1, 1, "", false, true}, "reales": {CurrencyReal, 1, 1, "", false, true}, "maravedís": {CurrencyReal, 1, 34, "", false, false},
	"peso": {CurrencyPeso, 1, 1, "", false, true}, "pesos": {CurrencyPeso, 1, 1, "", false, true},
	"ruble": {CurrencyRuble, 1, 1, "", false, true}, "rubles": {CurrencyRuble, 1, 1, "", false, true}, "rouble": {CurrencyRuble, 1, 1, "", false, true}, "roubles": {CurrencyRuble, 1, 1, "", false, true},
	"kopek": {CurrencyRuble, 1, 100, "", false, false}, "kopeks": {CurrencyRuble, 1, 100, "", false, false}, "kopecks": {CurrencyRuble, 1, 100, "", false, false},
	"rupee": {CurrencyRupee, 1, 1, "", false, true}, "rupees": {CurrencyRupee, 1, 1, "", false, true}, "rs": {CurrencyRupee, 1, 1, "", false, true}, "anna": {CurrencyRupee, 1, 16, "", false, false}, "annas": {CurrencyRupee, 1, 16, "", false, false}, "pies": {CurrencyRupee, 1, 192, "", false, false},
	"¥": {CurrencyYen, 1, 1, "", false, true}, "yen": {CurrencyYen, 1, 1, "JPY", false, true}, "jpy": {CurrencyYen, 1, 1, "JPY", false, true},
}

// Rat gives the amount in the main unit of its currency, exactly: pounds for pounds,
// shillings and pence.
func (m Money) Rat() *big.Rat { return m.Value.Rat() }
