package exchange

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"
)

// minimal has what every statement needs: xAPI 1.0.3 Data, section 2.2; IEEE 9274.1.1.
const minimal = `{"actor":{"account":{"homePage":"https://class.example","name":"l-1"}},"verb":{"id":"http://adlnet.gov/expapi/verbs/answered"},"object":{"id":"https://class.example/questions/a-1"}}`

// with puts something into a minimal statement: key paths and raw JSON. An empty text
// takes the key away.
func with(t *testing.T, changes ...string) []byte {
	t.Helper()
	var tree map[string]any
	if err := json.Unmarshal([]byte(minimal), &tree); err != nil {
		t.Fatal(err)
	}
	for i := 0; i < len(changes); i += 2 {
		at := tree
		path := strings.Split(changes[i], ".")
		for _, key := range path[:len(path)-1] {
			next, ok := at[key].(map[string]any)
			if !ok {
				next = map[string]any{}
				at[key] = next
			}
			at = next
		}
		if changes[i+1] == "" {
			delete(at, path[len(path)-1])
		} else {
			at[path[len(path)-1]] = json.RawMessage(changes[i+1])
		}
	}
	out, err := json.Marshal(tree)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

const (
	somebody = `{"mbox":"mailto:a@example.org"}`
	someID   = `"6ba7b811-9dad-11d1-80b4-00c04fd430c8"`
	asks     = `{"type":"http://adlnet.gov/expapi/activities/cmi.interaction","interactionType":"`
)

// TestStatements holds the validator against the rules of xAPI 1.0.3 Data (its section
// before each group) and of IEEE 9274.1.1 (2.0), by cases of our own and those of the
// conformance tests for record stores that the rules quote.
func TestStatements(t *testing.T) {
	t.Parallel()
	accept := [][]string{
		{},
		// 2.4.1 and 2.4.7: ids and times; 2.0 takes RFC 3339.
		{"id", someID},
		{"timestamp", `"2026-08-20T15:30:00.000Z"`},
		{"timestamp", `"2026-08-20T09:30:00-06:00"`},
		{"timestamp", `"2026-08-20T15:30:00+00:00"`},
		{"timestamp", `"2026-08-20T15:30:00.123456Z"`},
		{"stored", `"2026-08-20T15:30:00Z"`, "version", `"2.0.0"`},
		{"version", `"1.0.3"`},
		{"authority", somebody},
		// 2.4.2: actors.
		{"actor", somebody},
		{"actor", `{"mbox_sha1sum":"cd9b00a5611f94eaa7b1661edab976068e364975"}`},
		{"actor", `{"openid":"https://example.org/id/1"}`},
		{"actor", `{"objectType":"Agent","name":"n","mbox":"mailto:a@example.org"}`},
		{"actor", `{"objectType":"Group","member":[` + somebody + `]}`},
		{"actor", `{"objectType":"Group","mbox":"mailto:g@example.org"}`},
		// 2.4.3, 4.2: verbs and language maps.
		{"verb.display", `{"en-US":"answered","de":"beantwortet","zh-Hant-TW":"x"}`},
		{"verb.display", `{}`},
		// 2.4.4: objects.
		{"object", `{"objectType":"Agent","mbox":"mailto:a@example.org"}`},
		{"object", `{"objectType":"StatementRef","id":` + someID + `}`},
		{"object", `{"objectType":"SubStatement","actor":` + somebody + `,"verb":{"id":"http://adlnet.gov/expapi/verbs/passed"},"object":{"id":"https://class.example/a"}}`},
		{"object.definition", `{"name":{"en":"n"},"description":{"en":"d"},"type":"http://adlnet.gov/expapi/activities/lesson","moreInfo":"https://example.org/","extensions":{"https://example.org/x":null}}`},
		{"object.definition", asks + `other"}`},
		{"object.definition", asks + `numeric","correctResponsesPattern":["4[:]"]}`, "result.response", `"6"`},
		{"object.definition", asks + `numeric","correctResponsesPattern":["4[:]6"]}`},
		{"object.definition", asks + `numeric","correctResponsesPattern":["[:]6"]}`},
		{"object.definition", asks + `numeric","correctResponsesPattern":["4"]}`, "result.response", `"-4.5e1"`},
		{"object.definition", asks + `choice","choices":[{"id":"golf"},{"id":"tetris"}],"correctResponsesPattern":["golf[,]tetris"]}`, "result.response", `"golf[,]tetris"`},
		{"object.definition", asks + `choice"}`, "result.response", `"golf"`},
		{"object.definition", asks + `matching","source":[{"id":"ben"},{"id":"chris"}],"target":[{"id":"2"},{"id":"3"}],"correctResponsesPattern":["ben[.]3[,]chris[.]2"]}`, "result.response", `"ben[.]2[,]chris[.]3"`},
		{"object.definition", asks + `sequencing","choices":[{"id":"tim"},{"id":"mike"},{"id":"ells"},{"id":"ben"}],"correctResponsesPattern":["tim[,]mike[,]ells[,]ben"]}`, "result.response", `"ben[,]tim[,]mike[,]ells"`},
		{"object.definition", asks + `true-false","correctResponsesPattern":["true"]}`, "result.response", `"false"`},
		// 2.4.5: results.
		{"result.score", `{"scaled":1.0}`},
		{"result.score", `{"scaled":-1.0000}`},
		{"result.score", `{"scaled":0}`},
		{"result.score", `{"raw":5,"min":0,"max":5}`},
		{"result.score", `{"raw":0,"min":0}`},
		{"result.score", `{"raw":-3,"max":5}`},
		{"result", `{"success":true,"completion":false,"response":"","duration":"PT1H0M0.1S","extensions":{"https://example.org/x":[1,null]}}`},
		{"result.duration", `"PT0S"`},
		{"result.duration", `"P1Y2M3DT4H5M6.78S"`},
		{"result.duration", `"P4W"`},
		{"result.duration", `"P0.5D"`},
		// 2.4.6: context.
		{"context", `{"registration":` + someID + `,"instructor":` + somebody + `,"team":{"objectType":"Group","mbox":"mailto:g@example.org"},"language":"en-US","revision":"1","platform":"p","statement":{"objectType":"StatementRef","id":` + someID + `},"extensions":{}}`},
		{"context.contextActivities", `{"parent":{"id":"https://class.example/a"},"grouping":[{"id":"https://class.example/b"}],"category":[],"other":[]}`},
		// 2.0: the new parts of the context.
		{"context.contextAgents", `[{"objectType":"contextAgent","agent":` + somebody + `,"relevantTypes":["https://example.org/x"]}]`},
		{"context.contextGroups", `[{"objectType":"contextGroup","group":{"objectType":"Group","mbox":"mailto:g@example.org"}}]`},
		// 2.4.11: attachments. 2.3.2: voiding.
		{"attachments", `[{"usageType":"https://example.org/x","display":{"en":"x"},"contentType":"text/plain","length":3,"sha2":"ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"}]`},
		{"verb.id", `"http://adlnet.gov/expapi/verbs/voided"`, "object", `{"objectType":"StatementRef","id":` + someID + `}`},
	}
	for _, changes := range accept {
		data := with(t, changes...)
		if err := ValidateStatement(data); err != nil {
			t.Errorf("%s\nis refused: %v", data, err)
		}
	}
	reject := []struct {
		want    string
		changes []string
	}{
		// 2.2: what every statement needs, and how its keys and values are written.
		{"actor is missing", []string{"actor", ""}},
		{"verb is missing", []string{"verb", ""}},
		{"object is missing", []string{"object", ""}},
		{`key "Result"`, []string{"Result", `{}`}},
		{`key "mood"`, []string{"mood", `"good"`}},
		{"result: is null", []string{"result", `null`}},
		{"verb.display: is null", []string{"verb.display", `null`}},
		{"must be an object", []string{"actor", `"a"`}},
		{"must be an object", []string{"object", `[]`}},
		{"must be true or false", []string{"result.success", `"true"`}},
		{"must be a number", []string{"result.score", `{"raw":"1"}`}},
		// 2.4.1, 2.4.7, 2.0.
		{"must be a UUID", []string{"id", `"6ba7b811-9dad-11d1-80b4"`}},
		{"must be a UUID", []string{"id", `"6ba7b8119dad11d180b400c04fd430c8"`}},
		{"must be a UUID", []string{"id", `"zba7b811-9dad-11d1-80b4-00c04fd430c8"`}},
		{"must be a UUID", []string{"id", `1`}},
		{"RFC 3339", []string{"timestamp", `"2026-08-20T15:30:00-00:00"`}},
		{"RFC 3339", []string{"timestamp", `"2026-08-20T15:30:00-0000"`}},
		{"RFC 3339", []string{"timestamp", `"2026-08-20T15:30:00-00"`}},
		{"RFC 3339", []string{"timestamp", `"2026-08-20T15:30:00"`}},
		{"RFC 3339", []string{"timestamp", `"2026-08-20"`}},
		{"RFC 3339", []string{"timestamp", `"2026-13-20T15:30:00Z"`}},
		{"RFC 3339", []string{"timestamp", `"2026-02-30T15:30:00Z"`}},
		{"RFC 3339", []string{"timestamp", `"soon"`}},
		{"RFC 3339", []string{"stored", `"2026-08-20T15:30:00-00:00"`}},
		{"1.0.x or 2.0.x", []string{"version", `"3.0"`}},
		{"1.0.x or 2.0.x", []string{"version", `"0.9.5"`}},
		// 2.4.2.
		{"has 0 identifiers", []string{"actor", `{"name":"n"}`}},
		{"has 2 identifiers", []string{"actor.mbox", `"mailto:a@example.org"`}},
		{"has 2 identifiers", []string{"actor", `{"mbox":"mailto:a@example.org","openid":"https://example.org/1"}`}},
		{"must be mailto:", []string{"actor", `{"mbox":"http://should.fail.com"}`}},
		{"must be mailto:", []string{"actor", `{"mbox":"a@example.org"}`}},
		{"must be mailto:", []string{"actor", `{"mbox":"mailto:nobody"}`}},
		{"40 hexadecimal digits", []string{"actor", `{"mbox_sha1sum":"abc"}`}},
		{"must be an absolute IRI", []string{"actor", `{"openid":"ab=c://should.fail.com"}`}},
		{"homePage is missing", []string{"actor", `{"account":{"name":"l-1"}}`}},
		{"name is missing", []string{"actor", `{"account":{"homePage":"https://class.example"}}`}},
		{"must be an absolute IRI", []string{"actor", `{"account":{"homePage":"class","name":"l-1"}}`}},
		{"an opaque id", []string{"actor", `{"account":{"homePage":"https://class.example","name":""}}`}},
		{`must be Agent`, []string{"actor", `{"objectType":"agent","mbox":"mailto:a@example.org"}`}},
		{`key "member"`, []string{"actor", `{"mbox":"mailto:a@example.org","member":[]}`}},
		{"neither an identifier nor members", []string{"actor", `{"objectType":"Group"}`}},
		{"neither an identifier nor members", []string{"actor", `{"objectType":"Group","member":[]}`}},
		{"must be Agent", []string{"actor", `{"objectType":"Group","member":[{"objectType":"Group","member":[` + somebody + `]}]}`}},
		{"two members", []string{"authority", `{"objectType":"Group","member":[` + somebody + `]}`}},
		// 2.4.3, 4.2.
		{"verb: id is missing", []string{"verb", `{"display":{"en":"x"}}`}},
		{"verb.id: is \"answered\"", []string{"verb.id", `"answered"`}},
		{"must be a language map", []string{"verb.display", `"answered"`}},
		{"no language tag", []string{"verb.display", `{"an English text":"x"}`}},
		{"must be a string", []string{"verb.display", `{"en":1}`}},
		// 2.4.4.
		{"object: id is missing", []string{"object", `{"definition":{}}`}},
		{"must be an absolute IRI", []string{"object.id", `"questions/a-1"`}},
		{"must be an absolute IRI", []string{"object.id", `"https://class.example/a b"`}},
		{"must be Activity", []string{"object.objectType", `"activity"`}},
		{"must be an absolute IRI", []string{"object.definition", `{"type":"lesson"}`}},
		{"must be an interaction type", []string{"object.definition", `{"interactionType":"essay"}`}},
		{"no interactionType", []string{"object.definition", `{"correctResponsesPattern":["a"]}`}},
		{"no interactionType", []string{"object.definition", `{"choices":[{"id":"a"}]}`}},
		{"do not belong to an interaction of type numeric", []string{"object.definition", asks + `numeric","choices":[{"id":"a"}]}`}},
		{`id "a" stands twice`, []string{"object.definition", asks + `choice","choices":[{"id":"a"},{"id":"a"}]}`}},
		{"id is missing", []string{"object.definition", asks + `choice","choices":[{"description":{"en":"a"}}]}`}},
		{"must be an array", []string{"object.definition", asks + `choice","correctResponsesPattern":"a"}`}},
		{"must be a UUID", []string{"object", `{"objectType":"StatementRef","id":"https://class.example"}`}},
		{"a SubStatement stands in another", []string{"object", `{"objectType":"SubStatement","actor":` + somebody + `,"verb":{"id":"http://x/y"},"object":{"objectType":"SubStatement"}}`}},
		{`key "id"`, []string{"object", `{"objectType":"SubStatement","id":` + someID + `,"actor":` + somebody + `,"verb":{"id":"http://x/y"},"object":{"id":"http://x/z"}}`}},
		// 2.4.4.1: how answers are written.
		{`"swim" is not among choices`, []string{"object.definition", asks + `choice","choices":[{"id":"golf"}]}`, "result.response", `"swim"`}},
		{`"golf,tetris" is not among choices`, []string{"object.definition", asks + `choice","choices":[{"id":"golf"},{"id":"tetris"}]}`, "result.response", `"golf,tetris"`}},
		{`"golf" stands twice`, []string{"object.definition", asks + `choice"}`, "result.response", `"golf[,]golf"`}},
		{`"ben 3" is no pair`, []string{"object.definition", asks + `matching"}`, "result.response", `"ben 3"`}},
		{`"3" is not among source`, []string{"object.definition", asks + `matching","source":[{"id":"ben"}],"target":[{"id":"3"}]}`, "result.response", `"3[.]ben"`}},
		{"must be a number", []string{"object.definition", asks + `numeric"}`, "result.response", `"four"`}},
		{"an answer is one number", []string{"object.definition", asks + `numeric"}`, "result.response", `"4[:]6"`}},
		{"a range is low[:]high", []string{"object.definition", asks + `numeric","correctResponsesPattern":["6[:]4"]}`}},
		{"a range is low[:]high", []string{"object.definition", asks + `numeric","correctResponsesPattern":["[:]"]}`}},
		{"must be true or false", []string{"object.definition", asks + `true-false"}`, "result.response", `"yes"`}},
		// 2.4.5.
		{"scaled: is 1.01", []string{"result.score", `{"scaled":1.01}`}},
		{"scaled: is -1.00001", []string{"result.score", `{"scaled":-1.00001}`}},
		{"scaled: is +Inf", []string{"result.score", `{"scaled":1e999}`}},
		{"raw: is 6", []string{"result.score", `{"raw":6,"max":5}`}},
		{"raw: is -1", []string{"result.score", `{"raw":-1,"min":0}`}},
		{"min must be less", []string{"result.score", `{"min":5,"max":1}`}},
		{"min must be less", []string{"result.score", `{"min":5,"max":5}`}},
		{`key "total"`, []string{"result.score", `{"total":1}`}},
		{"ISO 8601", []string{"result.duration", `"PA1H0M0S"`}},
		{"ISO 8601", []string{"result.duration", `"P"`}},
		{"ISO 8601", []string{"result.duration", `"PT"`}},
		{"ISO 8601", []string{"result.duration", `"P1DT"`}},
		{"ISO 8601", []string{"result.duration", `"1H"`}},
		{"ISO 8601", []string{"result.duration", `"PT1.5H3M"`}},
		{"ISO 8601", []string{"result.duration", `"PT-1S"`}},
		{"must be a string", []string{"result.response", `1`}},
		{"must be an absolute IRI", []string{"result.extensions", `{"rules":1}`}},
		// 2.4.6 and 2.0.
		{"must be a UUID", []string{"context.registration", `"1"`}},
		{"language tag", []string{"context.language", `"an English text"`}},
		{"must be Group", []string{"context.team", `{"objectType":"Agent","mbox":"mailto:a@example.org"}`}},
		{`key "brother"`, []string{"context.contextActivities", `{"brother":[]}`}},
		{"belongs to statements about an activity", []string{"object", `{"objectType":"Agent","mbox":"mailto:a@example.org"}`, "context.platform", `"p"`}},
		{"must be contextAgent", []string{"context.contextAgents", `[{"objectType":"Agent","agent":` + somebody + `}]`}},
		{"objectType is missing", []string{"context.contextAgents", `[{"agent":` + somebody + `}]`}},
		{"agent is missing", []string{"context.contextAgents", `[{"objectType":"contextAgent"}]`}},
		{"relevantTypes: is empty", []string{"context.contextAgents", `[{"objectType":"contextAgent","agent":` + somebody + `,"relevantTypes":[]}]`}},
		{"must be an absolute IRI", []string{"context.contextGroups", `[{"objectType":"contextGroup","group":{"objectType":"Group","mbox":"mailto:g@example.org"},"relevantTypes":["x"]}]`}},
		// 2.4.11, 2.3.2.
		{"sha2 is missing", []string{"attachments", `[{"usageType":"https://example.org/x","display":{"en":"x"},"contentType":"text/plain","length":3}]`}},
		{"refers to it by StatementRef", []string{"verb.id", `"http://adlnet.gov/expapi/verbs/voided"`}},
	}
	for _, tc := range reject {
		data := with(t, tc.changes...)
		if err := ValidateStatement(data); err == nil || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%s\nerror %v; want %q", data, err, tc.want)
		}
	}
	for _, text := range []string{``, `{`, `null`, `[]`, minimal + minimal, `{"id":1,"id":2}`, strings.Repeat("[", 1000)} {
		if err := ValidateStatement([]byte(text)); err == nil {
			t.Errorf("%.40q is accepted", text)
		}
	}
}

// TestNameUUID: RFC 9562, section 5.5. The first is the example of its appendix A.4,
// www.example.com in the namespace of DNS; both were computed with another
// implementation.
func TestNameUUID(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct{ namespace, name, want string }{
		{"6ba7b810-9dad-11d1-80b4-00c04fd430c8", "www.example.com", "2ed6657d-e927-568b-95e1-2665a8aea6a2"},
		{namespaceURL, "https://class.example", "df2a6569-b48d-5572-8521-3f1b47d99e15"},
	} {
		if got := nameUUID(tc.namespace, tc.name); got != tc.want {
			t.Errorf("%s is %s, want %s", tc.name, got, tc.want)
		}
	}
}

// TestDurations: ISO 8601, as xAPI 1.0.3 Data, section 4.6, has it.
func TestDurations(t *testing.T) {
	t.Parallel()
	for d, want := range map[time.Duration]string{0: "PT0S", 90 * time.Second: "PT90S", 8500 * time.Millisecond: "PT8.5S", 1234567 * time.Microsecond: "PT1.23S", 3 * time.Hour: "PT10800S"} {
		if got := isoDuration(d); got != want || !isDuration(got) {
			t.Errorf("%v is written %s, want %s", d, got, want)
		}
	}
}

// TestWriteStatements: one line for each, and nothing that is not valid.
func TestWriteStatements(t *testing.T) {
	t.Parallel()
	p, err := NewPublisher("https://class.example/")
	if err != nil {
		t.Fatal(err)
	}
	s, err := p.Opened(Opening{Learner: "l-1", Lesson: "altitude", Title: "Altitude & <time>", At: time.Date(2026, 8, 20, 9, 0, 0, 0, time.UTC)})
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	if err := WriteStatements(&out, []Statement{s, s}); err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSuffix(out.String(), "\n"), "\n")
	if len(lines) != 2 || lines[0] != lines[1] || ValidateStatement([]byte(lines[0])) != nil || !strings.Contains(lines[0], "Altitude & <time>") {
		t.Errorf("written:\n%s", out.String())
	}
	s.Result = &Result{Score: &Score{Scaled: math.NaN(), Max: 1}}
	if err := WriteStatements(&out, []Statement{s}); err == nil {
		t.Error("a score that is no number is written")
	}
	s.Result.Score.Scaled = 2
	if err := s.Validate(); err == nil || !strings.Contains(err.Error(), "scaled: is 2; it must be from -1 to 1") {
		t.Errorf("error %v", err)
	}
}
