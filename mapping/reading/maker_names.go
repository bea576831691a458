package reading

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

func wordSet(lists ...string) map[string]bool {
	m := map[string]bool{}
	for _, l := range lists {
		for _, w := range strings.Fields(l) {
			m[w] = true
		}
	}
	return m
}

// givenNames are common given names of Europe and America, in small letters. They tell
// "Turner, Joseph" from two makers; a name that is not among them only makes a reader
// less sure.
var givenNames = wordSet(
	// English
	`john william thomas george james charles henry robert joseph edward samuel richard david daniel francis peter paul michael stephen
	 andrew alexander benjamin nathaniel matthew mark luke simon philip martin edmund edwin ernest frederick frederic walter albert alfred arthur
	 harold herbert hugh horace isaac jacob jonathan joshua josiah lawrence leonard lewis louis moses nicholas oliver oscar patrick percy
	 ralph reginald roger ronald rupert stanley sidney sydney theodore timothy tobias victor vincent wilfred abraham adam adrian alan allan
	 allen anthony antony arnold augustus barnabas basil bernard bertram brian bruce cecil christopher clement clive colin cuthbert cyril
	 denis dennis derek desmond dominic donald douglas duncan eric ernst eugene evan felix frank gavin geoffrey gerald gerard gilbert godfrey
	 gordon graham gregory guy harry howard humphrey ian ivan ivor jack jake jeffrey jeremy jerome jesse joe julian keith kenneth kevin
	 larry leslie lionel malcolm marcus maurice max mervyn miles mike nathan neil nigel noel norman nick norbert owen raymond rex rodney
	 roland roy rufus russell sam sebastian solomon spencer stuart ted terence terry tim toby tom tony trevor valentine vernon wallace
	 warren wayne wilhelm zachary ben bob chris dan dean doug ed fred glenn jason jeff jim johnny josh ken kurt matt neal pete phil ray rick
	 ron steve stewart will curtis chip chad craig dale darren gary glen graeme grant greg harvey jon justin karl kelly kirk kyle lance lee
	 mary anne ann anna elizabeth jane sarah margaret alice charlotte caroline catherine katherine kate emma emily ellen eleanor edith
	 dorothy diana deborah clara christine cecilia beatrice barbara amelia agnes adelaide ada florence frances georgina grace hannah harriet
	 helen henrietta hilda ida irene isabel isabella janet jean jennifer jenny jessica jill joan joanna josephine judith judy julia julie
	 kathleen laura lilian lillian lily linda lisa louisa louise lucy lydia mabel madeleine maria marian marie marion martha matilda maud
	 mildred minnie molly monica nancy nina nora olive olivia pamela patricia pauline penelope phoebe phyllis priscilla rachel rebecca rosa
	 rose rosemary ruth sally sandra sophia sophie stella susan susanna susannah sylvia tracey theresa ursula vanessa vera victoria
	 violet virginia winifred yvonne zoe evelyn ethel elsie gwen hester jemima joyce marjorie mona vivien wendy gillian gill carol cindy
	 claire diane eva fanny heather hilary kay kim lynn maggi mimi rosalind sheila shirley trudy bridget cathy amy angela tracy pat`,
	// German, Dutch, Scandinavian
	`johann johannes hans heinrich friedrich karl carl ludwig otto gustav gustaf gustave franz josef jakob georg wolfgang walther wilhelm
	 konrad conrad kaspar caspar christian christoph matthias matthäus matthaeus michel melchior balthasar bartholomäus barthel bernhard bruno dietrich
	 eberhard erhard ernst erich ferdinand fritz gerhard gottfried gottlieb günter günther helmut hermann herman jörg jürgen jens joachim klaus
	 kurt leonhard lorenz lukas manfred martin max moritz nikolaus oskar paulus philipp rainer reinhard rolf rudolf rudolph sigmund sigismund
	 siegfried stefan theodor ulrich uwe valentin veit viktor werner wenzel adolf albrecht alois anton arnulf august elias hieronymus
	 elisabeth gertrud greta grete hedwig helga hilde ilse ingrid johanna käthe katharina katarina kristina christina magdalena margarete margareta
	 margarethe monika paula renate sabine sibylle ulrike gabriele angelica angelika hannelore hanna hannah rosemarie rosemarie ursula
	 jan pieter piet cornelis kornelis gerrit gerard willem hendrik dirk adriaen adriaan jacobus jacob joost jozef joris joos lucas maarten
	 nicolaes nicolaas rembrandt roelandt roeland frans govert bartholomeus claes karel koen lambert ludolf meindert philips salomon simon theo
	 wouter abraham aert aelbert allart antonie anthonie balthazar barent crispijn crispin egbert esaias gerbrand gijsbert jeronimus justus maerten
	 lars nils nicodemus olof olov per peter petter sven erik eric anders bengt björn bo claes göran håkan ivar johan jöns jonas kjell knut
	 magnus mats mattias mikael oscar ola pehr rutger sigurd sixten staffan stellan sten sture thorsten torsten torbjörn tor ulf ulrik uno
	 viktor åke axel alfred arvid bertil birger ebbe edvard efraim einar emil filip fredrik frederik gabriel gunnar harald henning henrik
	 henric hinric hjalmar holger isak israel joakim jörgen jørgen kristian kristoffer leif ludvig mårten niclas niels nils ole palle poul rasmus søren
	 svend thor tycho vilhelm wilhelmina anna augusta aurora beata birgitta brita carin cecilia charlotta ebba elsa emma eva hedvig helena
	 hilma ingeborg inga ingrid karin kerstin kristina lovisa magdalena maja margareta märta sigrid sofia sophia ulla ulrika viktoria vilhelmina
	 aurore karin astrid gunilla gunhild gerda greta hjördis siri solveig desideria desirée`,
	// French, Italian, Spanish, Portuguese, others
	`jean pierre jacques françois francois louis charles antoine nicolas claude philippe andré andre étienne etienne guillaume henri hubert jules laurent léon leon
	 marcel maurice michel pascal paul rené rene robert roger simon théodore théophile thierry victor vincent yves adrien alain albert alexandre alphonse
	 ambroise auguste augustin barthélemy benoît bernard camille denis edgar edmond édouard edouard émile emile eugène eugene félix fernand gaspard gaston georges
	 gérard germain gilles gustave hector hippolyte honoré jérôme joseph julien justin louise lucien luc marie martin mathieu maximilien nicole olivier patrice
	 raoul raymond sébastien toussaint valentin noël marguerite madeleine jeanne hélène françoise élisabeth élodie berthe colette marthe nusch valentine suzanne
	 simone sophie sylvie thérèse véronique anne charlotte germaine
	 giovanni giuseppe francesco antonio pietro paolo domenico carlo giacomo luigi lorenzo marco matteo michelangelo nicola niccolò raffaello raffaele andrea angelo
	 alessandro agostino annibale bartolomeo benedetto bernardo bernardino camillo claudio cosimo cristoforo daniele enrico enzo ercole federico filippo
	 fortunato gaspare gaspar gasparo gian giambattista gianlorenzo giorgio girolamo giulio guglielmo guido ippolito jacopo lazarino lazaro leonardo lodovico luca ludovico
	 mario massimo orazio ottavio piero roberto salvator salvatore sandro sebastiano sergio silvio stefano steffano taddeo tiziano tommaso ugo umberto vincenzo vittorio artemisia
	 lucia maria rosalba sofonisba elisabetta caterina chiara anna
	 josé jose juan manuel pedro pablo francisco miguel luis carlos diego fernando rafael ramón antonio joaquín jorge julio alonso alberto alejandro andrés tomás
	 bartolomé cristóbal domingo eduardo enrique felipe gabriel guillermo ignacio jaime javier joan jordi mariano martín nicolás oswaldo óscar pascual ricardo salvador
	 santiago vicente emilio carmen dolores isabel luisa mercedes pilar rosa teresa joão paulo rui nuno álvaro vasco duarte joaquim fernanda cildo hélio
	 igor ivan vladimir nikolai sergei alexei mikhail dmitri boris svetlana natalia olga tatiana piotr jerzy stanislaus stanislaw kazimierz vladislav wojciech monika pawel wilhelm
	 artur józef jakub tadeusz zbigniew magdalena georges efraim elias isack samson simeon yoko kiyoji aleksandr aleksander`)

// nameParticles stand in small letters inside names.
var nameParticles = wordSet(`de du des d da di del della dei degli dos das do la le les lo li el al van von vom zu zum zur der den dem ten ter te 't 's-
	 af av aus i y e et en op of the och and und & bin ibn ben abu ab ap af' d' l' von- g f född född née né nee geb geb. f. g. gift saint st nr no`)

// nameTitles stand before names and are no given names.
var nameTitles = wordSet(`sir lady lord dame rev rev. reverend dr dr. prof prof. professor mr mr. mrs mrs. miss ms capt captain captain. col. colonel lt lt. major maj. general gen. admiral
	 count countess baron baroness duke duchess earl marquess marquis viscount prince princess king queen hon hon. the bishop archbishop abbé abbe father brother sister
	 friherre greve grevinna comte comtesse vicomte conte conde fürst furst frau herr fräulein graf freiherr madame mme mme. monsieur m. mlle don doña fra messrs messrs.`)

// nameSuffixes follow names, often after a comma.
var nameSuffixes = wordSet(`bt bt. bart bart. om ch ra ara pra cbe obe mbe kbe dbe gbe frs rsa ria rws rca rba rha arsa ri kc qc mp junior senior jr jr. sr sr. jun jun. sen sen. jnr snr
	 i ii iii iv v vi vii viii ix esq esq. j:r s:r fils père pere d.ä. d.y. d.ä d.y dä dy md phd m.d. ph.d. r.a. a.r.a. p.r.a. f.r.s.`)

// suffixStarts begin a description that belongs to the name before it.
var suffixStarts = wordSet(`the of duke duchess earl count countess baron baroness marquess marquis marchioness marquise viscount viscountess lord lady prince princess bishop archbishop king queen
	 first second third fourth fifth sixth seventh eighth ninth tenth 1st 2nd 3rd 4th 5th 6th 7th 8th 9th 10th duchess-countess d.ä. d.y. der den le the-elder`)

// birthNames begin a name of birth or of marriage.
var birthNames = wordSet(`née né nee geb. geb geborene f. f född g. g gift född. born-name nata nacida`)

// nationalities are what a person or a school is called by.
var nationalities = wordSet(`british english scottish irish welsh french german dutch flemish netherlandish italian spanish portuguese swedish danish norwegian finnish icelandic american canadian mexican
	 australian austrian swiss belgian russian polish czech bohemian hungarian greek turkish ottoman chinese japanese korean indian persian iranian egyptian african european
	 venetian florentine roman sienese neapolitan bolognese lombard milanese genoese ferrarese umbrian tuscan catalan north south soviet ukrainian croatian serbian romanian bulgarian
	 estonian latvian lithuanian brazilian argentinian argentine chilean peruvian cuban colombian israeli syrian lebanese moroccan ethiopian nigerian ghanaian indonesian thai vietnamese
	 nepalese tibetan mughal byzantine etruscan attic corinthian inca maya aztec yoruba benin
	 svensk dansk norsk finsk tysk fransk engelsk nederländsk holländsk italiensk spansk rysk deutsch englisch französisch italienisch niederländisch spanisch russisch schwedisch
	 deutsche deutscher français française anglais allemand italien hollandais flamand nederlands vlaams duits frans engels`)

// groupWords make a name the name of a body of people.
var groupWords = wordSet(`company co co. cie cie. corp corp. corporation ltd ltd. limited inc inc. plc gmbh ag kg ab a.b. a/s as oy sa s.a. spa s.p.a. nv n.v. bv bros bros. brothers sons son daughters partners partnership
	 söhne gebrüder gebr gebr. gebroeders frères freres fratelli hermanos zonen fils widow veuve witwe heirs erben änka
	 manufactory manufacture manufaktur manufacturers factory pottery potteries porcelain porzellan porzellanmanufaktur foundry works ironworks glassworks glasshouse workshops workshop press studio studios
	 gallery museum museet institute institution university college school society association club guild office department bureau laboratory observatory dockyard shipyard brewery mint mill mills collective group
	 glasbruk glasbruket bruk järnverk fabrik fabriken vapenfabrik porslinsfabrik silvergruva kloster slott slottet rustkammare rustkammaren kammaren braherustkammaren auktionsverk konsthandel förlag tryckeri armén bolag aktiebolag
	 verlag werkstätten werkstätte werkstatt fabrique manufacture atelier ateliers maison imprimerie éditions edizioni officina fabbrica real royal-mint project projects team band crew publishers publishing printers industries
	 instruments opticians navy army airforce ministry admiralty council committee commission board trust foundation survey railway railways firma fa fa. messrs arkivet porträttarkivet biblioteket biblioteket. sällskap hushållningssällskap`)

var familyWords = wordSet(`family familie familjen famille famiglia familia ätten släkten slægten`)

// anonymousPhrases name nobody. The longest stands first where one begins another.
var anonymousPhrases = []string{
	"unknown maker", "unknown artist", "unknown manufacturer", "unknown photographer", "unknown author", "unknown designer", "unknown", "unidentified maker", "unidentified artist", "unidentified photographer", "unidentified", "unrecorded artist", "unrecorded",
	"anonymous", "anon.", "anon", "artist unknown", "maker unknown", "photographer unknown", "maker not known", "not known", "unnamed",
	"okänd", "okänt", "anonym", "anonymt", "unbekannter", "unbekannte", "unbekannt", "inconnu", "inconnue", "anonyme", "onbekend", "onbekende", "anoniem", "anónimo", "anonimo", "anónima", "desconocido", "desconocida", "ignoto", "sconosciuto", "ukendt", "ukjent", "anonymus", "n.n.",
}

// knownPlaces are towns that stand after the names of makers.
var knownPlaces = wordSet(`london paris berlin wien vienna rom rome roma milan milano venice venezia firenze florence naples napoli turin torino genoa madrid barcelona lisbon lisboa porto
	 amsterdam rotterdam antwerp antwerpen brussels bruxelles brussel leiden haarlem delft utrecht stockholm göteborg gothenburg uppsala malmö lund norrköping copenhagen københavn köpenhamn oslo bergen helsinki åbo turku
	 edinburgh glasgow dublin belfast cardiff birmingham manchester liverpool sheffield leeds bristol bath oxford cambridge york norwich nottingham newcastle coventry derby worcester plymouth southampton hull
	 dresden leipzig hamburg bremen köln cologne münchen munich nürnberg nuremberg augsburg frankfurt stuttgart hannover meissen meißen basel zürich zurich bern geneva genève prag prague praha budapest warsaw warszawa krakow
	 moscow moskva petersburg riga tallinn reval danzig gdańsk königsberg boston philadelphia chicago baltimore washington "new" sydney melbourne tokyo kyoto beijing delhi calcutta bombay cairo istanbul constantinople strasbourg lyon marseille rouen limoges sèvres jena wetzlar kassel mainz solingen dordrecht deventer siena ferrara bologna urbino fontainebleau barbizon nancy dijon england scotland france germany sweden italy usa u.s.a. uk`)

var addressWords = wordSet(`street road rd. lane avenue ave. square terrace row strasse straße str. gasse platz gata gatan vägen rue boulevard quai via viale piazza calle plaza straat gracht`)

// isInitial says whether a word is initials: J., J.M.W., W, Fr.
func isInitial(w string) bool {
	letters := 0
	for i := 0; i < len(w); {
		r, size := utf8.DecodeRuneInString(w[i:])
		i += size
		switch {
		case unicode.IsUpper(r):
			letters++
			if i < len(w) && w[i] != '.' && w[i] != ':' && w[i] != '-' {
				return false
			}
		case r == '.' || r == '-' || r == ':':
		default:
			return false
		}
	}
	return letters > 0
}

func startsUpper(w string) bool {
	w = strings.TrimLeft(w, "\"'`“‘(«")
	r, _ := utf8.DecodeRuneInString(w)
	return unicode.IsUpper(r)
}

// has says whether a word is in a set, in whatever case and quotes.
func has(set map[string]bool, w string) bool {
	w = strings.Trim(w, ",;\"“”‘’`")
	if len(w) > 40 {
		return false
	}
	var buf [96]byte
	return set[string(foldInto(buf[:0], w))]
}

func lowerWord(w string) string { return strings.ToLower(strings.Trim(w, ",;\"“”‘’`")) }

// isGiven says whether a word is a given name that is known, or initials.
func isGiven(w string) bool {
	if isInitial(w) {
		return true
	}
	if !startsUpper(w) {
		return false
	}
	if has(givenNames, w) {
		return true
	}
	// Jean-Baptiste, Anna-Lena
	a, b, ok := strings.Cut(w, "-")
	return ok && (has(givenNames, a) || has(givenNames, b))
}

// nameShape describes the words of a name.
type nameShape struct {
	words      []string // without titles, suffixes and parentheses
	titled     bool
	firstGiven bool
	allGiven   bool
	openEnd    bool // ends with "de" or "von": the family name stands elsewhere
	group      bool
	family     bool
}

func shapeOf(name string) nameShape {
	var s nameShape
	name = withoutParentheses(name)
	s.allGiven = true
	fields := strings.Fields(name)
	for i, w := range fields {
		switch {
		case has(nameTitles, w) && len(s.words) == 0 && i < len(fields)-1:
			s.titled = true
			continue
		case has(groupWords, w):
			s.group = true
		case has(familyWords, w):
			s.family = true
		case has(nameSuffixes, w) && len(s.words) > 0 && !isInitialLike(w):
			continue
		}
		if len(s.words) == 0 {
			s.firstGiven = isGiven(w)
		}
		if !isGiven(w) && !(has(nameParticles, w) && len(s.words) > 0) {
			s.allGiven = false
		}
		s.words = append(s.words, w)
		s.openEnd = nameParticles[w]
	}
	return s
}

// isInitialLike: a lone I or V may be an initial or a numeral; as the last word it is a numeral.
func isInitialLike(w string) bool { return len(w) == 2 && w[1] == '.' }

// withoutParentheses takes out what stands in parentheses and quotes.
func withoutParentheses(s string) string {
	if !strings.ContainsAny(s, "([") {
		return s
	}
	var b strings.Builder
	depth := 0
	for _, r := range s {
		switch r {
		case '(', '[':
			depth++
		case ')', ']':
			if depth > 0 {
				depth--
				b.WriteByte(' ')
				continue
			}
		}
		if depth == 0 {
			b.WriteRune(r)
		}
	}
	return b.String()
}
