package validate

// deviation is a statement that domain and range forbid and documents may still
// make. An empty field stands for any class or property.
type deviation struct {
	subject  string // IRI of the class
	property string // IRI
	object   string // IRI of the class or datatype
	reason   string
}

// deviations are all exceptions from [Allowed]. A test fails if one is not needed.
var deviations = []deviation{
	{
		property: "http://www.cidoc-crm.org/cidoc-crm/P177_assigned_property_of_type",
		object:   rdfProperty,
		reason: "the range is E55 Type, and the profile names the property itself by its IRI, which then stands for the type " +
			"of relation that the property is; no statement gives the property that class",
	},
}

func (d *deviation) covers(subject, property, object string) bool {
	return (d.subject == "" || d.subject == subject) &&
		(d.property == "" || d.property == property) &&
		(d.object == "" || d.object == object)
}
