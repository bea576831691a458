package reading

// dateStageName is a stage in the making or life of a work that curators date
// beside the work itself.
type dateStageName struct {
	name  string // as in DateConventions.LaterStages
	makes bool   // makes or changes the thing: counted unless the conventions say otherwise
	words string
	apart bool // says nothing of when the thing was made
}

var dateStages = [...]dateStageName{
	{"made", true, "made, executed, produced, manufactured, fabricated, constructed, built, hergestellt, ausgeführt, exécuté, réalisé, fabriqué, vervaardigd, realizado, eseguito, realizzato, tillverkad, utförd, fremstillet, created", false},
	{"painted", true, "painted, gemalt, peint, peinte, geschilderd, pintado, dipinto, målad, malet, drawn, gezeichnet, dessiné, ritad, tecknad", false},
	{"carved", true, "carved, modelled, modeled, sculpted, woven, embroidered, engraved, etched, drafted, geschnitzt, gewebt, gestochen, gravé, gravée, tissé, sculpté, vävd, graverad, skuren, lithographed, inscribed", false},
	{"cast", true, "cast, casting, recast, gegossen, guss, fonte, fondu, gegoten, fundido, fuso, gjuten, støbt, posthumous cast, later cast, cast released, struck, minted, coined, geprägt, präglad", false},
	{"printed", true, "printed, print, printing, probably printed, gedruckt, druck, imprimé, imprimée, tirage, gedrukt, impreso, stampato, stampata, tryckt, trykt, later print, posthumous print", false},
	{"reprinted", false, "reprinted, reprint, restrike, reissued, neudruck, réimprimé, herdruk, nytryck", false},
	{"published", false, "published, first published, publ, issued, publication, veröffentlicht, herausgegeben, erschienen, publié, publiée, paru, gepubliceerd, uitgegeven, publicado, pubblicato, utgiven, utgivet, udgivet, utgitt, edition, editioned", false},
	{"exhibited", false, "exhibited, exh, exhibition, shown, performed, premiered, ausgestellt, exposé, tentoongesteld, expuesto, esposto, utställd, exhibition copy", false},
	{"reworked", true, "reworked, altered, retouched, revised, overpainted, repainted, annotated, amended, modified, überarbeitet, retravaillé, omarbetad, additions, added, with additions, enlarged, enlarged version, later additions", false},
	{"remade", true, "remade, refabricated, re fabricated, reconstructed, reconstruction, rebuilt, reassembled, re assembled, assembled, replica, version, this version, partly remade, remake, rekonstruiert, reconstitué, rekonstruerad, copy, copied, reproduced, editioned replica, later copy", false},
	{"completed", true, "completed, finished, concluded, vollendet, achevé, achevée, voltooid, terminado, finito, fullbordad", false},
	{"mounted", true, "mounted, framed, bound, gilded, montiert, monté, montée, gebunden, relié, inbunden, patches", false},
	{"designed", false, "designed, design, conceived, entworfen, entwurf, conçu, dessin de, ontworpen, diseñado, disegnato, formgiven, original, pattern introduced, introduced, composed, begun, commissioned", false},
	{"restored", false, "restored, repaired, conserved, restauriert, restauré, restaurée, gerestaureerd, restaurado, restaurato, restaurerad", true},
	{"dated", false, "later dated, inscribed and dated", false},
	{"acquired", false, "acquired, purchased, bought, given, donated, bequeathed, presented, collected, found, excavated, erworben, acquis, verworven, adquirido, förvärvad, inköpt", true},
}

// DateStageNames lists the stages that [DateConventions.LaterStages] may name.
func DateStageNames() []string {
	names := make([]string, len(dateStages))
	for i := range dateStages {
		names[i] = dateStages[i].name
	}
	return names
}

func dateStageWords() []dateWords {
	var rows []dateWords
	for i := range dateStages {
		rows = append(rows, dateWords{dateStage, int16(i), dateStages[i].words})
	}
	return rows
}

// counts reports whether the date of a later stage belongs to the date read.
func (c *DateConventions) counts(stage int64) bool {
	s := &dateStages[stage]
	if c.LaterStages == nil {
		return s.makes
	}
	for _, n := range c.LaterStages {
		if n == s.name {
			return true
		}
	}
	return false
}
