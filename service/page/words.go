package page

import "strings"

// Words for readers who do not know the profile's keys. A key or class that is
// missing here is shown by its own name with spaces.

var classWords = map[string]string{
	"Acquisition":            "Change of ownership",
	"Addition":               "Addition to a set",
	"AttributeAssignment":    "Claim",
	"BiologicalObject":       "Specimen",
	"Birth":                  "Birth",
	"ConditionAssessment":    "Condition check",
	"Creation":               "Creation",
	"Currency":               "Currency",
	"Death":                  "Death",
	"Destruction":            "Loss",
	"DigitalObject":          "Digital file",
	"DigitalService":         "Digital service",
	"Dissolution":            "End of the group",
	"Encounter":              "Find",
	"Formation":              "Founding",
	"Group":                  "Organisation or group",
	"HumanMadeFeature":       "Feature",
	"HumanMadeObject":        "Object",
	"Identifier":             "Number",
	"IdentifierAssignment":   "Numbering",
	"InformationObject":      "Content",
	"LinguisticObject":       "Text",
	"Mark":                   "Mark",
	"MeasurementUnit":        "Unit of measure",
	"Modification":           "Alteration",
	"MonetaryAmount":         "Amount",
	"Move":                   "Move",
	"Name":                   "Name",
	"PartAddition":           "Part added",
	"PartRemoval":            "Part removed",
	"PhysicalObject":         "Object",
	"Production":             "Making",
	"PropositionalObject":    "Idea",
	"Removal":                "Removal from a set",
	"RightAcquisition":       "Change of rights",
	"Right":                  "Right",
	"TimeSpan":               "Time",
	"TransferOfCustody":      "Change of keeper",
	"Transformation":         "Transformation",
	"Type":                   "Term",
	"TypeAssignment":         "Classification",
	"VisualItem":             "Picture",
	"Transfer":               "Transfer",
	"SymbolicObject":         "Symbol",
	"DesignOrProcedure":      "Design",
	"LegalObject":            "Subject of rights",
	"BeginningOfExistence":   "Beginning",
	"EndOfExistence":         "End",
	"PhysicalHumanMadeThing": "Object",
}

var endpointWords = map[string]string{
	"concept":    "Terms",
	"digital":    "Digital files",
	"event":      "Events",
	"group":      "Organisations and groups",
	"object":     "Objects",
	"person":     "People",
	"place":      "Places",
	"provenance": "Provenance",
	"set":        "Sets",
	"text":       "Texts",
	"visual":     "Pictures",
	"abstract":   "Works",
}

// problemWords are headings for the statuses that readers meet.
var problemWords = map[int]string{
	404: "There is nothing at this address",
	406: "Not to be had in that format",
	410: "This record was withdrawn",
	503: "Please try again in a moment",
}

// endpointOrder is that of the home page.
var endpointOrder = []string{"object", "person", "group", "place", "event", "provenance", "set", "text", "visual", "abstract", "digital", "concept"}

var keyWords = map[string]string{
	"_label":                      "Label",
	"about":                       "About",
	"access_point":                "File",
	"acquired_custody_through":    "Came into keeping through",
	"acquired_title_through":      "Acquired through",
	"added_member":                "Added",
	"added_member_by":             "Added by",
	"added_to":                    "Added to",
	"added_to_by":                 "Additions",
	"after":                       "After",
	"alternative":                 "Other form",
	"applies_to":                  "Applies to",
	"approximated_by":             "Roughly the same place as",
	"approximates":                "Roughly",
	"assigned":                    "What is claimed",
	"assigned_by":                 "Given in",
	"assigned_property":           "About its",
	"assigned_to":                 "Claim about",
	"attributed_by":               "Claims",
	"bears":                       "Bears",
	"before":                      "Before",
	"begin_of_the_begin":          "Not before",
	"begin_of_the_end":            "Ended not before",
	"born":                        "Born",
	"broader":                     "Wider term",
	"carried_by":                  "Carried by",
	"carried_out":                 "Did",
	"carried_out_by":              "By",
	"carries":                     "Text it carries",
	"caused":                      "Led to",
	"caused_by":                   "Caused by",
	"classified_as":               "Kind",
	"condition":                   "Condition",
	"conforms_to":                 "Conforms to",
	"conceptual_part":             "Contents",
	"conceptually_part_of":        "Part of the work",
	"contact_point":               "Contact",
	"content":                     "Text",
	"continued":                   "Continues",
	"continued_by":                "Continued by",
	"created":                     "Created",
	"created_by":                  "Creation",
	"currency":                    "Currency",
	"current_custodian":           "Keeper",
	"current_location":            "Where it is now",
	"current_owner":               "Owner",
	"current_permanent_custodian": "Regular keeper",
	"current_permanent_location":  "Regular place",
	"currently_holds":             "Holds now",
	"defined_by":                  "Coordinates",
	"depicted_by":                 "Depicted by",
	"depicts":                     "Depicts",
	"destroyed":                   "Destroyed",
	"destroyed_by":                "Loss",
	"died":                        "Died",
	"digitally_available_via":     "Available through",
	"digitally_carried_by":        "Digital text",
	"digitally_carries":           "Text in the file",
	"digitally_makes_available":   "Makes available",
	"digitally_shown_by":          "Digital image",
	"digitally_shows":             "Picture in the file",
	"dimension":                   "Dimensions",
	"diminished":                  "Taken from",
	"diminished_by":               "Parts removed",
	"dissolved_by":                "Ended",
	"documented_in":               "Documented in",
	"duration":                    "Duration",
	"during":                      "During",
	"encountered":                 "Found",
	"encountered_by":              "Find",
	"end_of_the_begin":            "Begun by",
	"end_of_the_end":              "Not after",
	"equivalent":                  "The same elsewhere",
	"established_by":              "Right established by",
	"establishes":                 "Establishes",
	"format":                      "Format",
	"formed_by":                   "Founding",
	"former_or_current_keeper":    "Keepers, then or now",
	"former_or_current_owner":     "Owners, then or now",
	"found_on":                    "Found on",
	"general_use":                 "Use",
	"held_or_supported_by":        "Held by",
	"holds_or_supports":           "Holds",
	"identified_by":               "Names and numbers",
	"influenced":                  "Influenced",
	"influenced_by":               "Influenced by",
	"intended_for":                "Meant for",
	"invalidated_by":              "Right ended by",
	"invalidates":                 "Ends the right",
	"involved":                    "Involved",
	"language":                    "Language",
	"lower_value_limit":           "At least",
	"made_for":                    "Made for",
	"made_of":                     "Materials",
	"measured_by":                 "Measured in",
	"member":                      "Members",
	"member_of":                   "Belongs to",
	"members_contained_by":        "Members are in",
	"members_exemplified_by":      "Its members are",
	"modified":                    "Altered",
	"modified_by":                 "Alterations",
	"motivated_by":                "Reason",
	"moved":                       "What was moved",
	"moved_by":                    "Moves",
	"moved_from":                  "From",
	"moved_to":                    "To",
	"narrower":                    "Narrower term",
	"notation":                    "Code",
	"note":                        "Note",
	"number_of_parts":             "Number of parts",
	"paid_amount":                 "Paid",
	"paid_from":                   "Paid by",
	"paid_to":                     "Paid to",
	"part":                        "Parts",
	"part_of":                     "Part of",
	"participant":                 "Took part",
	"participated_in":             "Took part in",
	"possessed_by":                "Right held by",
	"possesses":                   "Holds the right",
	"present_at":                  "Present at",
	"produced":                    "Made",
	"produced_by":                 "Making",
	"property_classified_as":      "Nature of the relation",
	"referred_to_by":              "Statements",
	"refers_to":                   "Mentions",
	"removed":                     "Removed",
	"removed_by":                  "Removal from a whole",
	"removed_from":                "Removed from",
	"removed_member":              "Removed",
	"removed_member_by":           "Removed by",
	"representation":              "Images",
	"represents":                  "Shows",
	"represents_instance_of_type": "Shows a",
	"residence":                   "Lived or worked in",
	"sales_price":                 "Price",
	"shown_by":                    "Shown by",
	"shows":                       "Picture it shows",
	"specific_purpose":            "Done for",
	"subject_of":                  "Discussed in",
	"subject_to":                  "Rights",
	"surrendered_title_through":   "Given up through",
	"technique":                   "Technique",
	"timespan":                    "When",
	"took_place_at":               "Where",
	"transferred":                 "What was transferred",
	"transferred_custody_from":    "From the keeping of",
	"transferred_custody_of":      "What changed keeper",
	"transferred_custody_to":      "Into the keeping of",
	"transferred_from":            "From",
	"transferred_title_from":      "From",
	"transferred_title_of":        "What changed owner",
	"transferred_title_to":        "To",
	"transferred_to":              "To",
	"translation":                 "Translation",
	"translation_of":              "Translation of",
	"unit":                        "Unit",
	"upper_value_limit":           "At most",
	"used_for":                    "Used in",
	"used_object_of_type":         "Used a",
	"used_specific_object":        "Used",
	"value":                       "Value",
	"changed_ownership_through":   "Provenance",
	"custody_transferred_through": "Changes of keeper",
}

// A key can mean something else on some classes.
var keyWordsOn = map[string]map[string]string{
	"part": {
		"Production": "Steps of the making", "Creation": "Steps of the creation", "Activity": "Parts of it", "Event": "Parts of it",
		"Destruction": "Parts of it", "Place": "Places in it",
	},
	"created_by":           {"Set": "Put together", "Type": "Introduced"},
	"member_of":            {"Person": "Member of", "Group": "Part of the group"},
	"carries":              {"DigitalObject": "Content"},
	"assigned_by":          {"Dimension": "Measured in"},
	"used_specific_object": {"AttributeAssignment": "From"},
	"influenced_by":        {"AttributeAssignment": "From"},
	"technique":            {"Activity": "Method"},
}

func classWord(class string) string {
	if w, ok := classWords[class]; ok {
		return w
	}
	var b strings.Builder
	for i, r := range class {
		if i > 0 && 'A' <= r && r <= 'Z' {
			b.WriteByte(' ')
			r += 'a' - 'A'
		}
		b.WriteRune(r)
	}
	return b.String()
}

func keyWord(key, class string) string {
	switch key {
	case evidenceKey:
		return "Evidence"
	case provenKey:
		return "What it documents"
	}
	if w := keyWordsOn[key][class]; w != "" {
		return w
	}
	if w, ok := keyWords[key]; ok {
		return w
	}
	if _, local, ok := strings.Cut(key, ":"); ok { // a property with its prefix and number, as a value
		if _, words, ok := strings.Cut(local, "_"); ok {
			key = words
		}
	}
	return capital(strings.ReplaceAll(strings.Trim(key, "_"), "_", " "))
}

func endpointWord(endpoint string) string {
	if w, ok := endpointWords[endpoint]; ok {
		return w
	}
	return capital(endpoint)
}

func capital(s string) string {
	if s == "" || s[0] < 'a' || s[0] > 'z' {
		return s
	}
	return string(s[0]-'a'+'A') + s[1:]
}

// section is a part of a record's page: a heading and the keys of the root that
// belong under it.
type section struct {
	id, heading string
	keys        []string
}

// sections are in the order of the page. Keys that stand nowhere come last, under
// a heading of their own.
var sections = []section{
	{"names", "Names, numbers and kind", []string{"identified_by", "classified_as", "notation"}},
	{"life", "Life", []string{"born", "formed_by", "died", "dissolved_by", "residence", "contact_point"}},
	{"happened", "What happened", []string{"timespan", "duration", "took_place_at", "carried_out_by", "participant", "technique",
		"used_specific_object", "used_object_of_type", "transferred_title_of", "transferred_title_from", "transferred_title_to",
		"transferred_custody_of", "transferred_custody_from", "transferred_custody_to", "moved", "moved_from", "moved_to",
		"paid_amount", "paid_from", "paid_to", "caused_by", "caused", "motivated_by", "influenced_by", "during", "before", "after", "involved"}},
	{"making", "Making", []string{"produced_by", "created_by"}},
	{"matter", "Materials and dimensions", []string{"made_of", "dimension", "number_of_parts", "condition"}},
	{"statements", "Statements", []string{"referred_to_by", "note", "content", "language", "format", "conforms_to"}},
	{"content", "What it shows and carries", []string{"shows", "carries", "represents", "depicts", "represents_instance_of_type", "about",
		"digitally_shows", "digitally_carries", "refers_to", "translation", "translation_of"}},
	{"found", "Found, altered, lost", []string{"encountered_by", "modified_by", "removed_by", "diminished_by", "destroyed_by", "moved_by"}},
	{"provenance", "Provenance", []string{"changed_ownership_through", "custody_transferred_through", "acquired_title_through",
		"former_or_current_owner", "former_or_current_keeper"}},
	{"keeping", "Owner and place", []string{"current_owner", "current_custodian", "current_permanent_custodian", "current_location",
		"current_permanent_location", "held_or_supported_by"}},
	{"place", "Position", []string{"defined_by", "approximated_by", "approximates"}},
	{"wholes", "Sets and parts", []string{"member_of", "part_of", "conceptually_part_of", "part", "conceptual_part", "member",
		"members_exemplified_by", "members_contained_by", "broader", "narrower"}},
	{"used", "Use and activity", []string{"used_for", "general_use", "carried_out", "participated_in", "added_to_by", "removed_from_by", "added_member_by", "removed_member_by"}},
	{"images", "Images and files", []string{"representation", "digitally_shown_by", "digitally_carried_by", "digitally_available_via", "access_point", "shown_by", "carried_by"}},
	{"discussed", "Discussed and documented", []string{"subject_of", "documented_in"}},
	{"evidence", "Evidence", []string{evidenceKey}},
	{"claims", "Claims", []string{"attributed_by"}},
	{"rights", "Rights", []string{"subject_to", "possessed_by", "possesses", "applies_to", "established_by", "invalidated_by", "establishes", "invalidates"}},
	{"elsewhere", "The same elsewhere", []string{"equivalent"}},
}
