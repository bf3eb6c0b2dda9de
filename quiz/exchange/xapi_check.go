package exchange

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
)

// ValidateStatement holds the JSON of one statement against xAPI 2.0 (IEEE 9274.1.1;
// the section numbers beside the rules are those of xAPI 1.0.3 Data, which reads the
// same where 2.0 does not say otherwise). Two rules are ours, where the specification
// only recommends: an answer and a key are written as their interaction type asks, and
// an interaction has only the components of its type. The error holds every problem,
// each with its place in the statement.
func ValidateStatement(data []byte) error {
	tree, err := readTree(data)
	if err != nil {
		return fmt.Errorf("statement: %w", err)
	}
	var c statementChecker
	c.statement("statement", tree, false)
	return errors.Join(c.problems...)
}

// jsonMember is one entry of a JSON object.
type jsonMember struct {
	key   string
	value any
}

// jsonObject is a JSON object with its members in the order written: a map would hide a
// key that stands twice.
type jsonObject []jsonMember

func (o jsonObject) get(key string) any {
	for _, m := range o {
		if m.key == key {
			return m.value
		}
	}
	return nil
}

func (o jsonObject) has(key string) bool {
	return slices.ContainsFunc(o, func(m jsonMember) bool { return m.key == key })
}

// text gives a string, empty for anything else.
func (o jsonObject) text(key string) string {
	s, _ := o.get(key).(string)
	return s
}

// readTree reads one JSON value: objects, []any, string, json.Number, bool and nil.
func readTree(data []byte) (any, error) {
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.UseNumber()
	v, err := readValue(dec, 0)
	if err != nil {
		return nil, err
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return nil, errors.New("something stands behind it")
	}
	return v, nil
}

func readValue(dec *json.Decoder, depth int) (any, error) {
	if depth > 100 {
		return nil, errors.New("more than 100 values in each other")
	}
	token, err := dec.Token()
	if err != nil {
		return nil, err
	}
	switch token {
	case json.Delim('{'):
		o := jsonObject{}
		keys := map[string]bool{}
		for dec.More() {
			key, err := dec.Token()
			if err != nil {
				return nil, err
			}
			v, err := readValue(dec, depth+1)
			if err != nil {
				return nil, err
			}
			name := key.(string) // the decoder takes nothing else for a key
			if keys[name] {
				return nil, fmt.Errorf("key %q stands twice", name)
			}
			keys[name] = true
			o = append(o, jsonMember{name, v})
		}
		_, err := dec.Token()
		return o, err
	case json.Delim('['):
		list := []any{}
		for dec.More() {
			v, err := readValue(dec, depth+1)
			if err != nil {
				return nil, err
			}
			list = append(list, v)
		}
		_, err := dec.Token()
		return list, err
	}
	return token, nil
}

// statementChecker collects what is wrong. A rule gets the place and the value.
type statementChecker struct{ problems []error }

type rule func(at string, v any)

func (c *statementChecker) bad(at, format string, args ...any) {
	c.problems = append(c.problems, fmt.Errorf("%s: "+format, append([]any{at}, args...)...))
}

// object checks that v is an object with no other keys than those that have a rule
// (2.2: keys are case sensitive, unknown keys and null are refused), runs the rules, and
// asks for those that are needed. It gives nil for what is no object.
func (c *statementChecker) object(at string, v any, rules map[string]rule, needed ...string) jsonObject {
	o, ok := v.(jsonObject)
	if !ok {
		c.bad(at, "is %s; it must be an object", kindOfJSON(v))
		return nil
	}
	for _, m := range o {
		check := rules[m.key]
		switch {
		case check == nil:
			c.bad(at, "has a key %q, which is not known", m.key)
		case m.value == nil:
			c.bad(at+"."+m.key, "is null; leave it out")
		default:
			check(at+"."+m.key, m.value)
		}
	}
	for _, key := range needed {
		if !o.has(key) {
			c.bad(at, "%s is missing", key)
		}
	}
	return o
}

func (c *statementChecker) list(each rule) rule {
	return func(at string, v any) {
		list, ok := v.([]any)
		if !ok {
			c.bad(at, "is %s; it must be an array", kindOfJSON(v))
			return
		}
		for i, one := range list {
			each(fmt.Sprintf("%s[%d]", at, i), one)
		}
	}
}

func kindOfJSON(v any) string {
	switch v.(type) {
	case jsonObject:
		return "an object"
	case []any:
		return "an array"
	case string:
		return "a string"
	case json.Number:
		return "a number"
	case bool:
		return "true or false"
	}
	return "null"
}

// text makes a rule for strings of a form.
func (c *statementChecker) text(fits func(string) bool, want string) rule {
	return func(at string, v any) {
		s, ok := v.(string)
		switch {
		case !ok:
			c.bad(at, "is %s; it must be %s", kindOfJSON(v), want)
		case !fits(s):
			c.bad(at, "is %.80q; it must be %s", s, want)
		}
	}
}

var (
	uuidForm = regexp.MustCompile(`^[0-9A-Fa-f]{8}-[0-9A-Fa-f]{4}-[0-9A-Fa-f]{4}-[0-9A-Fa-f]{4}-[0-9A-Fa-f]{12}$`)
	iriForm  = regexp.MustCompile("^[A-Za-z][A-Za-z0-9+.-]*:[^\\s<>\"{}|\\\\^`\\x00-\\x1f]+$")
	mailForm = regexp.MustCompile(`^mailto:[^\s@<>"]+@[^\s@<>"]+\.[^\s@<>".]+$`)
	sha1Form = regexp.MustCompile(`^[0-9A-Fa-f]{40}$`)
	sha2Form = regexp.MustCompile(`^[0-9A-Fa-f]{56,128}$`)
	// RFC 5646, section 2.1, without telling registered tags from others.
	languageForm = regexp.MustCompile(`^([A-Za-z]{2,8}(-[A-Za-z0-9]{1,8})*|[xXiI](-[A-Za-z0-9]{1,8})+)$`)
	// ISO 8601: the last part that is there may have decimals.
	durationForm = regexp.MustCompile(`^P(\d+([.,]\d+)?W|(\d+([.,]\d+)?Y)?(\d+([.,]\d+)?M)?(\d+([.,]\d+)?D)?(T(\d+([.,]\d+)?H)?(\d+([.,]\d+)?M)?(\d+([.,]\d+)?S)?)?)$`)
	decimalsForm = regexp.MustCompile(`[.,]\d+[A-Z].`)
	// RFC 3339, section 5.6. An offset -00:00 says that the zone is not known, and 2.0
	// refuses it.
	timeForm    = regexp.MustCompile(`^\d{4}-\d\d-\d\d[Tt]\d\d:\d\d:\d\d(\.\d+)?([Zz]|[+-]\d\d:\d\d)$`)
	versionForm = regexp.MustCompile(`^(1\.0(\.\d+)?|2\.0\.\d+)$`)
)

func isDuration(s string) bool {
	return durationForm.MatchString(s) && s[len(s)-1] != 'P' && s[len(s)-1] != 'T' && !decimalsForm.MatchString(s)
}

func isTimestamp(s string) bool {
	if !timeForm.MatchString(s) || strings.HasSuffix(s, "-00:00") {
		return false
	}
	_, err := time.Parse(time.RFC3339, strings.ToUpper(s))
	return err == nil
}

func anything(string) bool { return true }

func (c *statementChecker) iri() rule { return c.text(iriForm.MatchString, "an absolute IRI") }

func (c *statementChecker) uuid() rule {
	return c.text(uuidForm.MatchString, "a UUID, such as 6ba7b811-9dad-11d1-80b4-00c04fd430c8")
}

func (c *statementChecker) string() rule { return c.text(anything, "a string") }

func (c *statementChecker) word(words ...string) rule {
	return c.text(func(s string) bool { return slices.Contains(words, s) }, strings.Join(words, " or "))
}

func (c *statementChecker) boolean(at string, v any) {
	if _, ok := v.(bool); !ok {
		c.bad(at, "is %s; it must be true or false", kindOfJSON(v))
	}
}

func (c *statementChecker) number(at string, v any) {
	if _, ok := v.(json.Number); !ok {
		c.bad(at, "is %s; it must be a number", kindOfJSON(v))
	}
}

// statement checks a statement (2.1, 2.4), or one within another (2.4.4.3).
func (c *statementChecker) statement(at string, v any, sub bool) {
	rules := map[string]rule{
		"actor": c.actor, "verb": c.verb, "object": c.target(sub), "result": c.result, "context": c.context,
		"timestamp": c.text(isTimestamp, "a time by RFC 3339, with Z or an offset other than -00:00"), "attachments": c.list(c.attachment),
	}
	if sub {
		rules["objectType"] = c.word("SubStatement")
	} else {
		rules["id"] = c.uuid()
		rules["stored"] = rules["timestamp"]
		rules["authority"] = c.authority
		rules["version"] = c.text(versionForm.MatchString, "1.0.x or 2.0.x")
	}
	o := c.object(at, v, rules, "actor", "verb", "object")
	what, _ := o.get("object").(jsonObject)
	kind := what.text("objectType")
	if verb, _ := o.get("verb").(jsonObject); verb.text("id") == "http://adlnet.gov/expapi/verbs/voided" && kind != "StatementRef" {
		c.bad(at+".object", "a statement that voids another refers to it by StatementRef") // 2.3.2
	}
	if context, _ := o.get("context").(jsonObject); kind != "" && kind != "Activity" { // 2.4.6
		for _, key := range []string{"revision", "platform"} {
			if context.has(key) {
				c.bad(at+".context."+key, "belongs to statements about an activity")
			}
		}
	}
	result, _ := o.get("result").(jsonObject)
	definition, _ := what.get("definition").(jsonObject)
	if response, ok := result.get("response").(string); ok {
		c.response(at+".result.response", response, definition, false)
	}
}

// identifiers are the inverse functional identifiers (2.4.2.3).
var identifiers = []string{"mbox", "mbox_sha1sum", "openid", "account"}

// actor checks an agent or a group (2.4.2).
func (c *statementChecker) actor(at string, v any) {
	if o, ok := v.(jsonObject); ok && o.text("objectType") == "Group" {
		c.group(at, v)
		return
	}
	c.agent(at, v)
}

func (c *statementChecker) agentRules() map[string]rule {
	return map[string]rule{
		"objectType": c.word("Agent", "Group"), "name": c.string(),
		"mbox":         c.text(mailForm.MatchString, "mailto: and an address"),
		"mbox_sha1sum": c.text(sha1Form.MatchString, "40 hexadecimal digits"),
		"openid":       c.iri(),
		"account": func(at string, v any) {
			c.object(at, v, map[string]rule{"homePage": c.iri(), "name": c.text(func(s string) bool { return s != "" }, "an opaque id")}, "homePage", "name")
		},
	}
}

// agent checks that somebody is known by exactly one identifier.
func (c *statementChecker) agent(at string, v any) {
	rules := c.agentRules()
	rules["objectType"] = c.word("Agent")
	if o := c.object(at, v, rules); o != nil {
		if n := countIdentifiers(o); n != 1 {
			c.bad(at, "has %d identifiers; an agent has exactly one of %s", n, strings.Join(identifiers, ", "))
		}
	}
}

// group checks a group: one with an identifier, or one known by its members alone.
func (c *statementChecker) group(at string, v any) {
	rules := c.agentRules()
	rules["objectType"] = c.word("Group")
	rules["member"] = c.list(c.agent)
	o := c.object(at, v, rules, "objectType")
	members, _ := o.get("member").([]any)
	switch n := countIdentifiers(o); {
	case n > 1:
		c.bad(at, "has %d identifiers; a group has at most one of %s", n, strings.Join(identifiers, ", "))
	case n == 0 && len(members) == 0:
		c.bad(at, "has neither an identifier nor members")
	}
}

func countIdentifiers(o jsonObject) int {
	n := 0
	for _, key := range identifiers {
		if o.has(key) {
			n++
		}
	}
	return n
}

// authority is an agent, or a group of two without a name of its own (2.4.9).
func (c *statementChecker) authority(at string, v any) {
	c.actor(at, v)
	o, _ := v.(jsonObject)
	if members, _ := o.get("member").([]any); o.text("objectType") == "Group" && (len(members) != 2 || countIdentifiers(o) > 0) {
		c.bad(at, "a group that vouches has two members and no identifier")
	}
}

// verb is in 2.4.3.
func (c *statementChecker) verb(at string, v any) {
	c.object(at, v, map[string]rule{"id": c.iri(), "display": c.languages}, "id")
}

// languages checks a language map (4.2).
func (c *statementChecker) languages(at string, v any) {
	o, ok := v.(jsonObject)
	if !ok {
		c.bad(at, "is %s; it must be a language map, such as {\"en-US\": \"...\"}", kindOfJSON(v))
	}
	for _, m := range o {
		if !languageForm.MatchString(m.key) {
			c.bad(at, "%.80q is no language tag by RFC 5646", m.key)
		}
		c.string()(at+"."+m.key, m.value)
	}
}

// extensions may hold anything, null too, under keys that are IRIs (4.1).
func (c *statementChecker) extensions(at string, v any) {
	o, ok := v.(jsonObject)
	if !ok {
		c.bad(at, "is %s; it must be an object", kindOfJSON(v))
	}
	for _, m := range o {
		c.iri()(at+" key", m.key)
	}
}

// target checks the object of a statement (2.4.4).
func (c *statementChecker) target(sub bool) rule {
	return func(at string, v any) {
		o, _ := v.(jsonObject)
		switch kind := o.text("objectType"); {
		case kind == "Agent", kind == "Group":
			c.actor(at, v)
		case kind == "StatementRef":
			c.reference(at, v)
		case kind == "SubStatement" && sub:
			c.bad(at, "a SubStatement stands in another")
		case kind == "SubStatement":
			c.statement(at, v, true)
		default:
			c.activity(at, v)
		}
	}
}

func (c *statementChecker) reference(at string, v any) {
	c.object(at, v, map[string]rule{"objectType": c.word("StatementRef"), "id": c.uuid()}, "objectType", "id")
}

func (c *statementChecker) activity(at string, v any) {
	c.object(at, v, map[string]rule{"objectType": c.word("Activity"), "id": c.iri(), "definition": c.definition}, "id")
}

// componentsOf says which components an interaction type may have (2.4.4.1, table of
// interaction components).
var componentsOf = map[string][]string{
	"true-false": nil, "choice": {"choices"}, "fill-in": nil, "long-fill-in": nil, "matching": {"source", "target"}, "performance": {"steps"},
	"sequencing": {"choices"}, "likert": {"scale"}, "numeric": nil, "other": nil,
}

func (c *statementChecker) definition(at string, v any) {
	rules := map[string]rule{
		"name": c.languages, "description": c.languages, "type": c.iri(), "moreInfo": c.iri(), "extensions": c.extensions,
		"interactionType": func(at string, v any) {
			s, ok := v.(string)
			if _, known := componentsOf[s]; !ok || !known {
				c.bad(at, "is %v; it must be an interaction type, such as choice or numeric", v)
			}
		},
		"correctResponsesPattern": c.list(c.string()),
	}
	components := []string{"choices", "scale", "source", "target", "steps"}
	for _, key := range components {
		rules[key] = c.components
	}
	o := c.object(at, v, rules)
	kind := o.text("interactionType")
	for _, key := range append(components, "correctResponsesPattern") {
		switch {
		case !o.has(key):
		case kind == "":
			c.bad(at, "has %s but no interactionType", key)
		case key != "correctResponsesPattern" && !slices.Contains(componentsOf[kind], key):
			c.bad(at, "has %s, which do not belong to an interaction of type %s", key, kind)
		}
	}
	patterns, _ := o.get("correctResponsesPattern").([]any)
	for i, p := range patterns {
		if s, ok := p.(string); ok {
			c.response(fmt.Sprintf("%s.correctResponsesPattern[%d]", at, i), s, o, true)
		}
	}
}

func (c *statementChecker) components(at string, v any) {
	seen := map[string]bool{}
	c.list(func(at string, v any) {
		o := c.object(at, v, map[string]rule{"id": c.text(func(s string) bool { return s != "" }, "a string"), "description": c.languages}, "id")
		if id := o.text("id"); o != nil && seen[id] {
			c.bad(at, "id %q stands twice", id)
		} else {
			seen[id] = true
		}
	})(at, v)
}

// ids lists the ids of components; known is false if none are declared.
func ids(definition jsonObject, key string) (list []string, known bool) {
	components, known := definition.get(key).([]any)
	for _, one := range components {
		o, _ := one.(jsonObject)
		list = append(list, o.text("id"))
	}
	return list, known
}

// response checks how an answer, or a pattern of right ones, is written (2.4.4.1,
// response patterns): [,] parts a list, [.] the two sides of a pair, [:] the ends of a
// range, which only patterns have.
func (c *statementChecker) response(at, response string, definition jsonObject, pattern bool) {
	offered := func(key, id string) {
		if list, known := ids(definition, key); known && !slices.Contains(list, id) {
			c.bad(at, "%.80q is not among %s", id, key)
		}
	}
	parts := strings.Split(response, "[,]")
	switch kind := definition.text("interactionType"); kind {
	case "true-false":
		if response != "true" && response != "false" {
			c.bad(at, "is %.80q; it must be true or false", response)
		}
	case "choice", "sequencing":
		for i, id := range parts {
			offered("choices", id)
			if slices.Contains(parts[:i], id) {
				c.bad(at, "%.80q stands twice", id)
			}
		}
	case "likert":
		offered("scale", response)
	case "matching", "performance":
		for _, pair := range parts {
			from, to, ok := strings.Cut(pair, "[.]")
			switch {
			case !ok:
				c.bad(at, "%.80q is no pair; write a[.]b[,]c[.]d", pair)
			case kind == "matching":
				offered("source", from)
				offered("target", to)
			default:
				offered("steps", from)
			}
		}
	case "numeric":
		from, to, isRange := strings.Cut(response, "[:]")
		low, lowOK := parseFloat(from)
		high, highOK := parseFloat(to)
		switch {
		case !isRange && !lowOK:
			c.bad(at, "is %.80q; it must be a number", response)
		case !isRange:
		case !pattern:
			c.bad(at, "is %.80q; an answer is one number, and no range", response)
		case !lowOK && from != "" || !highOK && to != "" || from == "" && to == "" || lowOK && highOK && low > high:
			c.bad(at, "is %.80q; a range is low[:]high, and one end may be left out", response)
		}
	}
}

// result is in 2.4.5.
func (c *statementChecker) result(at string, v any) {
	c.object(at, v, map[string]rule{
		"score": c.score, "success": c.boolean, "completion": c.boolean, "response": c.string(),
		"duration": c.text(isDuration, "a duration by ISO 8601, such as PT1M30S"), "extensions": c.extensions,
	})
}

// score is in 2.4.5.1.
func (c *statementChecker) score(at string, v any) {
	o := c.object(at, v, map[string]rule{"scaled": c.number, "raw": c.number, "min": c.number, "max": c.number})
	value := func(key string) float64 {
		n, ok := o.get(key).(json.Number)
		if !ok {
			return math.NaN() // every comparison below is false
		}
		v, _ := strconv.ParseFloat(string(n), 64) // infinite for one that is too large
		return v
	}
	scaled, raw, least, most := value("scaled"), value("raw"), value("min"), value("max")
	if scaled < -1 || scaled > 1 {
		c.bad(at+".scaled", "is %v; it must be from -1 to 1", scaled)
	}
	if raw < least || raw > most {
		c.bad(at+".raw", "is %v; it must be from min to max", raw)
	}
	if least >= most {
		c.bad(at, "min is %v and max %v; min must be less", least, most)
	}
}

// context is in 2.4.6; the last two parts came with 2.0.
func (c *statementChecker) context(at string, v any) {
	agentIn := func(kind, key string, who rule) rule {
		return c.list(func(at string, v any) {
			o := c.object(at, v, map[string]rule{"objectType": c.word(kind), key: who, "relevantTypes": c.list(c.iri())}, "objectType", key)
			if types, ok := o.get("relevantTypes").([]any); ok && len(types) == 0 {
				c.bad(at+".relevantTypes", "is empty; leave it out")
			}
		})
	}
	c.object(at, v, map[string]rule{
		"registration": c.uuid(), "instructor": c.actor, "team": c.group, "contextActivities": c.contextActivities, "revision": c.string(), "platform": c.string(),
		"language":  c.text(languageForm.MatchString, "a language tag by RFC 5646"),
		"statement": c.reference, "extensions": c.extensions,
		"contextAgents": agentIn("contextAgent", "agent", c.agent), "contextGroups": agentIn("contextGroup", "group", c.group),
	})
}

// contextActivities takes one activity for a list of one (2.4.6.2).
func (c *statementChecker) contextActivities(at string, v any) {
	some := func(at string, v any) {
		if _, list := v.([]any); list {
			c.list(c.activity)(at, v)
			return
		}
		c.activity(at, v)
	}
	c.object(at, v, map[string]rule{"parent": some, "grouping": some, "category": some, "other": some})
}

// attachment is in 2.4.11.
func (c *statementChecker) attachment(at string, v any) {
	c.object(at, v, map[string]rule{
		"usageType": c.iri(), "display": c.languages, "description": c.languages, "contentType": c.string(),
		"length": c.number, "sha2": c.text(sha2Form.MatchString, "a SHA-2 sum in hexadecimal digits"), "fileUrl": c.iri(),
	}, "usageType", "display", "contentType", "length", "sha2")
}
