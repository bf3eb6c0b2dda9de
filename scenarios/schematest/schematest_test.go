package schematest

import "testing"

func TestCheck(t *testing.T) {
	t.Parallel()
	other := map[string][]byte{"other": []byte(`{"type":"string"}`)}
	for _, tc := range []struct{ schema, fits, fails string }{
		{`{"type":"integer"}`, `1`, `1.5`},
		{`{"type":["string","null"]}`, `null`, `1`},
		{`{"enum":["a",true]}`, `true`, `"b"`},
		{`{"const":1}`, `1`, `2`},
		{`{"pattern":"^a$"}`, `"a"`, `"b"`},
		{`{"pattern":"^a$"}`, `1`, `"aa"`},
		{`{"minLength":2}`, `"ab"`, `"a"`},
		{`{"minimum":1,"maximum":2}`, `1`, `0`},
		{`{"minimum":1,"maximum":2}`, `2`, `3`},
		{`{"items":{"type":"string"},"maxItems":1}`, `["a"]`, `[1]`},
		{`{"items":{"type":"string"},"maxItems":1}`, `[]`, `["a","b"]`},
		{`{"required":["a"]}`, `{"a":1}`, `{}`},
		{`{"properties":{"a":{"type":"string"}},"additionalProperties":false}`, `{"a":"x"}`, `{"b":"x"}`},
		{`{"properties":{"a":{"type":"string"}},"additionalProperties":false}`, `{}`, `{"a":1}`},
		{`{"additionalProperties":{"type":"string"}}`, `{"a":"x"}`, `{"a":1}`},
		{`{"oneOf":[{"type":"string"},{"minLength":2}]}`, `"a"`, `"ab"`},
		{`{"anyOf":[{"type":"string"},{"type":"null"}]}`, `null`, `1`},
		{`{"allOf":[{"minimum":1},{"maximum":2}]}`, `1`, `3`},
		{`{"not":{"type":"string"}}`, `1`, `"a"`},
		{`{"$ref":"other"}`, `"a"`, `1`},
	} {
		if faults := Check([]byte(tc.schema), "", []byte(tc.fits), other); len(faults) > 0 {
			t.Errorf("%s with %s: %v", tc.schema, tc.fits, faults)
		}
		if faults := Check([]byte(tc.schema), "", []byte(tc.fails), other); len(faults) == 0 {
			t.Errorf("%s with %s: no fault", tc.schema, tc.fails)
		}
	}
	if faults := Check([]byte(`{"a":{"b":{"type":"string"}}}`), "#/a/b", []byte(`1`), nil); len(faults) != 1 {
		t.Errorf("a pointer: %v, want one fault", faults)
	}
	for _, schema := range []string{`{"uniqueItems":true}`, `{"$ref":"#/none"}`, `{`} {
		if faults := Check([]byte(schema), "", []byte(`1`), nil); len(faults) == 0 {
			t.Errorf("%s passes", schema)
		}
	}
}
