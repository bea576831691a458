package reading

import "strings"

// makerPhrase is a phrase that says how a name stands to the work. Words of ten
// languages share one table: none of the phrases means something else in another.
type makerPhrase struct {
	qualifier Qualifier
	certainty Certainty
	role      string
	suffix    bool // may stand after the name
	prefix    bool // may stand before the name
}

var makerPhrases = buildMakerPhrases()

// longestMakerPhrase is the most words a phrase has.
const longestMakerPhrase = 6

func buildMakerPhrases() map[string]makerPhrase {
	m := map[string]makerPhrase{}
	qualify := func(q Qualifier, c Certainty, phrases string) {
		for _, s := range strings.Split(phrases, "|") {
			m[strings.TrimSpace(s)] = makerPhrase{qualifier: q, certainty: c, suffix: true, prefix: true}
		}
	}
	// Genitive phrases: the last word (of, von, de …) is left out after the name:
	// "Rembrandt (workshop)".
	group := func(q Qualifier, nouns, prepositions string) {
		for _, n := range strings.Split(nouns, "|") {
			n = strings.TrimSpace(n)
			m[n] = makerPhrase{qualifier: q, suffix: true}
			for _, p := range strings.Fields(prepositions) {
				m[n+" "+p] = makerPhrase{qualifier: q, suffix: true, prefix: true}
			}
		}
	}
	const (
		english = "of"
		german  = "von des der"
		romance = "de du des d' di del della dei da de'"
		dutch   = "van"
		nordic  = "av af till til hos kring"
	)
	group(QualifierStudio, "studio|the studio|from the studio|studios", english)
	group(QualifierStudio, "atelier|ateljé|ateljén|atelieret|estudio|studio", romance+" "+german+" "+dutch+" "+nordic)
	group(QualifierWorkshop, "workshop|the workshop|from the workshop|shop|work-shop", english)
	group(QualifierWorkshop, "werkstatt|werkstätte|aus der werkstatt", german)
	group(QualifierWorkshop, "verkstad|verkstaden|værksted|verksted|werkplaats|bottega|taller|obrador", romance+" "+dutch+" "+nordic)
	group(QualifierCircle, "circle|the circle|from the circle|near", english)
	group(QualifierCircle, "umkreis|kreis|aus dem umkreis|aus dem kreis|krets|kretsen|kreds|kring|omgeving|entourage|cercle|cerchia|ambito|círculo|circulo|kretsen kring|krets kring", german+" "+romance+" "+dutch+" "+nordic)
	group(QualifierFollower, "follower|a follower|followers", english)
	group(QualifierFollower, "nachfolger|nachfolge|nachfolgerin|efterföljare|efterfølger|etterfølger|navolger|suiveur|seguace|seguidor", german+" "+romance+" "+dutch+" "+nordic)
	group(QualifierManner, "manner|the manner|in the manner|in manner", english)
	group(QualifierManner, "art|in der art|manier|in der manier|manér|maner|i manér|manière|à la manière|dans le goût|genre|maniera|alla maniera|manera|a la manera|in de trant", german+" "+romance+" "+dutch+" "+nordic)
	group(QualifierStyle, "style|the style|in the style|in style", english)
	group(QualifierStyle, "stil|im stil|i stil|stijl|in de stijl|style|dans le style|stile|nello stile|estilo|al estilo", german+" "+romance+" "+dutch+" "+nordic)
	group(QualifierSchool, "school|the school|from the school", english)
	group(QualifierSchool, "schule|skola|skolan|skole|école|ecole|scuola|escuela|school", german+" "+romance+" "+dutch+" "+nordic)
	group(QualifierPupil, "pupil|a pupil|student|a student|pupils", english)
	group(QualifierPupil, "schüler|schülerin|elev|elev till|elev af|leerling|élève|allievo|discípulo|discipulo", german+" "+romance+" "+dutch+" "+nordic)
	group(QualifierAssistant, "assistant|an assistant|assistants", "of to")
	group(QualifierImitator, "imitator|an imitator", english)
	group(QualifierImitator, "nachahmer|efterhärmare|imitateur|imitatore|imitador|navolger en imitator|efterligner", german+" "+romance+" "+dutch+" "+nordic)
	for _, bare := range []string{"art", "style", "near", "near of", "shop", "genre", "kreis", "kring", "stil", "stile", "manner", "the manner", "the style", "the school", "the circle", "the studio", "the workshop", "studio", "atelier", "maner", "school"} {
		if p, ok := m[bare]; ok {
			p.prefix = false
			m[bare] = p
		}
	}
	delete(m, "near of")
	m["near"] = makerPhrase{qualifier: QualifierCircle, prefix: true}

	qualify(QualifierAttributed, CertaintyAttributed, "attributed to|attributed|attrib. to|attrib to|attrib.|attr. to|attr.|attr|ascribed to|ascribed|attribution to|assigned to|given to|"+
		"zugeschrieben|zugeschr.|zugeschrieben an|tillskriven|tillskrivet|tillskriven till|tillskrivits|tilskrevet|tilskrevet til|tillskr.|toegeschreven aan|toegeschreven|toegeschr.|attribué à|attribué|attribuée à|attribuée|attribué au|attr. à|"+
		"atribuido a|atribuido|atribuida a|attribuito a|attribuito|attribuita a|attribuido a")
	qualify(QualifierFormerlyAttributed, CertaintySuperseded, "formerly attributed to|previously attributed to|once attributed to|formerly ascribed to|formerly attributed|formerly|previously|früher zugeschrieben|ehemals zugeschrieben|ehem. zugeschrieben|"+
		"tidigare tillskriven|tidigare tillskrivet|förr tillskriven|tidligere tilskrevet|voorheen toegeschreven aan|vroeger toegeschreven aan|anciennement attribué à|autrefois attribué à|jadis attribué à|già attribuito a|antes atribuido a|anteriormente atribuido a")
	qualify(QualifierDoubtful, CertaintyDoubtful, "doubtfully attributed to|doubtfully|tveksamt tillskriven|fraglich|zweifelhaft")
	qualify(QualifierAttributed, CertaintyTradition, "traditionally attributed to|traditionally ascribed to|enligt tradition tillskriven")
	qualify(QualifierAttributed, CertaintyPossibly, "possibly attributed to")
	qualify(QualifierAttributed, CertaintyProbably, "probably attributed to")
	qualify(QualifierAfter, "", "after|after the original by|after original by|after a painting by|after a work by|after a drawing by|after a print by|after a photograph by|after an original by|from an original by|based on|based on a work by|"+
		"nach|nach einem gemälde von|nach einem original von|nach einer vorlage von|nach vorlage von|efter|efter original av|efter målning av|efter en målning av|efter förlaga av|etter|d'après|d’après|d'apres|naar|naar schilderij van|según|da un'opera di|da un originale di|dopo")
	for _, s := range []string{"after a design by", "after design by", "after designs by", "after the design by", "after the designs of", "after a design of", "nach einem entwurf von", "nach entwurf von", "efter ritning av", "efter teckning av", "efter en teckning av",
		"efter tegning af", "etter tegning av", "naar ontwerp van", "naar een ontwerp van", "naar tekening van", "d'après un dessin de", "d'après le dessin de", "su disegno di"} {
		m[s] = makerPhrase{qualifier: QualifierAfter, role: RoleAfterDesign, prefix: true}
	}
	qualify(QualifierCopyAfter, "", "copy after|copy of|a copy after|a copy of|copied after|copied from|copies after|kopie nach|kopia efter|kopi efter|kopi etter|kopie naar|copie d'après|copie d’après|copie de|copie après|copia de|copia da|copia del|copia di")
	qualify(QualifierPrintsAfter, "", "prints after|print after|engraving after|engraved after|etching after|lithograph after|stich nach|gravyr efter|gravure d'après|prent naar")
	qualify(QualifierAssociated, "", "associated with|related to|connected with|in association with|förknippad med")
	qualify(QualifierPseudo, "", "pseudo|pseudo-")
	qualify(QualifierWith, "", "with|together with|in collaboration with|collaboration with|assisted by|with the assistance of|with assistance from|mit|med|avec|met|con|tillsammans med|zusammen mit|en collaboration avec|i samarbete med|in samenwerking met")
	for s, q := range map[string]Qualifier{
		"and studio": QualifierAndStudio, "& studio": QualifierAndStudio, "and his studio": QualifierAndStudio, "and her studio": QualifierAndStudio, "et atelier": QualifierAndStudio, "och ateljé": QualifierAndStudio, "en atelier": QualifierAndStudio,
		"and workshop": QualifierAndWorkshop, "& workshop": QualifierAndWorkshop, "and his workshop": QualifierAndWorkshop, "und werkstatt": QualifierAndWorkshop, "u. werkstatt": QualifierAndWorkshop, "och verkstad": QualifierAndWorkshop, "e bottega": QualifierAndWorkshop, "y taller": QualifierAndWorkshop, "en werkplaats": QualifierAndWorkshop,
		"and assistants": QualifierAndAssistants, "and assistant": QualifierAndAssistants, "and an assistant": QualifierAndAssistants, "and his assistants": QualifierAndAssistants, "and her assistants": QualifierAndAssistants,
		"and a pupil": QualifierAndPupil, "and pupil": QualifierAndPupil, "and pupils": QualifierAndPupil, "och elev": QualifierAndPupil,
		"and other artists": QualifierAndOthers, "and others": QualifierAndOthers, "and other": QualifierAndOthers, "et al.": QualifierAndOthers, "et al": QualifierAndOthers, "och andra": QualifierAndOthers, "m.fl.": QualifierAndOthers, "m. fl.": QualifierAndOthers,
		"u.a.": QualifierAndOthers, "und andere": QualifierAndOthers, "et autres": QualifierAndOthers, "en anderen": QualifierAndOthers, "e.a.": QualifierAndOthers, "e altri": QualifierAndOthers, "y otros": QualifierAndOthers,
	} {
		m[s] = makerPhrase{qualifier: q, suffix: true}
	}
	doubt := func(c Certainty, phrases string) { qualify(QualifierNone, c, phrases) }
	doubt(CertaintyPossibly, "possibly|possibly by|perhaps|perhaps by|maybe|may be|could be|möjligen|möjligen av|kanske|eventuellt|möglicherweise|vielleicht|eventuell|mogelijk|wellicht|peut-être|peut-être par|forse|quizá|quizás|posiblemente|muligens|muligvis|måske|kanskje")
	doubt(CertaintyProbably, "probably|probably by|presumably|likely|most likely|prob.|prob. by|troligen|troligen av|sannolikt|sannolik|förmodligen|förmodad|förmodat|antagligen|wahrscheinlich|vermutlich|wohl|waarschijnlijk|vermoedelijk|probablement|vraisemblablement|probabilmente|probablemente|sandsynligvis|sannsynligvis|antagelig|formodentlig")
	doubt(CertaintyUncertain, "uncertain|questionable|osäker|osäkert|unsicher|incertain|onzeker|incerto|incierto|usikker|?|(?)|[?]")
	doubt(CertaintyTradition, "by tradition|traditionally|traditionally by|according to tradition|enligt tradition|enligt traditionen|der tradition nach|selon la tradition|volgens overlevering")
	doubt(CertaintyDoubtful, "doubtful|not by")
	delete(m, "not by") // a denial is no attribution
	doubt(CertaintyCertain, "certain|certainly|säker|säkert|sicher|certainement|zeker|certo|cierto|sikker")
	m["either"] = makerPhrase{prefix: true}
	m["entweder"] = makerPhrase{prefix: true}
	m["by"] = makerPhrase{prefix: true}
	m["av"] = makerPhrase{prefix: true}
	m["par"] = makerPhrase{prefix: true}
	m["door"] = makerPhrase{prefix: true}
	return m
}

// makerRoles are the words for roles, with the usual English term.
var makerRoles = buildMakerRoles()

func buildMakerRoles() map[string]string {
	m := map[string]string{}
	add := func(term, words string) {
		for _, w := range strings.Split(words, "|") {
			m[strings.TrimSpace(w)] = term
		}
	}
	add("maker", "maker|makers|manufacturer|made by|manufactured by|produced by|producer|executed by|constructed by|built by|builder|fabricated by|tillverkare|tillverkad av|tillverkat av|hersteller|hergestellt von|herstellung|ausführung|ausgeführt von|fabricant|fabriqué par|facteur|fabrikant|vervaardiger|vervaardigd door|maakt|produttore|fabbricante|costruttore|fabricante|producent|fremstillet af|utførelse|utförande|utfört av|utförd av|fecit|fec.|me fecit|tilvirker|gjord av")
	add("artist", "artist|artists|konstnär|künstler|künstlerin|artiste|kunstenaar|artista|kunstner")
	add("creator", "creator|upphovsman|upphovsperson|urheber|créateur|creatore|creador|ophavsmand|created by|skapad av")
	add("designer", "designer|designed by|design by|design|formgivare|formgiven av|entwurf|entwurf von|entworfen von|gestalter|ontwerper|ontworpen door|ontwerp|concepteur|dessiné par|progettista|disegno di|diseñador|diseñado por|designet av|tegnet af|inventor|invenit|inv.|modell av|ritning av|ritad av")
	add("architect", "architect|arkitekt|architekt|architecte|architetto|arquitecto")
	add("inventor", "invented by|uppfinnare|erfinder|inventeur|uitvinder|inventore")
	add("painter", "painter|painted by|målare|målad av|maler|malerin|gemalt von|peintre|peint par|schilder|geschilderd door|pittore|dipinto da|pintor|pinxit|pinx.|pinx|malet af|malt av")
	add("draughtsman", "draughtsman|draftsman|drawn by|drawing by|tecknare|tecknad av|zeichner|gezeichnet von|dessinateur|tekenaar|getekend door|disegnatore|dibujante|delineavit|delin.|del.|delt.|tegner|teckning av")
	add("engraver", "engraver|engraved by|gravör|graverad av|graverat av|stecher|kupferstecher|gestochen von|graveur|gravé par|gegraveerd door|incisore|inciso da|grabador|sculpsit|sculp.|sculp|sc.|gravør|kopparstickare")
	add("etcher", "etcher|etched by|etsare|radierer|radiert von|aquafortiste|etser|acquafortista")
	add("lithographer", "lithographer|lithographed by|lith.|lithograph by|litograf|lithograph|lithographe|lithograaf|litografo")
	add("printmaker", "printmaker|prints by|grafiker|druckgraphiker|prentmaker")
	add("printer", "printer|printed by|tryckare|tryckt av|drucker|gedruckt von|imprimeur|imprimé par|drukker|gedrukt door|stampatore|stampato da|impresor|impreso por|imp.|impr.|bogtrykker|boktrykker")
	add("publisher", "publisher|published by|issued by|förläggare|förlag|utgivare|utgiven av|verleger|herausgegeben von|verlag|éditeur|publié par|uitgever|uitgegeven door|editore|pubblicato da|excudit|excud.|exc.|forlægger|forlegger|udgiver")
	add("editor", "editor|edited by|redaktör|redakteur")
	add("author", "author|written by|författare|skriven av|autor|verfasser|auteur|écrit par|schrijver|autore|scritto da|forfatter|scripsit|text by")
	add("co-author", "co-author|medförfattare|mitverfasser|coauteur|medforfatter")
	add("translator", "translator|translated by|översättare|übersetzer|übersetzt von|traducteur|traduit par|vertaler|traduttore|traductor|oversætter")
	add("composer", "composer|composed by|kompositör|komponist|compositeur|componist|compositore")
	add("photographer", "photographer|photographed by|photograph by|photo by|photo|fotograf|fotografi av|foto|fotografin|fotografiert von|photographe|photographié par|fotografo|fotógrafo|fotograaf|gefotografeerd door")
	add("sculptor", "sculptor|sculpted by|modelled by|modeled by|skulptör|bildhuggare|bildhauer|modelliert von|sculpteur|sculpté par|beeldhouwer|scultore|escultor|billedhugger|modellerad av|skulptur av")
	add("carver", "carver|carved by|träsnidare|schnitzer|snidare")
	add("woodcutter", "woodcutter|cut by|xylograf|holzschneider|formschneider")
	add("medallist", "medallist|medalist|medaljör|medailleur|medaglista")
	add("founder", "founder|cast by|gjutare|gjuten av|giesser|gießer|gegossen von|fondeur|fondu par|gieter|fonditore|støber|støper")
	add("turner", "svarvare|drechsler|tourneur|draaier|turned by")
	add("goldsmith", "goldsmith|guldsmed|goldschmied|orfèvre|goudsmid|orefice|orafo|orfebre|gullsmed")
	add("silversmith", "silversmith|silversmed|silberschmied|zilversmid|argentiere|platero|sølvsmed")
	add("gunsmith", "gunsmith|gunmaker|bössmed|bössmakare|pipsmed|låssmed|büchsenmacher|armurier|arquebusier|geweermaker|archibugiaro|armaiolo|børsemaker|bøssemager")
	add("clockmaker", "clockmaker|watchmaker|urmakare|uhrmacher|horloger|klokkenmaker|horlogemaker|orologiaio|relojero|urmager|urmaker")
	add("instrument maker", "instrument maker|instrument-maker|mathematical instrument maker|scientific instrument maker|optician|instrumentmakare|instrumentenmacher|mechaniker|fabricant d'instruments|instrumentmaker|instrumentmager")
	add("cabinetmaker", "cabinetmaker|cabinet maker|cabinet-maker|ebenist|snickare|tischler|schreiner|ébéniste|menuisier|schrijnwerker|meubelmaker|ebanista|snedker|snekker|joiner")
	add("potter", "potter|krukmakare|töpfer|potier|pottenbakker|vasaio|alfarero|pottemager|keramiker|ceramicist|céramiste")
	add("weaver", "weaver|woven by|vävare|vävd av|weber|gewebt von|tisserand|wever|tessitore|tejedor|væver|vever")
	add("embroiderer", "embroiderer|embroidered by|brodös|sticker|brodeur|borduurder|ricamatore|bordador|broderad av")
	add("tailor", "tailor|dressmaker|skräddare|sömmerska|schneider|tailleur|couturier|kleermaker|sarto|sastre|costume designer")
	add("stylist", "stylist")
	add("bookbinder", "bookbinder|binder|bound by|bokbindare|buchbinder|relieur|boekbinder|legatore|encuadernador|bogbinder")
	add("cartographer", "cartographer|mapmaker|kartograf|kartograph|cartographe|cartograaf|cartografo|cartógrafo|surveyed by|surveyor")
	add("decorator", "decorator|decorated by|dekoratör|dekoriert von|décorateur|decorateur|decoratore|decorador")
	add("gilder", "gilder|gilded by|förgyllare|vergolder|doreur|vergulder|doratore")
	add("enameller", "enameller|enameler|emaljör|emaillierer|émailleur")
	add("glassmaker", "glassmaker|glassblower|glasblåsare|glasbläser|verrier|glasblazer|vetraio")
	add("assembler", "assembled by|assembler")
	add("restorer", "restorer|restored by|conservator|conserved by|konservator|restaurator|restaurateur|restauratore|restaurador")
	add("retailer", "retailer|retailed by|sold by|återförsäljare|händler|verkauft von|détaillant|vendu par|wederverkoper|rivenditore|forhandler")
	add("seller", "seller|säljare|verkäufer|vendeur|verkoper|venditore|vendedor|sælger|selger")
	add("dealer", "dealer|art dealer|konsthandlare|kunsthändler|marchand|kunsthandelaar|mercante|marchante")
	add("auctioneer", "auctioneer|auction house|auktion|auktionshus|auktionshaus|commissaire-priseur|veilinghuis|casa d'aste")
	add("supplier", "supplier|supplied by|leverantör|levererad av|lieferant|fournisseur|leverancier|fornitore|leverandør")
	add("importer", "importer|imported by|importör|importeur|importateur")
	add("patentee", "patentee|patented by|patent holder|patentinhaber")
	add("commissioner", "commissioner|commissioned by|patron|beställare|beställd av|auftraggeber|commanditaire|opdrachtgever|committente|comitente|bestiller|ordered by")
	add("owner", "owner|owned by|ägare|besitzer|eigentümer|propriétaire|eigenaar|proprietario|propietario|ejer|eier")
	add("donor", "donor|given by|gift of|giver|givare|schenker|stifter|donateur|schenkster|donatore|donante|giver")
	add("buyer", "buyer|köpare|käufer|acheteur|koper|acquirente|comprador|køber|kjøper")
	add("user", "user|used by|brukare|benutzer|utilisateur|gebruiker|bruger|bruker")
	add("intermediary", "intermediary|förmedlare|vermittler|intermédiaire|bemiddelaar|formidler")
	add("depicted", "depicted|sitter|portrait of|avbildning|avbildning av|avbildad|dargestellter|représenté|afgebeelde|portrætteret")
	add("signatory", "inscribed by|påskrift|påskrift av|inscription by")
	add("dedicatee", "dedicatee|dedicated to|tillägnad|gewidmet|dédié à|opgedragen aan")
	add("subject of text", "omskriven|mentioned")
	add("participant", "participant|deltagare|teilnehmer|deelnemer|deltager")
	add("praeses", "preses|praeses")
	add("respondent", "respondent|respondens")
	add("performer", "performer|performed by|utövare")
	add("director", "director|directed by|regissör|regisseur|réalisateur|regista")
	add("collector", "collector|collected by|samlare|insamlare|insamlad av|sammler|collecteur|collectionneur|verzamelaar|collezionista|samler|leg.|legit")
	add("excavator", "excavator|excavated by|found by|utgrävare|upphittare|finder|ausgräber")
	add("programmer", "programmer|programmed by")
	add(RoleAfterDesign, "after a design by")
	return m
}

// roleNotes are what a museum adds to a role to say what the person's part was.
var roleNotes = map[string]string{
	"av original": RoleAfterOriginal, "av originalet": RoleAfterOriginal, "av förlaga": RoleAfterOriginal, "av förlagan": RoleAfterOriginal,
	"av ritning": RoleAfterDesign, "av ritningen": RoleAfterDesign, "av teckning": RoleAfterDesign, "av modell": RoleAfterDesign,
	"av kopia": "maker of the copy", "des originals": RoleAfterOriginal, "der vorlage": RoleAfterOriginal, "des entwurfs": RoleAfterDesign,
	"of original": RoleAfterOriginal, "of the original": RoleAfterOriginal, "of design": RoleAfterDesign, "of the design": RoleAfterDesign,
}
