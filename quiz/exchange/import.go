package exchange

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"slices"
	"strings"
	"unicode"
)

// Limits of what is read. A package beyond one of them is refused whole.
const (
	MaxPackage    = 64 << 20 // bytes of a file, and bytes of all that is in a zip
	maxEntry      = 4 << 20  // bytes of one file in a zip that is read, and of a single item
	maxEntries    = 10_000   // files in a zip
	maxElements   = 200_000  // elements and texts of one XML file
	maxDepth      = 64       // elements in each other
	maxAttributes = 64       // of one element
	maxValues     = 500      // choices, correct values, mapped values or pieces of feedback of an item
	maxBranches   = 100      // of one condition
	maxNotes      = 1000     // in a report
	maxMessage    = 400      // bytes of a message, and of what an item says in words
)

// Imported is what was read of a package or of a single item.
type Imported struct {
	Items  []ImportedItem `json:"items"`
	Left   []LeftOut      `json:"left_out"`
	Report []Note         `json:"report"` // everything that was not understood
}

// LeftOut is an item that was not read, because something in it that bears on its
// score was not understood. The report says what.
type LeftOut struct {
	File       string `json:"file"`
	Identifier string `json:"identifier"` // as far as it has one
}

// Note is one thing that was not understood.
type Note struct {
	File    string `json:"file"`
	Line    int    `json:"line"` // from 1; 0 for the whole file
	Message string `json:"message"`
}

// String writes the note as file:line: message.
func (n Note) String() string {
	if n.Line == 0 {
		return n.File + ": " + n.Message
	}
	return fmt.Sprintf("%s:%d: %s", n.File, n.Line, n.Message)
}

// Import reads a QTI package, or a file with a single item. name is how messages call
// the file. The error is for what cannot be read at all: neither a zip nor XML, beyond
// a limit, or hostile. What is merely not understood is in the report.
func Import(name string, data []byte) (Imported, error) {
	in := importer{name: name, out: Imported{Items: []ImportedItem{}, Left: []LeftOut{}, Report: []Note{}}}
	switch {
	case len(data) > MaxPackage:
		return in.out, fmt.Errorf("%s: longer than %d MB; take out what is not a question", name, MaxPackage>>20)
	case bytes.HasPrefix(data, []byte("PK")):
		err := in.readPackage(data)
		return in.out, err
	case len(data) > maxEntry:
		return in.out, fmt.Errorf("%s: an item longer than %d MB", name, maxEntry>>20)
	}
	root, err := parseXML(data)
	if err != nil {
		return in.out, fmt.Errorf("%s:%w", name, err)
	}
	in.readItem(name, root)
	return in.out, nil
}

// importer reads one package.
type importer struct {
	name    string
	files   map[string]*zip.File
	items   map[string]bool // identifiers of items that were read or left out
	entries map[string]bool // identifiers in the manifest that stand for an item
	read    int             // bytes unpacked so far
	out     Imported
}

// note puts something into the report, which ends when it is longer than anybody
// reads.
func (in *importer) note(file string, line int, format string, args ...any) {
	switch len(in.out.Report) {
	case maxNotes:
		return
	case maxNotes - 1:
		format, args = "and more; the report ends here", nil
	}
	in.out.Report = append(in.out.Report, Note{file, line, cut(fmt.Sprintf(format, args...))})
}

// cut shortens a text that is longer than a message may be.
func cut(s string) string {
	if len(s) <= maxMessage {
		return s
	}
	return strings.ToValidUTF8(s[:maxMessage], "") + "..."
}

// readPackage reads the manifest and what it lists.
func (in *importer) readPackage(data []byte) error {
	archive, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return fmt.Errorf("%s: %w", in.name, err)
	}
	if err := in.lookOver(archive.File); err != nil {
		return fmt.Errorf("%s: %w", in.name, err)
	}
	const name = "imsmanifest.xml"
	if in.files[name] == nil {
		return fmt.Errorf("%s: there is no %s at the root, so it is no QTI package", in.name, name)
	}
	root, err := in.readXML(name)
	if err != nil {
		return err
	}
	return in.readManifest(name, root)
}

// lookOver refuses a zip that is too large or has names no package has. Nothing is
// unpacked before that.
func (in *importer) lookOver(entries []*zip.File) error {
	if len(entries) > maxEntries {
		return fmt.Errorf("%d files; a package may have %d", len(entries), maxEntries)
	}
	in.files = map[string]*zip.File{}
	folded := map[string]bool{}
	var total uint64
	for _, f := range entries {
		name, folder := strings.CutSuffix(f.Name, "/")
		switch {
		case !fs.ValidPath(name) || strings.ContainsAny(name, `\:`) || strings.ContainsFunc(name, unprintable):
			return fmt.Errorf("%q is no name of a file in a package; use a path below its root, with /", f.Name)
		case folded[strings.ToLower(name)]:
			return fmt.Errorf("%q stands twice", f.Name)
		case !folder && !f.Mode().IsRegular():
			return fmt.Errorf("%q is no plain file", f.Name)
		}
		folded[strings.ToLower(name)] = true
		// Compared one by one, so that the sum cannot wrap around.
		if f.UncompressedSize64 > MaxPackage || total+f.UncompressedSize64 > MaxPackage {
			return fmt.Errorf("more than %d MB when unpacked; take out what is not a question", MaxPackage>>20)
		}
		total += f.UncompressedSize64
		if !folder {
			in.files[name] = f
		}
	}
	return nil
}

func unprintable(r rune) bool { return !unicode.IsPrint(r) }

// readXML unpacks and reads one file. What a zip says of a size may be a lie, so what
// comes out is counted.
func (in *importer) readXML(name string) (*node, error) {
	r, err := in.files[name].Open()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	data, err := io.ReadAll(io.LimitReader(r, maxEntry+1))
	err = errors.Join(err, r.Close())
	in.read += len(data)
	switch {
	case len(data) > maxEntry:
		return nil, fmt.Errorf("%s: longer than %d MB when unpacked", name, maxEntry>>20)
	case in.read > MaxPackage:
		return nil, fmt.Errorf("%s: more than %d MB have been unpacked", name, MaxPackage>>20)
	case err != nil:
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	root, err := parseXML(data)
	if err != nil {
		return nil, fmt.Errorf("%s:%w", name, err)
	}
	return root, nil
}

// readManifest reads the items that the manifest lists, in its order, and then looks
// over its tests.
func (in *importer) readManifest(file string, root *node) error {
	i := slices.IndexFunc(dialects, func(d *dialect) bool { return d.packaging == root.space })
	if i < 0 || root.written != "manifest" {
		return fmt.Errorf("%s:%d: <%s> in namespace %q is no manifest of QTI %s or %s", file, root.line, root.written, root.space, QTI30, QTI22)
	}
	d := dialects[i]
	in.items, in.entries = map[string]bool{}, map[string]bool{}
	var resources []*node
	for _, child := range root.elements() {
		switch child.written {
		case "metadata":
			in.readMetadata(file, child, d)
		case "organizations":
			for _, c := range child.elements() {
				in.note(file, c.line, "<%s>: an order of resources is not read", c.written)
			}
		case "resources":
			resources = append(resources, child.elements()...)
		default:
			in.note(file, child.line, "<%s> is not understood", child.written)
		}
	}
	known := map[string]bool{}
	var tests []*node
	for _, r := range resources {
		id, kind := r.attr("identifier"), r.attr("type")
		isItem := slices.ContainsFunc(dialects, func(d *dialect) bool { return d.itemType == kind })
		isTest := slices.ContainsFunc(dialects, func(d *dialect) bool { return d.testType == kind })
		refuse := in.noteAt
		if isItem {
			refuse = in.leave
		}
		switch {
		case r.written != "resource":
			in.note(file, r.line, "<%s> is not understood", r.written)
		case !identifierForm.MatchString(id):
			refuse(file, r, id, "identifier %q; a resource needs one that begins with a letter and has letters, digits and _ - . only", id)
		case known[id]:
			refuse(file, r, id, "identifier %q stands twice", id)
		case r.hasAttr("xml:base"):
			refuse(file, r, id, "resource %s: xml:base is not read", id)
		case isItem:
			known[id] = true
			in.readResource(file, r, id)
		case isTest:
			known[id] = true
			tests = append(tests, r)
		default:
			known[id] = true
			in.note(file, r.line, "resource %s of type %q is not read", id, kind)
		}
	}
	for _, r := range tests {
		in.readTest(file, r, known)
	}
	return nil
}

func (in *importer) readMetadata(file string, metadata *node, d *dialect) {
	for _, child := range metadata.elements() {
		text := strings.TrimSpace(child.plain())
		switch {
		case child.written == "schema" && text == d.schemaName:
		case child.written == "schemaversion" && strings.HasPrefix(text, d.schemaText[:2]): // 3.0.1 is read, too
		case child.written == "schema", child.written == "schemaversion":
			in.note(file, child.line, "%s is %q; %q is read", child.written, text, map[string]string{"schema": d.schemaName, "schemaversion": d.schemaText}[child.written])
		default:
			in.note(file, child.line, "metadata <%s> is not read", child.written)
		}
	}
}

// leave notes why a resource is left out.
func (in *importer) leave(file string, at *node, id, format string, args ...any) {
	in.note(file, at.line, format, args...)
	in.out.Left = append(in.out.Left, LeftOut{file, id})
}

// noteAt notes what is wrong with a resource that is no item.
func (in *importer) noteAt(file string, at *node, _, format string, args ...any) {
	in.note(file, at.line, format, args...)
}

// path finds the file that a reference leads to. It is empty for one that leads out
// of the package.
func path(href string) string {
	name, err := url.PathUnescape(href)
	if err != nil || !fs.ValidPath(name) {
		return ""
	}
	return name
}

// readResource reads one item. The files it names must be listed, and there.
func (in *importer) readResource(file string, r *node, id string) {
	href := path(r.attr("href"))
	if href == "" {
		in.leave(file, r, id, "resource %s: href %q; write the path of a file in the package", id, r.attr("href"))
		return
	}
	listed := map[string]bool{}
	for _, child := range r.elements() {
		name := path(child.attr("href"))
		switch child.written {
		case "file":
			if name == "" || in.files[name] == nil {
				in.leave(file, child, id, "resource %s: there is no file %q in the package", id, child.attr("href"))
				return
			}
			listed[name] = true
		case "dependency":
		case "metadata":
			in.note(file, child.line, "resource %s: <metadata> is not read", id)
		default:
			in.note(file, child.line, "resource %s: <%s> is not understood", id, child.written)
		}
	}
	switch {
	case !listed[href]:
		in.leave(file, r, id, "resource %s: %s has no <file> entry", id, href)
		return
	case in.entries[href]:
		in.leave(file, r, id, "resource %s: %s belongs to another resource, too", id, href)
		return
	}
	in.entries[href] = true
	root, err := in.readXML(href)
	if err != nil {
		// A limit, or XML that cannot be read: the other items are none the worse.
		in.note(href, lineOf(err), "%s", messageOf(err, href))
		in.out.Left = append(in.out.Left, LeftOut{href, id})
		return
	}
	before := len(in.out.Items)
	in.readItem(href, root)
	if len(in.out.Items) == before {
		return
	}
	item := in.out.Items[before]
	drop := func(format string, args ...any) {
		in.note(href, item.Line, format, args...)
		in.out.Items = in.out.Items[:before]
		in.out.Left = append(in.out.Left, LeftOut{href, item.Identifier})
	}
	if in.items[item.Identifier] {
		drop("identifier %q stands twice in the package", item.Identifier)
		return
	}
	in.items[item.Identifier] = true
	for _, picture := range item.Pictures {
		if name := path(below(href, picture)); name == "" || !listed[name] {
			drop("item %s shows %q, which the manifest does not list for it", item.Identifier, picture)
			return
		}
	}
}

// below resolves a reference from a file of the package.
func below(file, href string) string {
	base, err := url.Parse(file)
	if err != nil {
		return ""
	}
	reference, err := url.Parse(href)
	if err != nil || reference.IsAbs() || reference.Host != "" {
		return ""
	}
	// Two ways up from the root lead to the root, so count that none is taken.
	if strings.Count(href, "../") > strings.Count(file, "/") {
		return ""
	}
	return strings.TrimPrefix(base.ResolveReference(reference).Path, "/")
}

// inTest are the elements of a test that are understood. Tests order items and sum
// their scores, and the items are what is read; everything else a test may say is
// noted.
var inTest = []string{
	"assessment-test", "outcome-declaration", "default-value", "value", "test-part", "assessment-section", "assessment-item-ref", "rubric-block", "content-body",
	"outcome-processing", "set-outcome-value", "sum", "variable", "test-variables", "p", "em", "strong", "ul", "ol", "li", "br", "span",
}

// readTest looks a test over: every item it asks for must be in the package.
func (in *importer) readTest(file string, r *node, known map[string]bool) {
	id, href := r.attr("identifier"), path(r.attr("href"))
	if href == "" || in.files[href] == nil {
		in.note(file, r.line, "resource %s: there is no file %q in the package", id, r.attr("href"))
		return
	}
	listed := false
	for _, child := range r.elements() {
		switch child.written {
		case "file":
			listed = listed || path(child.attr("href")) == href
		case "dependency":
			if ref := child.attr("identifierref"); !known[ref] {
				in.note(file, child.line, "resource %s: there is no resource %q", id, ref)
			}
		default:
			in.note(file, child.line, "resource %s: <%s> is not read", id, child.written)
		}
	}
	if !listed {
		in.note(file, r.line, "resource %s: %s has no <file> entry", id, href)
	}
	root, err := in.readXML(href)
	if err != nil {
		in.note(href, lineOf(err), "%s", messageOf(err, href))
		return
	}
	if root.name != "assessment-test" {
		in.note(href, root.line, "<%s> in namespace %q is no test of QTI %s or %s", root.written, root.space, QTI30, QTI22)
		return
	}
	ids := map[string]bool{}
	for n := range root.all() {
		switch {
		case n.name == "":
		case !slices.Contains(inTest, n.name):
			in.note(href, n.line, "<%s> is not read; it is about the test, not about its items", n.written)
		case n.name == "assessment-section", n.name == "assessment-item-ref", n.name == "test-part":
			if ids[n.attr("identifier")] {
				in.note(href, n.line, "identifier %q stands twice in the test", n.attr("identifier"))
			}
			ids[n.attr("identifier")] = true
			if n.name == "assessment-item-ref" && !in.entries[path(below(href, n.attr("href")))] {
				in.note(href, n.line, "%q is no item that the manifest lists", n.attr("href"))
			}
		}
	}
}
