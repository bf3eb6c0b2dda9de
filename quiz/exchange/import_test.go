package exchange

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"encoding/json"
	"fmt"
	"hash/crc32"
	"io/fs"
	"maps"
	"runtime"
	"slices"
	"strings"
	"testing"
)

// pack makes a zip of files, the manifest first.
func pack(t testing.TB, files map[string]string) []byte {
	t.Helper()
	list := []packageFile{{"imsmanifest.xml", []byte(files["imsmanifest.xml"])}}
	for _, name := range slices.Sorted(maps.Keys(files)) {
		if name != "imsmanifest.xml" {
			list = append(list, packageFile{name, []byte(files[name])})
		}
	}
	var out bytes.Buffer
	if err := writeZip(&out, list); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// mutationSet has one question of each kind, the first with a picture.
func mutationSet(t testing.TB) Set {
	t.Helper()
	common := func(id, kind string) entry {
		return entry{"id": id, "lesson": "a", "competencies": []string{"acidity"}, "kind": kind, "stem": "Is it hot?", "why": "So it is.", "source": []string{"s"}, "page": "p. 1"}
	}
	list := []entry{common("a-1", "choice"), common("a-2", "choices"), common("a-3", "number"), common("a-4", "order"), common("a-5", "match")}
	list[0]["options"] = []entry{{"text": "Hot", "right": true, "feedback": "Yes."}, {"text": "Cold", "feedback": "No.", "misconception": "m"}}
	list[0]["picture"] = entry{"jar": "pint", "headspace": "1/2 in", "lid": "flat"}
	list[1]["options"] = []entry{{"text": "Hot", "right": true, "feedback": "Yes."}, {"text": "Wet", "right": true, "feedback": "Yes."}, {"text": "Cold", "feedback": "No.", "misconception": "m"}}
	list[2]["unit"], list[2]["tolerance"], list[2]["answer"] = "in", 0.02, entry{"is": `factFrom("half")`, "feedback": "Yes."}
	list[2]["wrong"] = []entry{{"is": "0.25", "feedback": "No.", "misconception": "m"}}
	list[3]["items"] = []entry{{"key": "a", "text": "Fill", "feedback": "So."}, {"key": "b", "text": "Wipe", "feedback": "So."}, {"key": "c", "text": "Close", "feedback": "So."}}
	list[3]["mistakes"] = []entry{{"early": "c", "late": "b", "feedback": "No.", "misconception": "m"}}
	list[4]["items"] = []entry{{"key": "a", "text": "Jam", "with": "size A", "feedback": "So."}, {"key": "b", "text": "Fruit", "with": "size B", "feedback": "So."}, {"key": "c", "text": "Beans", "with": "size C", "feedback": "So."}}
	list[4]["mistakes"] = []entry{{"item": "a", "with": "size C", "feedback": "No.", "misconception": "m"}}
	set, err := Variants(loadBank(t, list).Questions(), 1)
	if err != nil {
		t.Fatal(err)
	}
	return set
}

const (
	choiceItem = "items/a-1-s1.xml"
	multiItem  = "items/a-2-s1.xml"
	numberItem = "items/a-3-s1.xml"
	orderItem  = "items/a-4-s1.xml"
	matchItem  = "items/a-5-s1.xml"
)

// TestMutatedPackages breaks a good package in one place each. The item that is broken
// is left out, named, and the report says what to look at; the others are read. What an
// item must have is in the QTI 3.0 information model; what a package must have, in its
// packaging.
func TestMutatedPackages(t *testing.T) {
	t.Parallel()
	_, good := unpack(t, packageOf(t, mutationSet(t), QTIOptions{Draw: drawing}))
	for _, tc := range []struct {
		name, file, old, new string
		left                 string // the identifier left out
		want                 string // in the report, with its file and line
	}{
		{"item without identifier", choiceItem, ` identifier="a-1-s1"`, ``, "", `items/a-1-s1.xml:2: <qti-assessment-item>: identifier is ""`},
		{"identifier with a space", choiceItem, `identifier="a-1-s1"`, `identifier="a 1"`, "a 1", `identifier is "a 1"`},
		{"identifier of another item", choiceItem, `identifier="a-1-s1"`, `identifier="a-2-s1"`, "a-2-s1", `identifier "a-2-s1" stands twice in the package`},
		{"adaptive", choiceItem, `adaptive="false"`, `adaptive="true"`, "a-1-s1", "the item is adaptive"},
		{"choice without identifier", choiceItem, `<qti-simple-choice identifier="C1">`, `<qti-simple-choice>`, "a-1-s1", `<qti-simple-choice>: identifier is ""`},
		{"choice twice", choiceItem, `<qti-simple-choice identifier="C1">`, `<qti-simple-choice identifier="C2">`, "a-1-s1", `identifier "C2" stands twice`},
		{"key not offered", choiceItem, `<qti-value>C2</qti-value>`, `<qti-value>C9</qti-value>`, "a-1-s1", `the correct value "C9": it is not among the choices`},
		{"two keys for one answer", choiceItem, `<qti-value>C2</qti-value>`, `<qti-value>C2</qti-value><qti-value>C1</qti-value>`, "a-1-s1", `2 correct values for a response of cardinality single`},
		{"no key", choiceItem, `<qti-value>C2</qti-value>`, ``, "a-1-s1", `scored by the correct response, and there is none`},
		{"wrong cardinality", multiItem, `cardinality="multiple" base-type="identifier">
    <qti-correct`, `cardinality="single" base-type="identifier">
    <qti-correct`, "a-2-s1", `max-choices is 0, but the response has the cardinality single`},
		{"unknown cardinality", choiceItem, `cardinality="single" base-type="identifier"`, `cardinality="record" base-type="identifier"`, "a-1-s1", `cardinality is "record"`},
		{"no cardinality", choiceItem, `cardinality="single" base-type="identifier"`, `base-type="identifier"`, "a-1-s1", `cardinality is ""`},
		{"order with a set", orderItem, `cardinality="ordered"`, `cardinality="multiple"`, "a-4-s1", `<qti-order-interaction> with a response of cardinality multiple`},
		{"key not in order", orderItem, `<qti-value>C1</qti-value>`, `<qti-value>c1</qti-value>`, "a-4-s1", `"c1"`},
		{"pair with what is not offered", matchItem, `<qti-value>C1 W`, `<qti-value>C1 C`, "a-5-s1", `it is no pair "SOURCE TARGET" of what is offered`},
		{"pair without match-max", matchItem, `identifier="W1" match-max="3"`, `identifier="W1"`, "a-5-s1", "match-max is missing"},
		{"key is no number", numberItem, `<qti-value>0.5</qti-value>`, `<qti-value>1/2</qti-value>`, "a-3-s1", `the correct value "1/2": it is no number`},
		{"infinite key", numberItem, `<qti-value>0.5</qti-value>`, `<qti-value>INF</qti-value>`, "a-3-s1", `"INF"`},
		{"tolerance below 0", numberItem, `tolerance="0.020001"`, `tolerance="-1"`, "a-3-s1", `tolerance is "-1"`},
		{"tolerance in figures", numberItem, `qti-equal`, `qti-equal-rounded`, "a-3-s1", "this <qti-equal-rounded> is not understood"},
		{"wrong answer gets a point", numberItem, `<qti-base-value base-type="float">0</qti-base-value>`, `<qti-base-value base-type="float">1</qti-base-value>`, "a-3-s1", "this rule for SCORE is not understood"},
		{"a second score", choiceItem, `</qti-response-condition>`, `</qti-response-condition><qti-set-outcome-value identifier="SCORE"><qti-base-value base-type="float">1</qti-base-value></qti-set-outcome-value>`, "a-1-s1", "this <qti-set-outcome-value> is not understood"},
		{"score begins with 1", choiceItem, `<qti-value>0</qti-value>`, `<qti-value>1</qti-value>`, "a-1-s1", "SCORE begins with 1"},
		{"score not declared", choiceItem, `identifier="SCORE" cardinality`, `identifier="SCORES" cardinality`, "a-1-s1", "SCORE is not declared"},
		{"template and rules disagree", choiceItem, `match_correct.xml`, `map_response.xml`, "a-1-s1", "the template and the rules say different things"},
		{"unknown template", choiceItem, `match_correct.xml`, `best_guess.xml`, "a-1-s1", `best_guess.xml" is not understood`},
		{"no processing", choiceItem, `qti-response-processing`, `qti-response-guessing`, "a-1-s1", "<qti-response-guessing> is not understood"},
		{"leaves early", choiceItem, `<qti-response-condition>`, `<qti-exit-response/><qti-response-condition>`, "a-1-s1", "<qti-exit-response>"},
		{"other response", choiceItem, `response-identifier="RESPONSE"`, `response-identifier="OTHER"`, "a-1-s1", `response-identifier is "OTHER"`},
		{"two responses", choiceItem, `<qti-outcome-declaration identifier="SCORE"`, `<qti-response-declaration identifier="R2" cardinality="single" base-type="float"/><qti-outcome-declaration identifier="SCORE"`, "a-1-s1", "2 response declarations"},
		{"two interactions", numberItem, `<qti-text-entry-interaction`, `<qti-text-entry-interaction response-identifier="RESPONSE"/><qti-text-entry-interaction`, "a-3-s1", "a second interaction"},
		{"another interaction", orderItem, `qti-order-interaction`, `qti-graphic-order-interaction`, "a-4-s1", "<qti-graphic-order-interaction>"},
		{"template item", choiceItem, `<qti-item-body>`, `<qti-template-declaration identifier="T" cardinality="single" base-type="integer"/><qti-item-body>`, "a-1-s1", "write out its variants"},
		{"names of the other version", choiceItem, `qti-item-body`, `itemBody`, "a-1-s1", "<itemBody> is not understood"},
		{"other namespace", choiceItem, `xmlns="http://www.imsglobal.org/xsd/imsqtiasi_v3p0"`, `xmlns="http://www.imsglobal.org/xsd/imsqti_v2p1"`, "a-1-s1", `namespace "http://www.imsglobal.org/xsd/imsqti_v2p1" is no item of QTI 3.0 or 2.2`},
		{"not well-formed", choiceItem, `</qti-item-body>`, ``, "a-1-s1", "closed by"},
		{"attribute twice", choiceItem, `title="a-1"`, `title="a-1" title="b"`, "a-1-s1", "attribute title stands twice"},
		{"two roots", choiceItem, `</qti-assessment-item>`, `</qti-assessment-item><p/>`, "a-1-s1", "a second root element"},
		{"entity bomb", choiceItem, `<qti-assessment-item`, `<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;">]><qti-assessment-item`, "a-1-s1", "items/a-1-s1.xml:2: document types and entities are refused"},
		{"outside entity", choiceItem, `<qti-assessment-item`, `<!DOCTYPE x SYSTEM "file:///etc/passwd"><qti-assessment-item`, "a-1-s1", "document types and entities are refused"},
		{"unknown entity", choiceItem, `Is it hot?`, `Is it &hot;?`, "a-1-s1", "invalid character entity &hot;"},
		{"other encoding", choiceItem, `encoding="UTF-8"`, `encoding="UTF-16"`, "a-1-s1", "UTF-16"},
		{"no file entry", "imsmanifest.xml", `<file href="items/a-1-s1.xml"/>`, ``, "a-1-s1", "resource a-1-s1: items/a-1-s1.xml has no <file> entry"},
		{"no such file", "imsmanifest.xml", `items/a-1-s1.xml`, `items/b.xml`, "a-1-s1", `there is no file "items/b.xml" in the package`},
		{"picture not listed", "imsmanifest.xml", `<file href="items/pictures/a-1-s1.svg"/>`, ``, "a-1-s1", `shows "pictures/a-1-s1.svg", which the manifest does not list for it`},
		{"picture from elsewhere", choiceItem, `src="pictures/a-1-s1.svg"`, `src="https://example.org/x.svg"`, "a-1-s1", "which the manifest does not list"},
		{"path out of the package", "imsmanifest.xml", `href="items/a-1-s1.xml"`, `href="../items/a-1-s1.xml"`, "a-1-s1", `href "../items/a-1-s1.xml"; write the path of a file in the package`},
		{"resource twice", "imsmanifest.xml", `<resource identifier="a-2-s1"`, `<resource identifier="a-1-s1"`, "a-1-s1", `identifier "a-1-s1" stands twice`},
		{"resource without identifier", "imsmanifest.xml", `<resource identifier="a-1-s1"`, `<resource`, "", `identifier ""`},
		{"moved by xml:base", "imsmanifest.xml", `<resource identifier="a-1-s1"`, `<resource xml:base="items/" identifier="a-1-s1"`, "a-1-s1", "xml:base is not read"},
	} {
		files := maps.Clone(good)
		if !strings.Contains(files[tc.file], tc.old) {
			t.Errorf("%s: %s has no %s:\n%s", tc.name, tc.file, tc.old, files[tc.file])
			continue
		}
		files[tc.file] = strings.ReplaceAll(files[tc.file], tc.old, tc.new)
		imported, err := Import("q.zip", pack(t, files))
		if err != nil {
			t.Errorf("%s: %v", tc.name, err)
			continue
		}
		if len(imported.Left) != 1 || imported.Left[0].Identifier != tc.left || len(imported.Items) != 4 {
			t.Errorf("%s: %d items read, left out %+v; want 4, and %q left out\n%v", tc.name, len(imported.Items), imported.Left, tc.left, imported.Report)
		}
		if !slices.ContainsFunc(imported.Report, func(n Note) bool { return n.Line > 0 && strings.Contains(n.String(), tc.want) }) {
			t.Errorf("%s: report %v; want %q", tc.name, imported.Report, tc.want)
		}
	}
}

// TestWhatIsOnlyNoted: things that do not bear on the score are told, and the item is
// read all the same.
func TestWhatIsOnlyNoted(t *testing.T) {
	t.Parallel()
	_, good := unpack(t, packageOf(t, mutationSet(t), QTIOptions{Draw: drawing}))
	for _, tc := range []struct{ name, file, old, new, want string }{
		{"style sheet", choiceItem, `<qti-item-body>`, `<qti-stylesheet href="x.css" type="text/css"/><qti-item-body>`, "<qti-stylesheet> is not read"},
		{"no title", choiceItem, ` title="a-1"`, ``, "title is missing"},
		{"feedback nothing shows", choiceItem, `outcome-identifier="FEEDBACK" identifier="WHY"`, `outcome-identifier="FEEDBACK" identifier="WHO"`, "feedback WHO: no rule that is understood shows it"},
		{"feedback to hide", choiceItem, `identifier="WHY" show-hide="show"`, `identifier="WHY" show-hide="hide"`, `show-hide is "hide"`},
		{"feedback by chance", choiceItem, `<qti-multiple>`, `<qti-multiple><qti-random><qti-variable identifier="FEEDBACK"/></qti-random>`, "<qti-random> in the value of FEEDBACK is not understood"},
		{"picture without words", choiceItem, `<img src="pictures/a-1-s1.svg" alt="A pint jar with 1/2 in (13 mm) of headspace. The lid lies flat under its band."/>`, `<img src="pictures/a-1-s1.svg"/>`, "has no words"},
		{"unknown attribute", choiceItem, `title="a-1"`, `title="a-1" mood="good"`, "attribute mood is not understood"},
		{"weight in the test", "test.xml", `<qti-assessment-item-ref identifier="a-1-s1" href="items/a-1-s1.xml"/>`, `<qti-assessment-item-ref identifier="a-1-s1" href="items/a-1-s1.xml"><qti-weight identifier="w" value="2"/></qti-assessment-item-ref>`, "test.xml:15: <qti-weight> is not read"},
		{"item not in the package", "test.xml", `href="items/a-1-s1.xml"`, `href="items/a-9-s1.xml"`, `"items/a-9-s1.xml" is no item that the manifest lists`},
		{"item asked for twice", "test.xml", `<qti-assessment-item-ref identifier="a-2-s1"`, `<qti-assessment-item-ref identifier="a-1-s1"`, `identifier "a-1-s1" stands twice in the test`},
		{"no test", "imsmanifest.xml", `href="test.xml"`, `href="tests.xml"`, `there is no file "tests.xml" in the package`},
		{"needs what is not there", "imsmanifest.xml", `<dependency identifierref="a-1-s1"/>`, `<dependency identifierref="a-9-s1"/>`, `there is no resource "a-9-s1"`},
		{"metadata", "imsmanifest.xml", `</metadata>`, `<lom/></metadata>`, "metadata <lom> is not read"},
		{"another schema", "imsmanifest.xml", `QTI Package`, `Course Package`, `schema is "Course Package"; "QTI Package" is read`},
		{"other resources", "imsmanifest.xml", `imsqti_test_xmlv3p0`, `webcontent`, `resource test of type "webcontent" is not read`},
	} {
		files := maps.Clone(good)
		if !strings.Contains(files[tc.file], tc.old) {
			t.Errorf("%s: %s has no %s:\n%s", tc.name, tc.file, tc.old, files[tc.file])
			continue
		}
		files[tc.file] = strings.ReplaceAll(files[tc.file], tc.old, tc.new)
		imported, err := Import("q.zip", pack(t, files))
		if err != nil || len(imported.Items) != 5 || len(imported.Left) != 0 {
			t.Errorf("%s: %d items, left out %v, %v", tc.name, len(imported.Items), imported.Left, err)
		}
		if len(imported.Report) == 0 || !strings.Contains(fmt.Sprint(imported.Report), tc.want) {
			t.Errorf("%s: report %v; want %q", tc.name, imported.Report, tc.want)
		}
	}
}

// TestOtherItems: items as others write them, and one with a computed score that is
// more than right or wrong.
func TestOtherItems(t *testing.T) {
	t.Parallel()
	declaration := `<qti-response-declaration identifier="RESPONSE" cardinality="single" base-type="identifier"><qti-correct-response><qti-value>A</qti-value></qti-correct-response></qti-response-declaration>`
	item := one(t, item30(declaration, `<div class="x"><p>H<sub>2</sub>O at 10<sup>2</sup> °C &amp; <strong>more</strong>:</p><ul><li>one</li><li>two</li></ul></div>
		<qti-choice-interaction response-identifier="RESPONSE" max-choices="1"><qti-prompt>Which <em>one</em>?</qti-prompt>`+simple("A", "B")+`</qti-choice-interaction>`,
		`<qti-response-processing><qti-response-condition><qti-response-if><qti-match><qti-variable identifier="RESPONSE"/><qti-correct identifier="RESPONSE"/></qti-match>
		<qti-set-outcome-value identifier="SCORE"><qti-base-value base-type="integer">3</qti-base-value></qti-set-outcome-value></qti-response-if></qti-response-condition></qti-response-processing>`))
	if want := "H2O at 10^2 °C & more:\none\ntwo\nWhich one?"; item.Stem != want {
		t.Errorf("stem %q, want %q", item.Stem, want)
	}
	check(t, "three points", item, []scored{{"A", 3}, {"B", 0}})

	for _, tc := range []struct{ name, processing, want string }{
		{"nothing", ``, "0 times response processing"},
		{"empty", `<qti-response-processing/>`, "neither a template nor a rule"},
		{"partly right", `<qti-response-processing><qti-response-condition><qti-response-if><qti-match><qti-variable identifier="RESPONSE"/><qti-correct identifier="RESPONSE"/></qti-match>
			<qti-set-outcome-value identifier="SCORE"><qti-base-value base-type="float">2</qti-base-value></qti-set-outcome-value></qti-response-if>
			<qti-response-else><qti-set-outcome-value identifier="SCORE"><qti-base-value base-type="float">1</qti-base-value></qti-set-outcome-value></qti-response-else></qti-response-condition></qti-response-processing>`, "this rule for SCORE is not understood"},
		{"computed", `<qti-response-processing><qti-set-outcome-value identifier="SCORE"><qti-sum><qti-map-response identifier="RESPONSE"/></qti-sum></qti-set-outcome-value></qti-response-processing>`, "this <qti-set-outcome-value> is not understood"},
		{"hidden in a feedback rule", `<qti-response-processing template="https://purl.imsglobal.org/spec/qti/v3p0/rptemplates/match_correct.xml"><qti-response-condition><qti-response-if><qti-is-null><qti-variable identifier="RESPONSE"/></qti-is-null>
			<qti-response-condition><qti-response-if><qti-is-null><qti-variable identifier="RESPONSE"/></qti-is-null><qti-set-outcome-value identifier="SCORE"><qti-base-value base-type="float">5</qti-base-value></qti-set-outcome-value></qti-response-if></qti-response-condition>
			</qti-response-if></qti-response-condition></qti-response-processing>`, "is not understood"},
		{"rules that set no score", `<qti-response-processing template="https://purl.imsglobal.org/spec/qti/v3p0/rptemplates/match_correct.xml"><qti-set-outcome-value identifier="MAXSCORE"><qti-base-value base-type="float">5</qti-base-value></qti-set-outcome-value></qti-response-processing>`, "no rule sets SCORE"},
		{"a map without one", mapResponse, "it is scored by a mapping, and there is none"},
	} {
		imported, err := Import("x.xml", []byte(item30(declaration, choices30(1, "A", "B"), tc.processing)))
		if err != nil || len(imported.Items) != 0 || len(imported.Left) != 1 || !strings.Contains(fmt.Sprint(imported.Report), tc.want) {
			t.Errorf("%s: %d items, report %v, %v; want %q", tc.name, len(imported.Items), imported.Report, err, tc.want)
		}
	}
}

// TestBadMaps: Mapping in the QTI 3.0 information model.
func TestBadMaps(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct{ mapping, want string }{
		{`<qti-mapping><qti-map-entry map-key="Z" mapped-value="1"/></qti-mapping>`, `the mapped value "Z": it is not among the choices`},
		{`<qti-mapping><qti-map-entry map-key="A" mapped-value="one"/></qti-mapping>`, `mapped-value is "one"`},
		{`<qti-mapping><qti-map-entry map-key="A"/></qti-mapping>`, `needs a key and a value`},
		{`<qti-mapping><qti-map-entry map-key="A" mapped-value="1"/><qti-map-entry map-key="A" mapped-value="2"/></qti-mapping>`, `"A" is mapped twice`},
		{`<qti-mapping lower-bound="2" upper-bound="1"><qti-map-entry map-key="A" mapped-value="1"/></qti-mapping>`, `lower-bound 2 is above upper-bound 1`},
		{`<qti-mapping default-value=""><qti-map-entry map-key="A" mapped-value="1"/></qti-mapping>`, `default-value is ""`},
		{`<qti-mapping/>`, `the mapping is empty`},
		{`<qti-area-mapping/>`, `<qti-area-mapping> of the response is not understood`},
	} {
		xml := item30(`<qti-response-declaration identifier="RESPONSE" cardinality="multiple" base-type="identifier">`+tc.mapping+`</qti-response-declaration>`, choices30(0, "A", "B"), mapResponse)
		imported, err := Import("x.xml", []byte(xml))
		if err != nil || len(imported.Items) != 0 || !strings.Contains(fmt.Sprint(imported.Report), tc.want) {
			t.Errorf("%s: %d items, report %v, %v; want %q", tc.mapping, len(imported.Items), imported.Report, err, tc.want)
		}
	}
}

// entryFile is one file of a zip that says what it likes of itself.
type entryFile struct {
	name     string
	data     []byte
	declared uint64 // size; 0 for the true one
	mode     fs.FileMode
}

func rawZip(t *testing.T, entries []entryFile) []byte {
	t.Helper()
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for _, e := range entries {
		var packed bytes.Buffer
		method := zip.Store
		if len(e.data) > 0 {
			method = zip.Deflate
			deflate, err := flate.NewWriter(&packed, flate.BestSpeed)
			if err != nil {
				t.Fatal(err)
			}
			if _, err := deflate.Write(e.data); err != nil {
				t.Fatal(err)
			}
			if err := deflate.Close(); err != nil {
				t.Fatal(err)
			}
		}
		header := &zip.FileHeader{Name: e.name, Method: method, CRC32: crc32.ChecksumIEEE(e.data), CompressedSize64: uint64(packed.Len()), UncompressedSize64: uint64(len(e.data))}
		if e.declared > 0 {
			header.UncompressedSize64 = e.declared
		}
		if e.mode != 0 {
			header.SetMode(e.mode)
		}
		f, err := w.CreateRaw(header)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := f.Write(packed.Bytes()); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// TestHostileZips: the dangers that OWASP names for archives: bombs, names that lead
// out, links. Each is refused whole, before anything is unpacked.
func TestHostileZips(t *testing.T) {
	t.Parallel()
	_, good := unpack(t, packageOf(t, mutationSet(t), QTIOptions{}))
	manifest := entryFile{name: "imsmanifest.xml", data: []byte(good["imsmanifest.xml"])}
	many := []entryFile{manifest}
	for i := range 10_000 {
		many = append(many, entryFile{name: fmt.Sprint("f", i)})
	}
	var large []entryFile
	for i := range 65 {
		large = append(large, entryFile{name: fmt.Sprint("f", i), declared: 1 << 20})
	}
	for _, tc := range []struct {
		name, want string
		entries    []entryFile
	}{
		{"parent", `"../evil.xml" is no name of a file in a package`, []entryFile{manifest, {name: "../evil.xml"}}},
		{"hidden parent", `no name of a file`, []entryFile{manifest, {name: "items/../../evil.xml"}}},
		{"root", `no name of a file`, []entryFile{manifest, {name: "/etc/passwd"}}},
		{"backslash", `no name of a file`, []entryFile{manifest, {name: `items\..\evil.xml`}}},
		{"drive", `no name of a file`, []entryFile{manifest, {name: "C:evil.xml"}}},
		{"zero byte", `no name of a file`, []entryFile{manifest, {name: "evil\x00.xml"}}},
		{"line end", `no name of a file`, []entryFile{manifest, {name: "a\nb.xml"}}},
		{"no name", `no name of a file`, []entryFile{manifest, {name: ""}}},
		{"twice", `"imsmanifest.xml" stands twice`, []entryFile{manifest, manifest}},
		{"twice but for capitals", `stands twice`, []entryFile{manifest, {name: "IMSmanifest.xml"}}},
		{"link", `is no plain file`, []entryFile{manifest, {name: "a.xml", data: []byte("/etc/passwd"), mode: fs.ModeSymlink | 0o777}}},
		{"too many", `10001 files; a package may have 10000`, many},
		{"large by its own word", `more than 64 MB when unpacked`, []entryFile{manifest, {name: "big.xml", declared: 1 << 40}}},
		{"sum that wraps around", `more than 64 MB when unpacked`, []entryFile{{name: "a", declared: 1<<64 - 1}, {name: "b", declared: 2}, manifest}},
		{"large in sum", `more than 64 MB when unpacked`, large},
		{"no manifest", `there is no imsmanifest.xml at the root`, []entryFile{{name: "package/imsmanifest.xml"}}},
		{"manifest larger than it says", `imsmanifest.xml`, []entryFile{{name: "imsmanifest.xml", data: make([]byte, 5<<20), declared: 100}}},
		{"manifest too large", `imsmanifest.xml: longer than 4 MB when unpacked`, []entryFile{{name: "imsmanifest.xml", data: make([]byte, 5<<20)}}},
		{"no QTI", `is no manifest of QTI 3.0 or 2.2`, []entryFile{{name: "imsmanifest.xml", data: []byte("<manifest/>")}}},
		{"entities in the manifest", `imsmanifest.xml:1: document types and entities are refused`, []entryFile{{name: "imsmanifest.xml", data: []byte(`<!DOCTYPE m [<!ENTITY a "b">]><manifest>&a;</manifest>`)}}},
	} {
		imported, err := Import("q.zip", rawZip(t, tc.entries))
		if err == nil || !strings.Contains(err.Error(), tc.want) || len(imported.Items) > 0 {
			t.Errorf("%s: %d items, error %v; want %q", tc.name, len(imported.Items), err, tc.want)
		}
	}
	for _, tc := range []struct{ name, data, want string }{
		{"no zip", "PK\x03\x04 and no more", "not a valid zip file"},
		{"nothing", "", "x:1: there is no element in it"},
		{"text", "Is it hot?", "x:1: text outside of the root element"},
		{"deep", strings.Repeat("<a>", 100), "x:1: more than 64 elements in each other"},
		{"wide", "<a>" + strings.Repeat("<b/>", 200_001) + "</a>", "x:1: more than 200000 elements and texts"},
		{"attributes", "<a " + attributes(65) + "/>", "x:1: more than 64 attributes"},
		{"long", "<a>" + strings.Repeat("b", 4<<20) + "</a>", "longer than 4 MB"},
	} {
		if _, err := Import("x", []byte(tc.data)); err == nil || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%s: error %v; want %q", tc.name, err, tc.want)
		}
	}
}

func attributes(n int) string {
	s := ""
	for i := range n {
		s += fmt.Sprintf(` a%d=""`, i)
	}
	return s
}

// TestBombsTakeLittleMemory: an item of 64 MB in a package of less than 1 MB, which
// says that it is small. It runs alone, since it measures what the whole program takes.
func TestBombsTakeLittleMemory(t *testing.T) {
	_, good := unpack(t, packageOf(t, mutationSet(t), QTIOptions{}))
	bomb := make([]byte, 64<<20)
	copy(bomb, good[choiceItem])
	var entries []entryFile
	for _, name := range slices.Sorted(maps.Keys(good)) {
		e := entryFile{name: name, data: []byte(good[name])}
		if name == choiceItem {
			e.data, e.declared = bomb, 3000
		}
		entries = append(entries, e)
	}
	data := rawZip(t, entries)
	if len(data) > 1<<20 {
		t.Fatalf("the package has %d bytes", len(data))
	}
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	imported, err := Import("q.zip", data)
	runtime.ReadMemStats(&after)
	if took := (after.TotalAlloc - before.TotalAlloc) >> 20; took > 32 {
		t.Errorf("the bomb took %d MB", took)
	}
	if err != nil || len(imported.Items) != 4 || len(imported.Left) != 1 || imported.Left[0].Identifier != "a-1-s1" {
		t.Errorf("%d items, left out %v, report %v, %v", len(imported.Items), imported.Left, imported.Report, err)
	}
}

// TestReportsEnd: whoever reads a report is not buried, and neither is the memory.
func TestReportsEnd(t *testing.T) {
	t.Parallel()
	declaration := `<qti-response-declaration identifier="RESPONSE" cardinality="single" base-type="identifier"><qti-correct-response><qti-value>A</qti-value></qti-correct-response></qti-response-declaration>`
	long := strings.Repeat("x", 5000)
	xml := item30(declaration, choices30(1, "A", "B"), matchCorrect+strings.Repeat(`<qti-modal-feedback outcome-identifier="F" identifier="`+long+`" show-hide="hide">x</qti-modal-feedback>`, 300)+strings.Repeat("<qti-stylesheet/>", 2000))
	imported, err := Import("x.xml", []byte(xml))
	if err != nil || len(imported.Items) != 1 {
		t.Fatalf("%d items, %v", len(imported.Items), err)
	}
	if n := len(imported.Report); n != 1000 || imported.Report[n-1].Message != "and more; the report ends here" {
		t.Errorf("the report has %d notes, the last %v", n, imported.Report[n-1])
	}
	out, err := json.Marshal(imported)
	if err != nil || len(out) > 1<<20 {
		t.Errorf("as JSON it has %d bytes, %v", len(out), err)
	}
}
