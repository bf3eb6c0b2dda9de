// Package schematest checks values against JSON Schemas in tests. It knows the
// keywords that our own schemas use and refuses every other, so that none is
// passed over in silence.
package schematest

import (
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"
)

// Check lists what keeps a JSON value from fitting a schema, nothing when it
// fits. The schema is one document, or the part of it that at points to, such as
// "#/components/schemas/Report"; "" is the whole. others are further documents
// by the name that a $ref gives them.
func Check(document []byte, at string, value []byte, others map[string][]byte) []string {
	c := checker{documents: map[string]any{}}
	all := maps.Clone(others)
	if all == nil {
		all = map[string][]byte{}
	}
	all[""] = document
	for name, raw := range all {
		var parsed any
		if err := json.Unmarshal(raw, &parsed); err != nil {
			return []string{fmt.Sprintf("the schema %q is not JSON: %v", name, err)}
		}
		c.documents[name] = parsed
	}
	var v any
	if err := json.Unmarshal(value, &v); err != nil {
		return []string{fmt.Sprintf("the value is not JSON: %v", err)}
	}
	c.ref("", "$", at, v)
	return c.faults
}

type checker struct {
	documents map[string]any
	faults    []string
}

func (c *checker) fault(path, format string, args ...any) {
	c.faults = append(c.faults, path+": "+fmt.Sprintf(format, args...))
}

// ref follows "document#/pointer" and checks against what is there.
func (c *checker) ref(document, path, ref string, v any) {
	name, pointer, _ := strings.Cut(ref, "#")
	if name != "" {
		document = name
	}
	schema, ok := c.documents[document]
	for key := range strings.SplitSeq(strings.TrimPrefix(pointer, "/"), "/") {
		if key != "" {
			object, _ := schema.(map[string]any)
			schema, ok = object[strings.ReplaceAll(key, "~1", "/")]
		}
	}
	if !ok {
		c.fault(path, "the schema %q is not there", ref)
		return
	}
	c.check(document, path, schema, v)
}

// fits checks against one branch without keeping its faults.
func (c *checker) fits(document, path string, schema, v any) bool {
	branch := checker{documents: c.documents}
	branch.check(document, path, schema, v)
	return len(branch.faults) == 0
}

func (c *checker) check(document, path string, schema, v any) {
	s, ok := schema.(map[string]any)
	if !ok {
		if schema != true {
			c.fault(path, "is not allowed here")
		}
		return
	}
	for keyword, want := range s {
		switch keyword {
		case "$schema", "title", "description", "format", "examples", "default":
		case "$ref":
			c.ref(document, path, want.(string), v)
		case "type":
			types, many := want.([]any)
			if !many {
				types = []any{want}
			}
			if !slices.ContainsFunc(types, func(t any) bool { return isA(t.(string), v) }) {
				c.fault(path, "%v is not %v", v, want)
			}
		case "const":
			if !reflect.DeepEqual(want, v) {
				c.fault(path, "%v is not %v", v, want)
			}
		case "enum":
			if !slices.ContainsFunc(want.([]any), func(w any) bool { return reflect.DeepEqual(w, v) }) {
				c.fault(path, "%v is none of %v", v, want)
			}
		case "pattern":
			if text, ok := v.(string); ok && !regexp.MustCompile(want.(string)).MatchString(text) {
				c.fault(path, "%q does not match", text)
			}
		case "minLength":
			if text, ok := v.(string); ok && utf8.RuneCountInString(text) < int(want.(float64)) {
				c.fault(path, "%q is too short", text)
			}
		case "minimum":
			if n, ok := v.(float64); ok && n < want.(float64) {
				c.fault(path, "%v is below %v", n, want)
			}
		case "maximum":
			if n, ok := v.(float64); ok && n > want.(float64) {
				c.fault(path, "%v is above %v", n, want)
			}
		case "maxItems":
			if list, ok := v.([]any); ok && len(list) > int(want.(float64)) {
				c.fault(path, "%d items are more than %v", len(list), want)
			}
		case "items":
			list, _ := v.([]any)
			for i, item := range list {
				c.check(document, fmt.Sprintf("%s[%d]", path, i), want, item)
			}
		case "required":
			object, isObject := v.(map[string]any)
			for _, key := range want.([]any) {
				if _, there := object[key.(string)]; isObject && !there {
					c.fault(path, "%v is missing", key)
				}
			}
		case "properties", "additionalProperties":
			if keyword == "properties" || s["properties"] == nil {
				c.object(document, path, s, v)
			}
		case "anyOf", "oneOf":
			n := 0
			for _, branch := range want.([]any) {
				if c.fits(document, path, branch, v) {
					n++
				}
			}
			if n == 0 || keyword == "oneOf" && n > 1 {
				c.fault(path, "%s: %d of %d fit", keyword, n, len(want.([]any)))
			}
		case "allOf":
			for _, branch := range want.([]any) {
				c.check(document, path, branch, v)
			}
		case "not":
			if c.fits(document, path, want, v) {
				c.fault(path, "is what it must not be")
			}
		default:
			c.fault(path, "the keyword %s is not checked here", keyword)
		}
	}
}

func (c *checker) object(document, path string, s map[string]any, v any) {
	object, _ := v.(map[string]any)
	properties, _ := s["properties"].(map[string]any)
	for key, value := range object {
		if schema, known := properties[key]; known {
			c.check(document, path+"."+key, schema, value)
		} else if rest, stated := s["additionalProperties"]; stated {
			c.check(document, path+"."+key, rest, value)
		}
	}
}

func isA(kind string, v any) bool {
	switch v := v.(type) {
	case nil:
		return kind == "null"
	case bool:
		return kind == "boolean"
	case string:
		return kind == "string"
	case []any:
		return kind == "array"
	case map[string]any:
		return kind == "object"
	case float64:
		return kind == "number" || kind == "integer" && v == math.Trunc(v)
	}
	return false
}
