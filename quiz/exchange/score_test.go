package exchange

import (
	"fmt"
	"strings"
	"testing"
)

// item30 writes an item of QTI 3.0 around its parts.
func item30(declaration, body, processing string) string {
	return `<?xml version="1.0" encoding="UTF-8"?>
<qti-assessment-item xmlns="http://www.imsglobal.org/xsd/imsqtiasi_v3p0" identifier="x" title="X" adaptive="false" time-dependent="false">
` + declaration + `
<qti-outcome-declaration identifier="SCORE" cardinality="single" base-type="float"><qti-default-value><qti-value>0</qti-value></qti-default-value></qti-outcome-declaration>
<qti-item-body>` + body + `</qti-item-body>
` + processing + `
</qti-assessment-item>`
}

const (
	matchCorrect = `<qti-response-processing template="https://purl.imsglobal.org/spec/qti/v3p0/rptemplates/match_correct.xml"/>`
	mapResponse  = `<qti-response-processing template="https://purl.imsglobal.org/spec/qti/v3p0/rptemplates/map_response.xml"/>`
)

// choices30 writes a choice interaction.
func choices30(most int, ids ...string) string {
	s := fmt.Sprintf(`<p>Which?</p><qti-choice-interaction response-identifier="RESPONSE" shuffle="true" max-choices="%d">`, most)
	for _, id := range ids {
		s += `<qti-simple-choice identifier="` + id + `">This is ` + id + `</qti-simple-choice>`
	}
	return s + `</qti-choice-interaction>`
}

const entry30 = `<p>Name it: <qti-text-entry-interaction response-identifier="RESPONSE" expected-length="15"/></p>`

// one reads a single item that must be understood whole.
func one(t *testing.T, xml string) *ImportedItem {
	t.Helper()
	imported, err := Import("x.xml", []byte(xml))
	if err != nil {
		t.Fatal(err)
	}
	if len(imported.Items) != 1 || len(imported.Report) > 0 {
		t.Fatalf("%d items, report %v", len(imported.Items), imported.Report)
	}
	return &imported.Items[0]
}

type scored struct {
	answer string // parts parted by commas, "" for none
	want   float64
}

func check(t *testing.T, name string, item *ImportedItem, cases []scored) {
	t.Helper()
	for _, tc := range cases {
		var answer []string
		if tc.answer != "" {
			answer = strings.Split(tc.answer, ",")
		}
		if got, err := item.Score(answer); err != nil || got != tc.want {
			t.Errorf("%s: answer {%s} scores %v, %v; want %v", name, tc.answer, got, err, tc.want)
		}
	}
}

// TestScores: the declared maps and keys of official sample items of QTI 3.0 (1EdTech),
// written anew, and the example of MapResponse in the QTI 3.0 information model, section
// 2.11.1.5.
func TestScores(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name, xml string
		cases     []scored
	}{
		{
			"composition of water", item30(`<qti-response-declaration identifier="RESPONSE" cardinality="multiple" base-type="identifier">
				<qti-correct-response><qti-value>H</qti-value><qti-value>O</qti-value></qti-correct-response>
				<qti-mapping lower-bound="0" upper-bound="2" default-value="-2">
				<qti-map-entry map-key="H" mapped-value="1"/><qti-map-entry map-key="O" mapped-value="1"/><qti-map-entry map-key="Cl" mapped-value="-1"/>
				</qti-mapping></qti-response-declaration>`, choices30(0, "H", "He", "C", "O", "N", "Cl"), mapResponse),
			[]scored{{"H,O", 2}, {"O,H", 2}, {"H", 1}, {"H,Cl", 0}, {"He", 0}, {"H,O,Cl", 1}, {"H,O,N", 0}, {"", 0}},
		},
		{
			"characters and plays", item30(`<qti-response-declaration identifier="RESPONSE" cardinality="multiple" base-type="directedPair">
				<qti-correct-response><qti-value>C R</qti-value><qti-value>D M</qti-value><qti-value>L M</qti-value><qti-value>P T</qti-value></qti-correct-response>
				<qti-mapping default-value="0">
				<qti-map-entry map-key="C R" mapped-value="1"/><qti-map-entry map-key="D M" mapped-value="0.5"/><qti-map-entry map-key="L M" mapped-value="0.5"/><qti-map-entry map-key="P T" mapped-value="1"/>
				</qti-mapping></qti-response-declaration>`, `<qti-match-interaction response-identifier="RESPONSE" shuffle="true" max-associations="4">
				<qti-simple-match-set>`+associable("1", "C", "D", "L", "P")+`</qti-simple-match-set><qti-simple-match-set>`+associable("4", "M", "R", "T")+`</qti-simple-match-set></qti-match-interaction>`, mapResponse),
			[]scored{{"C R,D M,L M,P T", 3}, {"P T,L M,D M,C R", 3}, {"C R,D T", 1}, {"D M,L M", 1}, {"D R", 0}, {"", 0}},
		},
		{
			"text entry", item30(`<qti-response-declaration identifier="RESPONSE" cardinality="single" base-type="string">
				<qti-correct-response><qti-value>York</qti-value></qti-correct-response>
				<qti-mapping default-value="0"><qti-map-entry map-key="York" mapped-value="1"/><qti-map-entry map-key="york" mapped-value="0.5"/></qti-mapping>
				</qti-response-declaration>`, entry30, mapResponse),
			[]scored{{"York", 1}, {"york", 0.5}, {"Lancaster", 0}, {"", 0}},
		},
		{
			"podium", item30(`<qti-response-declaration identifier="RESPONSE" cardinality="ordered" base-type="identifier">
				<qti-correct-response><qti-value>C</qti-value><qti-value>A</qti-value><qti-value>B</qti-value></qti-correct-response></qti-response-declaration>`,
				`<qti-order-interaction response-identifier="RESPONSE" shuffle="true"><qti-prompt>Who came first?</qti-prompt>`+simple("A", "B", "C")+`</qti-order-interaction>`, matchCorrect),
			[]scored{{"C,A,B", 1}, {"A,C,B", 0}, {"C,A", 0}, {"", 0}},
		},
		{
			"match correct takes pairs in any order", item30(`<qti-response-declaration identifier="RESPONSE" cardinality="multiple" base-type="directedPair">
				<qti-correct-response><qti-value>C R</qti-value><qti-value>D M</qti-value></qti-correct-response></qti-response-declaration>`,
				`<qti-match-interaction response-identifier="RESPONSE" max-associations="2">
				<qti-simple-match-set>`+associable("1", "C", "D")+`</qti-simple-match-set><qti-simple-match-set>`+associable("2", "M", "R")+`</qti-simple-match-set></qti-match-interaction>`, matchCorrect),
			[]scored{{"C R,D M", 1}, {"D M,C R", 1}, {"C R", 0}, {"C R,D R", 0}},
		},
		{
			"example of MapResponse", item30(`<qti-response-declaration identifier="RESPONSE" cardinality="multiple" base-type="identifier">
				<qti-mapping default-value="0"><qti-map-entry map-key="A" mapped-value="0"/><qti-map-entry map-key="B" mapped-value="1"/><qti-map-entry map-key="C" mapped-value="0.5"/><qti-map-entry map-key="D" mapped-value="0"/></qti-mapping>
				</qti-response-declaration>`, choices30(0, "A", "B", "C", "D"), mapResponse),
			[]scored{{"C", 0.5}, {"C,B", 1.5}, {"B,B,C", 1.5}},
		},
		{
			"the same, one answer", item30(`<qti-response-declaration identifier="RESPONSE" cardinality="single" base-type="identifier">
				<qti-mapping default-value="-1" upper-bound="0.25"><qti-map-entry map-key="A" mapped-value="0"/><qti-map-entry map-key="C" mapped-value="0.5"/></qti-mapping>
				</qti-response-declaration>`, choices30(1, "A", "B", "C", "D"), mapResponse),
			[]scored{{"C", 0.25}, {"A", 0}, {"D", -1}, {"", 0}},
		},
	} {
		check(t, tc.name, one(t, tc.xml), tc.cases)
	}
}

func simple(ids ...string) string {
	s := ""
	for _, id := range ids {
		s += `<qti-simple-choice identifier="` + id + `">This is ` + id + `</qti-simple-choice>`
	}
	return s
}

func associable(most string, ids ...string) string {
	s := ""
	for _, id := range ids {
		s += `<qti-simple-associable-choice identifier="` + id + `" match-max="` + most + `">This is ` + id + `</qti-simple-associable-choice>`
	}
	return s
}

// TestImpossibleAnswersHaveNoScore: nobody could give them in the item.
func TestImpossibleAnswersHaveNoScore(t *testing.T) {
	t.Parallel()
	declaration := `<qti-response-declaration identifier="RESPONSE" cardinality="single" base-type="identifier"><qti-correct-response><qti-value>A</qti-value></qti-correct-response></qti-response-declaration>`
	item := one(t, item30(declaration, choices30(1, "A", "B"), matchCorrect))
	for _, answer := range [][]string{{"C"}, {"A", "B"}, {""}} {
		if got, err := item.Score(answer); err == nil {
			t.Errorf("answer %q scores %v; want an error", answer, got)
		}
	}
}

// TestTemplates: official sample items of QTI 3.0 name the templates by four addresses;
// QTI 2.2 has its own.
func TestTemplates(t *testing.T) {
	t.Parallel()
	declaration := `<qti-response-declaration identifier="RESPONSE" cardinality="single" base-type="identifier"><qti-correct-response><qti-value>A</qti-value></qti-correct-response></qti-response-declaration>`
	for _, address := range []string{
		"https://www.imsglobal.org/question/qti_v3p0/rptemplates/match_correct.xml",
		"https://purl.imsglobal.org/spec/qti/v3p0/rptemplates/match_correct.xml",
		"https://purl.imsglobal.org/spec/qti/v3p0/rptemplates/match_correct",
		"https://www.imsglobal.org/question/qti_v3p0/rptemplates/match_correct",
	} {
		item := one(t, item30(declaration, choices30(1, "A", "B"), `<qti-response-processing template="`+address+`"/>`))
		check(t, address, item, []scored{{"A", 1}, {"B", 0}})
	}
	for _, address := range []string{
		"http://www.imsglobal.org/question/qti_v2p2/rptemplates/match_correct",
		"https://purl.imsglobal.org/spec/qti/v3p0/rptemplates/map_response_point.xml",
		"https://example.org/rptemplates/match_correct.xml",
		"",
	} {
		imported, err := Import("x.xml", []byte(item30(declaration, choices30(1, "A", "B"), `<qti-response-processing template="`+address+`"/>`)))
		if err != nil || len(imported.Items) != 0 || len(imported.Left) != 1 {
			t.Errorf("template %q: %d items, %v; want the item left out", address, len(imported.Items), err)
		}
	}
	item := one(t, `<assessmentItem xmlns="http://www.imsglobal.org/xsd/imsqti_v2p2" identifier="x" title="X" adaptive="false" timeDependent="false">
		<responseDeclaration identifier="RESPONSE" cardinality="single" baseType="identifier"><correctResponse><value>A</value></correctResponse></responseDeclaration>
		<outcomeDeclaration identifier="SCORE" cardinality="single" baseType="float"/>
		<itemBody><choiceInteraction responseIdentifier="RESPONSE" shuffle="false" maxChoices="1"><prompt>Which?</prompt><simpleChoice identifier="A">a</simpleChoice><simpleChoice identifier="B">b</simpleChoice></choiceInteraction></itemBody>
		<responseProcessing template="http://www.imsglobal.org/question/qti_v2p2/rptemplates/match_correct"/></assessmentItem>`)
	check(t, "2.2", item, []scored{{"A", 1}, {"B", 0}})
	if item.Stem != "Which?" || item.Options[1].Text != "b" {
		t.Errorf("read as %+v", item)
	}
}

// TestTolerances: Equal in the QTI 3.0 information model. The tolerance lies around the
// expression that stands first; its ends count unless they are taken out.
func TestTolerances(t *testing.T) {
	t.Parallel()
	variable, correct := `<qti-variable identifier="RESPONSE"/>`, `<qti-correct identifier="RESPONSE"/>`
	for _, tc := range []struct {
		attributes, first, second, key string
		cases                          []scored
	}{
		{`tolerance-mode="absolute" tolerance="0.5"`, variable, correct, "83", []scored{{"83", 1}, {"82.5", 1}, {"83.5", 1}, {"83.51", 0}, {"82.49", 0}, {"8.3e1", 1}, {" 83 ", 1}, {"83 min", 0}, {"", 0}, {"1e999", 0}}},
		{`tolerance-mode="absolute" tolerance="1 2"`, correct, variable, "10", []scored{{"9", 1}, {"8.9", 0}, {"12", 1}, {"12.1", 0}}},
		{`tolerance-mode="absolute" tolerance="1 2"`, variable, correct, "10", []scored{{"8", 1}, {"7.9", 0}, {"11", 1}, {"11.1", 0}}},
		{`tolerance-mode="absolute" tolerance="1" include-lower-bound="false" include-upper-bound="false"`, correct, variable, "10", []scored{{"9", 0}, {"9.1", 1}, {"11", 0}}},
		{`tolerance-mode="relative" tolerance="5.0 5.0"`, correct, variable, "200", []scored{{"190", 1}, {"210", 1}, {"189.9", 0}, {"210.1", 0}}},
		{`tolerance-mode="relative" tolerance="5"`, correct, variable, "-200", []scored{{"-190", 1}, {"-210", 1}, {"-211", 0}}},
		{`tolerance-mode="exact"`, variable, correct, "83", []scored{{"83", 1}, {"83.0", 1}, {"83.001", 0}}},
		{`tolerance-mode="absolute" tolerance="0.5"`, variable, `<qti-base-value base-type="float">83</qti-base-value>`, "83.0", []scored{{"83.5", 1}, {"84", 0}}},
	} {
		xml := item30(`<qti-response-declaration identifier="RESPONSE" cardinality="single" base-type="float"><qti-correct-response><qti-value>`+tc.key+`</qti-value></qti-correct-response></qti-response-declaration>`, entry30,
			`<qti-response-processing><qti-response-condition><qti-response-if><qti-equal `+tc.attributes+`>`+tc.first+tc.second+`</qti-equal>
			<qti-set-outcome-value identifier="SCORE"><qti-base-value base-type="float">1</qti-base-value></qti-set-outcome-value></qti-response-if></qti-response-condition></qti-response-processing>`)
		check(t, tc.attributes+" "+tc.first, one(t, xml), tc.cases)
	}
	// match_correct asks for the very number (QTI 3.0 information model, Match).
	exact := one(t, item30(`<qti-response-declaration identifier="RESPONSE" cardinality="single" base-type="float"><qti-correct-response><qti-value>0.5</qti-value></qti-correct-response></qti-response-declaration>`, entry30, matchCorrect))
	check(t, "match", exact, []scored{{"0.5", 1}, {".50", 1}, {"0.51", 0}})
}

// TestMappingWrittenAsRules: the template map_response, written out.
func TestMappingWrittenAsRules(t *testing.T) {
	t.Parallel()
	item := one(t, item30(`<qti-response-declaration identifier="ANSWER" cardinality="multiple" base-type="identifier">
		<qti-mapping lower-bound="0" default-value="-1"><qti-map-entry map-key="A" mapped-value="2"/><qti-map-entry map-key="B" mapped-value="1"/></qti-mapping></qti-response-declaration>`,
		strings.ReplaceAll(choices30(0, "A", "B", "C"), "RESPONSE", "ANSWER"),
		`<qti-response-processing><qti-response-condition><qti-response-if><qti-is-null><qti-variable identifier="ANSWER"/></qti-is-null>
		<qti-set-outcome-value identifier="SCORE"><qti-base-value base-type="float">0.0</qti-base-value></qti-set-outcome-value></qti-response-if>
		<qti-response-else><qti-set-outcome-value identifier="SCORE"><qti-map-response identifier="ANSWER"/></qti-set-outcome-value></qti-response-else></qti-response-condition></qti-response-processing>`))
	check(t, "rules", item, []scored{{"A,B", 3}, {"A,C", 1}, {"C", 0}, {"", 0}})
}
