package reading

import "strings"

// MakerKind is what sort of maker the words name.
type MakerKind string

// The kinds. MakerGroup is any body of people: a firm, a manufactory, a museum, a duo.
const (
	MakerUnsaid    MakerKind = ""
	MakerPerson    MakerKind = "person"
	MakerGroup     MakerKind = "group"
	MakerFamily    MakerKind = "family"
	MakerCulture   MakerKind = "culture" // a people, a nation, a school without a head
	MakerAnonymous MakerKind = "anonymous"
)

// Qualifier says how the person named stands to the work: "after", "workshop of",
// "attributed to" … The terms are the trade's English ones, whatever the language of
// the cell. Empty: the person made it.
type Qualifier string

// The qualifiers.
const (
	QualifierNone               Qualifier = ""
	QualifierAttributed         Qualifier = "attributed to"
	QualifierFormerlyAttributed Qualifier = "formerly attributed to"
	QualifierDoubtful           Qualifier = "doubtfully attributed to"
	QualifierStudio             Qualifier = "studio of"
	QualifierWorkshop           Qualifier = "workshop of"
	QualifierCircle             Qualifier = "circle of"
	QualifierFollower           Qualifier = "follower of"
	QualifierManner             Qualifier = "manner of"
	QualifierStyle              Qualifier = "style of"
	QualifierSchool             Qualifier = "school of"
	QualifierPupil              Qualifier = "pupil of"
	QualifierAssistant          Qualifier = "assistant of"
	QualifierImitator           Qualifier = "imitator of"
	QualifierAssociated         Qualifier = "associated with"
	QualifierAfter              Qualifier = "after"
	QualifierCopyAfter          Qualifier = "copy after"
	QualifierPrintsAfter        Qualifier = "prints after"
	QualifierPseudo             Qualifier = "pseudo"
	QualifierWith               Qualifier = "with"
	QualifierAndStudio          Qualifier = "and studio"
	QualifierAndWorkshop        Qualifier = "and workshop"
	QualifierAndAssistants      Qualifier = "and assistants"
	QualifierAndPupil           Qualifier = "and a pupil"
	QualifierAndOthers          Qualifier = "and other artists"
)

// Certainty is how sure the words are of the maker. Empty: they raise no doubt.
type Certainty string

// The degrees of certainty. CertaintyCertain is said in so many words;
// CertaintySuperseded is an attribution that no longer holds.
const (
	CertaintyUnsaid      Certainty = ""
	CertaintyCertain     Certainty = "certain"
	CertaintyProbably    Certainty = "probably"
	CertaintyPossibly    Certainty = "possibly"
	CertaintyAttributed  Certainty = "attributed"
	CertaintyTradition   Certainty = "by tradition"
	CertaintyUncertain   Certainty = "uncertain"
	CertaintyDoubtful    Certainty = "doubtful"
	CertaintySuperseded  Certainty = "superseded"
	CertaintyAlternative Certainty = "alternative" // this one or another: "Scott or Monamy"
)

// NameOrder says how a museum writes "Turner, Joseph".
type NameOrder uint8

// The orders.
const (
	NameOrderAny      NameOrder = iota // either: the shape of the names decides, or the cell is not read
	NameOrderNatural                   // given names first; a comma parts makers
	NameOrderInverted                  // family name, comma, given names; makers are parted by semicolons
)

// MakerConventions are habits of writing makers. The zero value gives the defaults
// stated with each field.
type MakerConventions struct {
	// Order is the order of names. Default: either.
	Order NameOrder
	// Roles gives terms to words for roles that the reader does not know. Default: none.
	Roles map[string]string
}

// Maker is one maker of a cell.
type Maker struct {
	Name          string // in natural order: "Joseph Mallord William Turner"
	Inverted      string // as written, where written so: "Turner, Joseph Mallord William"
	Kind          MakerKind
	Qualifier     Qualifier
	QualifierText string // as written: "zugeschrieben", "atelier de"
	Certainty     Certainty
	CertaintyText string
	Role          string // the usual English term: maker, engraver, retailer, after a design by …
	RoleText      string // as written: "Tillverkare, av original"
	Life          string // the words for birth and death, or for activity; see [ReadLife]
	Nationality   string // as written: "British"
	Note          string // other words that belong to the maker: "of Bath" stays with the name, "Norwich" does not
	Start, End    int    // byte offsets in the text
}

// Influence says whether the maker is the source of the work, not its maker: the work
// is after another of theirs.
func (m *Maker) Influence() bool {
	switch m.Qualifier {
	case QualifierAfter, QualifierCopyAfter, QualifierPrintsAfter:
		return true
	}
	switch m.Role {
	case RoleAfterDesign, RoleAfterOriginal:
		return true
	}
	return false
}

// Superseded says whether the attribution no longer holds.
func (m *Maker) Superseded() bool { return m.Certainty == CertaintySuperseded }

// Roles that say that the work is after another.
const (
	RoleAfterDesign   = "after a design by"
	RoleAfterOriginal = "after an original by"
)

// ReadRole gives the usual English term for a word that says what a person had to do
// with a work, in any of the languages read: "Tillverkare", "Stecher", "retailed by".
// The error, if any, is an [*Unread].
func ReadRole(text string, c *Conventions) (string, error) {
	p := makerParser{text: text, c: &MakerConventions{}}
	if c != nil {
		p.c = &c.Maker
	}
	low := strings.ToLower(strings.TrimSpace(text))
	if t := p.roles(low); t != "" {
		return t, nil
	}
	if t, ok := roleNotes[low]; ok {
		return t, nil
	}
	return "", &Unread{Text: text, Code: "unknown-words", Reason: "the role is not known", At: -1}
}

// ReadCertainty gives the certainty that a word stands for: "Förmodad", "vermutlich",
// "(?)". The error, if any, is an [*Unread].
func ReadCertainty(text string, _ *Conventions) (Certainty, error) {
	low := strings.ToLower(strings.TrimSpace(text))
	if ph, ok := makerPhrases[low]; ok && ph.certainty != "" {
		return ph.certainty, nil
	}
	return "", &Unread{Text: text, Code: "unknown-words", Reason: "the degree of certainty is not known", At: -1}
}
