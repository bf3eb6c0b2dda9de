package exchange

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"time"
)

// Draw draws a picture as an SVG document that stands alone. alt says in words what
// can be seen.
type Draw func(Picture) (svg []byte, alt string, err error)

// QTIOptions say how a package is written.
type QTIOptions struct {
	Version string // QTI30 or QTI22; empty for QTI30
	Draw    Draw   // nil: a picture is told in words
}

// packageFile is one file of a package.
type packageFile struct {
	name string
	data []byte
}

// resource is one entry of the manifest.
type resource struct {
	id, kind  string
	files     []string // the first is the resource itself
	dependsOn []string
}

// testID names the test. No question has it, since theirs end in the seed.
const testID = "test"

// WriteQTI writes the set as a QTI package. The error holds every question that
// cannot be written; nothing is written then.
func WriteQTI(w io.Writer, set Set, o QTIOptions) error {
	if o.Version == "" {
		o.Version = QTI30
	}
	d, err := dialectOf(o.Version)
	if err != nil {
		return err
	}
	if len(set.Questions) == 0 {
		return errors.New("write QTI: there is no question")
	}
	if err := set.Check(); err != nil {
		return fmt.Errorf("write QTI: %w", err)
	}
	files, resources, err := items(set, d, o.Draw)
	if err != nil {
		return fmt.Errorf("write QTI: %w", err)
	}
	test := resource{id: testID, kind: d.testType, files: []string{"test.xml"}}
	for _, r := range resources {
		test.dependsOn = append(test.dependsOn, r.id)
	}
	files = append(files, packageFile{"test.xml", d.document(testElement(set, d))})
	files = append([]packageFile{{"imsmanifest.xml", manifest(d, append(resources, test))}}, files...)

	// Copies that anybody can read. They are no part of the package, so the manifest
	// does not list them.
	var table, sheet bytes.Buffer
	if err := errors.Join(WriteCSV(&table, set), WriteMarkdown(&sheet, set, true)); err != nil {
		return err
	}
	return writeZip(w, append(files, packageFile{"bank.csv", table.Bytes()}, packageFile{"bank.md", sheet.Bytes()}))
}

// items writes a file for each question, and one for each picture.
func items(set Set, d *dialect, draw Draw) ([]packageFile, []resource, error) {
	var files []packageFile
	var resources []resource
	known := map[string]bool{}
	for _, q := range set.Questions {
		id := q.identifier()
		if known[id] {
			return nil, nil, fmt.Errorf("two questions have the identifier %s; give one of them a shorter id", id)
		}
		known[id] = true
		r := resource{id: id, kind: d.itemType, files: []string{"items/" + id + ".xml"}}
		var picture *element
		switch {
		case q.Picture == nil:
		case draw == nil:
			picture = el("em", nil, "Picture: "+line(q.Picture.Says))
		default:
			svg, alt, err := draw(*q.Picture)
			if err != nil {
				return nil, nil, fmt.Errorf("question %s: draw the picture: %w", q.ID, err)
			}
			name := "pictures/" + id + ".svg"
			picture = el("img", []string{"src", name, "alt", line(alt)})
			files = append(files, packageFile{"items/" + name, svg})
			r.files = append(r.files, "items/"+name)
		}
		files = append(files, packageFile{r.files[0], d.document(itemElement(q, d, picture))})
		resources = append(resources, r)
	}
	return files, resources, nil
}

// testElement is a test with one part and a section for the questions of each lesson.
func testElement(questions Set, d *dialect) *element {
	part := el("test-part", []string{"identifier", "part", "navigation-mode", "nonlinear", "submission-mode", "simultaneous"})
	sum := el("sum", nil)
	sections := map[string]*element{}
	for _, q := range questions.Questions {
		section := sections[q.Lesson]
		if section == nil {
			section = el("assessment-section", []string{"identifier", "lesson-" + q.Lesson, "title", q.Lesson, "visible", "true"},
				d.rubric("candidate", "instructions", paragraph(Caution)))
			sections[q.Lesson] = section
			part.add(section)
		}
		id := q.identifier()
		section.add(el("assessment-item-ref", []string{"identifier", id, "href", "items/" + id + ".xml"}))
		sum.add(el("variable", []string{"identifier", id + ".SCORE"}))
	}
	title := line(questions.Title)
	if title == "" {
		title = "Questions"
	}
	return el("assessment-test", []string{"identifier", testID, "title", title},
		outcome("SCORE", "0"), part, el("outcome-processing", nil, set("SCORE", sum)))
}

func manifest(d *dialect, resources []resource) []byte {
	list := el("resources", nil)
	for _, r := range resources {
		entry := el("resource", []string{"identifier", r.id, "type", r.kind, "href", r.files[0]})
		for _, name := range r.files {
			entry.add(el("file", []string{"href", name}))
		}
		for _, id := range r.dependsOn {
			entry.add(el("dependency", []string{"identifierref", id}))
		}
		list.add(entry)
	}
	asIs := func(name string) string { return name }
	return writeXML(el("manifest", []string{
		"xmlns", d.packaging,
		"xmlns:xsi", "http://www.w3.org/2001/XMLSchema-instance",
		"xsi:schemaLocation", d.packaging + " " + d.packageXSD,
		"identifier", "manifest",
	},
		el("metadata", nil, el("schema", nil, d.schemaName), el("schemaversion", nil, d.schemaText)),
		el("organizations", nil), list), asIs, asIs)
}

// writeZip writes the same bytes for the same files: all have the first time that a
// zip can name.
func writeZip(w io.Writer, files []packageFile) error {
	out := zip.NewWriter(w)
	for _, f := range files {
		entry, err := out.CreateHeader(&zip.FileHeader{Name: f.name, Method: zip.Deflate, Modified: time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)})
		if err != nil {
			return fmt.Errorf("write %s: %w", f.name, err)
		}
		if _, err := entry.Write(f.data); err != nil {
			return fmt.Errorf("write %s: %w", f.name, err)
		}
	}
	return out.Close()
}
