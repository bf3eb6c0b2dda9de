package exchange

import (
	"encoding/xml"
	"fmt"
	"slices"
	"strings"
	"unicode"
)

// The versions of QTI that are written and read.
const (
	QTI30 = "3.0"
	QTI22 = "2.2"
)

// dialect is what differs between the versions in the part of QTI that is used here
// (1EdTech QTI 3.0, Assessment, Section, Item information model and packaging; IMS QTI
// 2.2, the same).
type dialect struct {
	version                string
	namespace, schema      string // of items and tests, and where its XSD is
	packaging, packageXSD  string // of the manifest
	schemaName, schemaText string // what the manifest's metadata says
	itemType, testType     string // of resources
	templates              string // address of the templates written, without their name
	ending                 string // of that address
	read                   []string
	camel                  bool // responseDeclaration, not qti-response-declaration
}

var dialects = []*dialect{
	{
		version:    QTI30,
		namespace:  "http://www.imsglobal.org/xsd/imsqtiasi_v3p0",
		schema:     "https://purl.imsglobal.org/spec/qti/v3p0/schema/xsd/imsqti_asiv3p0_v1p0.xsd",
		packaging:  "http://www.imsglobal.org/xsd/qti/qtiv3p0/imscp_v1p1",
		packageXSD: "https://purl.imsglobal.org/spec/qti/v3p0/schema/xsd/imsqtiv3p0_imscpv1p2_v1p0.xsd",
		schemaName: "QTI Package", schemaText: "3.0.0",
		itemType: "imsqti_item_xmlv3p0", testType: "imsqti_test_xmlv3p0",
		templates: "https://purl.imsglobal.org/spec/qti/v3p0/rptemplates/", ending: ".xml",
		// The official examples use both addresses, each with and without the ending.
		read: []string{"https://purl.imsglobal.org/spec/qti/v3p0/rptemplates/", "https://www.imsglobal.org/question/qti_v3p0/rptemplates/"},
	},
	{
		version:    QTI22,
		namespace:  "http://www.imsglobal.org/xsd/imsqti_v2p2",
		schema:     "http://www.imsglobal.org/xsd/qti/qtiv2p2/imsqti_v2p2p2.xsd",
		packaging:  "http://www.imsglobal.org/xsd/imscp_v1p1",
		packageXSD: "http://www.imsglobal.org/xsd/qti/qtiv2p2/qtiv2p2_imscpv1p2_v1p0.xsd",
		schemaName: "QTIv2.2 Package", schemaText: "1.0.0",
		itemType: "imsqti_item_xmlv2p2", testType: "imsqti_test_xmlv2p2",
		templates: "http://www.imsglobal.org/question/qti_v2p2/rptemplates/",
		read:      []string{"http://www.imsglobal.org/question/qti_v2p2/rptemplates/"},
		camel:     true,
	},
}

func dialectOf(version string) (*dialect, error) {
	for _, d := range dialects {
		if d.version == version {
			return d, nil
		}
	}
	return nil, fmt.Errorf("QTI %q; write %s or %s", version, QTI30, QTI22)
}

// template gives the name of the response processing template at an address, "" if
// it is not one of this version.
func (d *dialect) template(address string) string {
	for _, base := range d.read {
		if name, ok := strings.CutPrefix(address, base); ok {
			return strings.TrimSuffix(name, ".xml")
		}
	}
	return ""
}

// html are the elements of a body that are called the same in both versions. What is
// written uses p, strong and img; the rest is read as text.
var html = []string{
	"a", "abbr", "address", "article", "b", "bdi", "bdo", "blockquote", "br", "caption", "cite", "code", "col", "colgroup", "dd", "dfn", "div",
	"dl", "dt", "em", "figcaption", "figure", "footer", "h1", "h2", "h3", "h4", "h5", "h6", "header", "hr", "i", "img", "kbd", "li", "ol", "p", "pre",
	"q", "s", "samp", "section", "small", "span", "strong", "sub", "sup", "table", "tbody", "td", "tfoot", "th", "thead", "tr", "tt", "u", "ul", "var",
}

// In this package elements and attributes of QTI have one name for both versions: that
// of 3.0 without its qti-, such as choice-interaction and response-identifier. These
// functions make of it what a version writes, and the other way round.

func (d *dialect) element(name string) string {
	switch {
	case slices.Contains(html, name):
		return name
	case d.camel:
		return camel(name)
	}
	return "qti-" + name
}

func (d *dialect) attribute(name string) string {
	if d.camel {
		return camel(name)
	}
	return name
}

// elementName is "?" for an element that is not written like this in this version.
func (d *dialect) elementName(written string) string {
	bare, prefixed := strings.CutPrefix(written, "qti-")
	switch {
	case slices.Contains(html, written):
		return written
	case d.camel && !strings.Contains(written, "-"):
		return kebab(written)
	case !d.camel && prefixed && !slices.Contains(html, bare):
		return bare
	}
	return "?"
}

// attributeName is "?" for an attribute that is not written like this in this version.
func (d *dialect) attributeName(written string) string {
	switch {
	case strings.HasPrefix(written, "data-"), strings.HasPrefix(written, "aria-"):
		return written
	case d.camel && !strings.Contains(written, "-"):
		return kebab(written)
	case !d.camel && strings.ToLower(written) == written:
		return written
	}
	return "?"
}

func camel(name string) string {
	words := strings.Split(name, "-")
	for i, word := range words[1:] {
		if word != "" {
			words[i+1] = strings.ToUpper(word[:1]) + word[1:]
		}
	}
	return strings.Join(words, "")
}

func kebab(name string) string {
	var b strings.Builder
	for _, r := range name {
		if unicode.IsUpper(r) {
			b.WriteByte('-')
		}
		b.WriteRune(unicode.ToLower(r))
	}
	return b.String()
}

// element is a part of a document to be written. Its children are elements and texts.
type element struct {
	name     string
	attrs    []string // name, value, name, value
	children []any
}

func el(name string, attrs []string, children ...any) *element {
	return &element{name, attrs, children}
}

// add puts more children behind those that are there.
func (e *element) add(children ...any) { e.children = append(e.children, children...) }

// document writes an item or a test. Its root gets the namespace of the version.
func (d *dialect) document(root *element) []byte {
	root.attrs = append([]string{
		"xmlns", d.namespace,
		"xmlns:xsi", "http://www.w3.org/2001/XMLSchema-instance",
		"xsi:schemaLocation", d.namespace + " " + d.schema,
	}, root.attrs...)
	return writeXML(root, d.element, d.attribute)
}

// writeXML writes a document with the names that a version, or packaging, uses.
func writeXML(root *element, elementName, attributeName func(string) string) []byte {
	var b strings.Builder
	b.WriteString(xml.Header)
	var write func(e *element, indent string)
	write = func(e *element, indent string) {
		name := elementName(e.name)
		fmt.Fprintf(&b, "<%s", name)
		for i := 0; i < len(e.attrs); i += 2 {
			fmt.Fprintf(&b, ` %s="%s"`, attributeName(e.attrs[i]), escaped(e.attrs[i+1]))
		}
		if len(e.children) == 0 {
			b.WriteString("/>")
			return
		}
		b.WriteString(">")
		// White space is added only where there is no text beside it.
		mixed := slices.ContainsFunc(e.children, func(c any) bool { _, text := c.(string); return text })
		for _, child := range e.children {
			if !mixed {
				b.WriteString("\n" + indent + "  ")
			}
			switch c := child.(type) {
			case string:
				b.WriteString(escaped(c))
			case *element:
				write(c, indent+"  ")
			}
		}
		if !mixed {
			b.WriteString("\n" + indent)
		}
		fmt.Fprintf(&b, "</%s>", name)
	}
	write(root, "")
	b.WriteString("\n")
	return []byte(b.String())
}

// escaped writes a text for XML. A sign that XML does not allow becomes U+FFFD.
func escaped(s string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(s)) // a strings.Builder takes everything
	return b.String()
}
