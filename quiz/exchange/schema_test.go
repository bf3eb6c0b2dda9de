package exchange

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"
)

// The part of QTI that is written, as a table of our own: what each element is called
// in QTI 3.0 and 2.2, which attributes it has, and what stands in it, in order. It
// follows the QTI 3.0 information model (AssessmentItem, AssessmentTest and what they
// hold) and the binding of both versions; the schemas themselves are not at hand here.
//
// An attribute with ! must be there. Contents are a regular expression over the names
// of 3.0, each with a space after it; "text" is for text that is not white space.
var schema = []struct {
	v3, v2, attributes, content string
}{
	{"qti-assessment-item", "assessmentItem", "identifier! title! adaptive! time-dependent/timeDependent!", `(qti-response-declaration )+(qti-outcome-declaration )*(qti-item-body )(qti-response-processing )?(qti-modal-feedback )*`},
	{"qti-response-declaration", "responseDeclaration", "identifier! cardinality! base-type/baseType!", `(qti-correct-response )?(qti-mapping )?`},
	{"qti-correct-response", "correctResponse", "", `(qti-value )+`},
	{"qti-value", "value", "", `text `},
	{"qti-outcome-declaration", "outcomeDeclaration", "identifier! cardinality! base-type/baseType!", `(qti-default-value )?`},
	{"qti-default-value", "defaultValue", "", `(qti-value )+`},
	{"qti-item-body", "itemBody", "", `(p )+(qti-choice-interaction |qti-order-interaction |qti-match-interaction )?(qti-rubric-block )?`},
	{"qti-choice-interaction", "choiceInteraction", "response-identifier/responseIdentifier! shuffle! max-choices/maxChoices!", `(qti-simple-choice ){2,}`},
	{"qti-order-interaction", "orderInteraction", "response-identifier/responseIdentifier! shuffle!", `(qti-simple-choice ){2,}`},
	{"qti-simple-choice", "simpleChoice", "identifier!", `text `},
	{"qti-match-interaction", "matchInteraction", "response-identifier/responseIdentifier! shuffle! max-associations/maxAssociations!", `(qti-simple-match-set ){2}`},
	{"qti-simple-match-set", "simpleMatchSet", "", `(qti-simple-associable-choice )+`},
	{"qti-simple-associable-choice", "simpleAssociableChoice", "identifier! match-max/matchMax!", `text `},
	{"qti-text-entry-interaction", "textEntryInteraction", "response-identifier/responseIdentifier! expected-length/expectedLength", ``},
	{"qti-rubric-block", "rubricBlock", "use view!", `(qti-content-body |(p )+)`},
	{"qti-content-body", "", "", `(p )+`},
	{"qti-modal-feedback", "modalFeedback", "outcome-identifier/outcomeIdentifier! identifier! show-hide/showHide!", `(qti-content-body |(p )+)`},
	{"qti-response-processing", "responseProcessing", "template", `(qti-response-condition |qti-set-outcome-value )+`},
	{"qti-response-condition", "responseCondition", "", `qti-response-if (qti-response-else-if )*(qti-response-else )?`},
	{"qti-response-if", "responseIf", "", `(qti-match |qti-equal |qti-member )(qti-set-outcome-value )+`},
	{"qti-response-else-if", "responseElseIf", "", `(qti-match |qti-equal |qti-member )(qti-set-outcome-value )+`},
	{"qti-response-else", "responseElse", "", `(qti-set-outcome-value )+`},
	{"qti-set-outcome-value", "setOutcomeValue", "identifier!", `(qti-base-value |qti-multiple |qti-sum )`},
	{"qti-match", "match", "", `qti-variable qti-correct `},
	{"qti-equal", "equal", "tolerance-mode/toleranceMode! tolerance!", `qti-variable (qti-correct |qti-base-value )`},
	{"qti-member", "member", "", `qti-base-value qti-variable `},
	{"qti-multiple", "multiple", "", `(qti-base-value |qti-variable )+`},
	{"qti-sum", "sum", "", `(qti-variable )+`},
	{"qti-variable", "variable", "identifier!", ``},
	{"qti-correct", "correct", "identifier!", ``},
	{"qti-base-value", "baseValue", "base-type/baseType!", `text `},
	{"qti-assessment-test", "assessmentTest", "identifier! title!", `(qti-outcome-declaration )*(qti-test-part )+(qti-outcome-processing )?`},
	{"qti-test-part", "testPart", "identifier! navigation-mode/navigationMode! submission-mode/submissionMode!", `(qti-assessment-section )+`},
	{"qti-assessment-section", "assessmentSection", "identifier! title! visible!", `(qti-rubric-block )*(qti-assessment-item-ref )+`},
	{"qti-assessment-item-ref", "assessmentItemRef", "identifier! href!", ``},
	{"qti-outcome-processing", "outcomeProcessing", "", `(qti-set-outcome-value )+`},
	{"p", "p", "", `(text |em |img |qti-text-entry-interaction )*`},
	{"em", "em", "", `text `},
	{"img", "img", "src! alt!", ``},
}

// packaging is the same for a manifest (IMS Content Packaging 1.2 as both versions
// profile it).
var packaging = []struct {
	v3, v2, attributes, content string
}{
	{"manifest", "manifest", "identifier!", `metadata organizations resources `},
	{"metadata", "metadata", "", `schema schemaversion `},
	{"schema", "schema", "", `text `},
	{"schemaversion", "schemaversion", "", `text `},
	{"organizations", "organizations", "", ``},
	{"resources", "resources", "", `(resource )+`},
	{"resource", "resource", "identifier! type! href!", `(file )+(dependency )*`},
	{"file", "file", "href!", ``},
	{"dependency", "dependency", "identifierref!", ``},
}

// tag is an element of a document, read without the reader of this package.
type tag struct {
	name     string
	attrs    map[string]string
	text     string
	children []*tag
}

func (e *tag) find(name string) []*tag {
	var list []*tag
	if e.name == name {
		list = append(list, e)
	}
	for _, c := range e.children {
		list = append(list, c.find(name)...)
	}
	return list
}

// conforms reads a document and tells what is not as the table says. Names in the tree
// are those of 3.0.
func conforms(data []byte, version, root string) (*tag, []error) {
	namespace := map[string]string{QTI30: "http://www.imsglobal.org/xsd/imsqtiasi_v3p0", QTI22: "http://www.imsglobal.org/xsd/imsqti_v2p2"}[version]
	location := map[string]string{
		QTI30: "https://purl.imsglobal.org/spec/qti/v3p0/schema/xsd/imsqti_asiv3p0_v1p0.xsd",
		QTI22: "http://www.imsglobal.org/xsd/qti/qtiv2p2/imsqti_v2p2p2.xsd",
	}[version]
	table := schema
	if root == "manifest" {
		namespace = map[string]string{QTI30: "http://www.imsglobal.org/xsd/qti/qtiv3p0/imscp_v1p1", QTI22: "http://www.imsglobal.org/xsd/imscp_v1p1"}[version]
		location = map[string]string{
			QTI30: "https://purl.imsglobal.org/spec/qti/v3p0/schema/xsd/imsqtiv3p0_imscpv1p2_v1p0.xsd",
			QTI22: "http://www.imsglobal.org/xsd/qti/qtiv2p2/qtiv2p2_imscpv1p2_v1p0.xsd",
		}[version]
		table = packaging
	}
	var problems []error
	bad := func(format string, args ...any) { problems = append(problems, fmt.Errorf(format, args...)) }
	decoder := xml.NewDecoder(strings.NewReader(string(data)))
	var open []*tag
	var top *tag
	for {
		token, err := decoder.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return top, append(problems, err)
		}
		switch token := token.(type) {
		case xml.StartElement:
			e := &tag{name: token.Name.Local, attrs: map[string]string{}}
			if token.Name.Space != namespace {
				bad("<%s> is in namespace %q", e.name, token.Name.Space)
			}
			i := slices.IndexFunc(table, func(r struct{ v3, v2, attributes, content string }) bool {
				return e.name == map[string]string{QTI30: r.v3, QTI22: r.v2}[version]
			})
			if i < 0 {
				bad("<%s> is not in the table", e.name)
			} else {
				e.name = table[i].v3
			}
			for _, a := range token.Attr {
				switch {
				case a.Name.Space == "" && a.Name.Local != "xmlns":
					e.attrs[a.Name.Local] = a.Value
				case a.Name.Local == "schemaLocation" && a.Value != namespace+" "+location:
					bad("schemaLocation is %q", a.Value)
				}
			}
			if len(open) == 0 {
				top = e
			} else {
				parent := open[len(open)-1]
				parent.children = append(parent.children, e)
			}
			open = append(open, e)
		case xml.EndElement:
			open = open[:len(open)-1]
		case xml.CharData:
			if text := strings.TrimSpace(string(token)); text != "" {
				parent := open[len(open)-1]
				parent.text += text
				parent.children = append(parent.children, &tag{name: "text", text: text})
			}
		}
	}
	if top == nil || top.name != root {
		return top, append(problems, fmt.Errorf("the root is not <%s>", root))
	}
	var walk func(e *tag)
	walk = func(e *tag) {
		i := slices.IndexFunc(table, func(r struct{ v3, v2, attributes, content string }) bool { return r.v3 == e.name })
		if i < 0 {
			return
		}
		left := map[string]string{}
		for name, value := range e.attrs {
			left[name] = value
		}
		for a := range strings.FieldsSeq(table[i].attributes) {
			name, needed := strings.CutSuffix(a, "!")
			v3, v2, two := strings.Cut(name, "/")
			if !two {
				v2 = v3
			}
			written := map[string]string{QTI30: v3, QTI22: v2}[version]
			value, there := left[written]
			if needed && !there {
				bad("<%s> has no %s", e.name, written)
			}
			if there {
				delete(left, written)
				delete(e.attrs, written)
				e.attrs[v3] = value
			}
		}
		for name := range left {
			bad("<%s> has an attribute %s", e.name, name)
		}
		var inside strings.Builder
		for _, c := range e.children {
			inside.WriteString(c.name + " ")
		}
		if !regexp.MustCompile("^(" + table[i].content + ")$").MatchString(inside.String()) {
			bad("in <%s> stands: %s", e.name, inside.String())
		}
		for _, c := range e.children {
			walk(c)
		}
	}
	walk(top)
	return top, problems
}
