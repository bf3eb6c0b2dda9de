package rules

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// TestConditionErrors shows what each mistake in a condition is answered with,
// and where. The value of when starts at column 11 of line 7.
func TestConditionErrors(t *testing.T) {
	t.Parallel()
	const onlyZero = "is not allowed: a threshold is a fact with a source, only 0 may be written"
	const noArithmetic = "is not allowed: arithmetic belongs in a fact"
	const noAccess = ". and [ ] are not allowed: name the fact itself, and use any, all or in for a list"
	const noChoice = "if and ? are not allowed: use and, or, or write two rules"
	const onlyThree = "there are any, all and len"
	tests := []struct {
		name, when, want string
	}{
		{"misspelt fact", `time_known and minuts < required_minutes`, `7:26: there is no fact "minuts"; the nearest is "minutes"`},
		{"two misspelt facts", `tim_known and minuts < required_minutes`, `7:11: there is no fact "tim_known"; the nearest is "time_known"` + "\n" + `7:25: there is no fact "minuts"; the nearest is "minutes"`},
		{"fact like no other", `zzzzzzzzzz`, `7:11: there is no fact "zzzzzzzzzz"; there are 13, among them time_known, process_found, low_acid, minutes, required_minutes, jars, food, pack, method, usual_method, added, spice`},
		{"Go name of a fact", `TimeKnown`, `7:11: there is no fact "TimeKnown"; the nearest is "time_known"`},
		{"field for texts", `Label == ""`, `7:11: there is no fact "Label"; there are 13, among them time_known, process_found, low_acid, minutes, required_minutes, jars, food, pack, method, usual_method, added, spice`},
		{"unexported field", `page == ""`, `7:11: there is no fact "page"; the nearest is "pack"`},
		{"misspelt field in a list item", `'any(added, .nam == "onion")'`, `7:24: ` + noAccess},

		{"word with number", `method == minutes`, `7:18: == compares a word with a number`},
		{"word with zero", `method == 0`, `7:18: == compares a word with a number`},
		{"number with yes or no", `minutes < time_known`, `7:19: < compares a number with yes or no`},
		{"word in order", `method < "oven"`, `7:18: < needs numbers, this is a word`},
		{"lists compared", `added == remarks`, `7:17: == cannot compare lists: use in, any, all or len`},
		{"number alone", `time_known and minutes`, `7:26: minutes is a number: it cannot stand alone, compare it`},
		{"word alone", `not method`, `7:15: method is a word: it cannot stand alone, compare it`},
		{"not before in", `not method in ["oven"]`, `7:11: not holds only for the name after it: write not in, != or not (...)`},
		{"literal word alone", `'"oven"'`, `7:12: a word cannot stand alone: compare it`},
		{"item alone", `'any(added, #)'`, `7:23: a word cannot stand alone: compare it`},

		{"one equals sign", `method = "oven"`, `7:18: = does not compare: write ==`},
		{"unfinished and", `time_known &&`, `7:24: the condition stops too early`},
		{"unclosed bracket", `(time_known`, `7:22: the condition stops too early`},
		{"two conditions", `time_known low_acid`, `7:22: not readable as a condition: unexpected token Identifier("low_acid")`},
		{"regular expression", `food matches "("`, `7:16: operator matches is not allowed here`},

		{"number literal", `minutes < 50`, `7:21: the number 50 ` + onlyZero},
		{"decimal literal", `minutes < 4.6`, `7:21: the number 4.6 ` + onlyZero},
		{"decimal zero", `minutes > 0.0`, `7:21: the number 0 ` + onlyZero},
		{"negative number", `minutes > -1`, `7:21: operator - ` + noArithmetic},
		{"negated number", `low_acid or -minutes`, `7:23: operator - ` + noArithmetic},
		{"number in a list", `minutes in added`, `7:19: in needs a word on its left, this is a number`},
		{"length literal", `len(added) > 2`, `7:24: the number 2 ` + onlyZero},
		{"division", `minutes / required_minutes < 0`, `7:19: operator / ` + noArithmetic},
		{"remainder", `minutes % required_minutes == 0`, `7:19: operator % ` + noArithmetic},
		{"sum", `minutes + jars < required_minutes`, `7:19: operator + ` + noArithmetic},
		{"power", `minutes ** jars < required_minutes`, `7:19: operator ** ` + noArithmetic},
		{"range", `method in 1..3`, `7:22: in needs the name of a list`},
		{"nothing depends on the plan", `'"hot" == "raw"'`, `7:18: nothing here depends on the plan: compare a fact`},
		{"zeros compared", `0 == 0`, `7:13: nothing here depends on the plan: compare a fact`},
		{"literal in written list", `'"hot" in ["hot"]'`, `7:18: nothing here depends on the plan: put a fact on the left of in`},

		{"map index", `words["nope"] == 0`, `7:16: ` + noAccess},
		{"list index", `added[0] == "onion"`, `7:16: ` + noAccess},
		{"slice", `len(added[0:0]) == 0`, `7:20: len needs the name of a list`},
		{"environment", `$env["method"] == "slo"`, `7:15: ` + noAccess},
		{"environment alone", `$env == nil`, `7:11: $env is not allowed: name the fact itself` + "\n" + `7:19: nil is not allowed: no fact is nil; for a word, "" means not stated`},
		{"coalescing", `low_acid ?? time_known`, `7:20: operator ?? is not allowed here`},
		{"nil", `method == nil`, `7:21: nil is not allowed: no fact is nil; for a word, "" means not stated`},
		{"true", `"low_acid == true"`, `7:24: true is not needed: write the fact, or not and the fact`},
		{"always true", `true`, `7:11: true is not needed: write the fact, or not and the fact`},
		{"map literal", `'{"a": low_acid}.a'`, `7:28: ` + noAccess},
		{"map alone", `'{"a": low_acid}'`, `7:12: a list may stand only on the right of in; a map nowhere`},
		{"list alone", `'["hot"]'`, `7:12: a list may stand only on the right of in; a map nowhere`},

		{"mixed ternary", `"low_acid ? true : 1"`, `7:12: ` + noChoice},
		{"ternary", `"low_acid ? time_known : process_found"`, `7:12: ` + noChoice},
		{"if", `if low_acid { time_known } else { process_found }`, `7:14: ` + noChoice},
		{"let", `let x = low_acid; x`, `7:15: let and ; are not allowed: write one condition`},
		{"sequence", `low_acid; time_known`, `7:11: let and ; are not allowed: write one condition`},

		{"none", `'none(added, # == "onion")'`, `7:12: none is not allowed here: ` + onlyThree},
		{"count", `'count(added, # == "onion") > 0'`, `7:12: count is not allowed here: ` + onlyThree},
		{"now", `now() == minutes`, `7:11: now is not allowed here: ` + onlyThree},
		{"upper", `upper(method) == "OVEN"`, `7:11: upper is not allowed here: ` + onlyThree},
		{"length as condition", `len(added)`, `7:11: len is not allowed here: ` + onlyThree},
		{"method of the facts", `Tested()`, `7:11: Tested(...) is not allowed: ` + onlyThree},
		{"pipe", `added | filter(low_acid)`, `7:19: filter is not allowed here: ` + onlyThree},
		{"length of a word", `len(method) > 0`, `7:15: len needs a list; method is a word`},
		{"length of two", `len(added, remarks) > 0`, `7:11: len needs one list`},
		{"any of a word", `'any(method, # == "oven")'`, `7:16: any needs a list; method is a word`},
		{"any of a written list", `'any(["hot"], # == pack)'`, `7:16: any needs the name of a list`},
		{"any within any", `'any(added, any(remarks, # == ""))'`, `7:23: any within any or all is not allowed: # would be unclear`},
		{"number of an item", `'any(added, #index == 0)'`, `7:23: #index is not allowed: # is an item of the list`},

		{"misspelt word", `method == "presure"`, `7:21: method has no word "presure"; the nearest is "pressure"`},
		{"misspelt word on the left", `'"presure" != method'`, `7:12: method has no word "presure"; the nearest is "pressure"`},
		{"misspelt word in a list", `method in ["oven", "boiling-watter"]`, `7:30: method has no word "boiling-watter"; the nearest is "boiling-water"`},
		{"misspelt word not in a list", `pack not in ["hott"]`, `7:24: pack has no word "hott"; the nearest is "hot"`},
		{"word like no other", `method == "microwave"`, `7:21: method has no word "microwave"; there are boiling-water, pressure, oven`},
		{"word of another fact", `pack == "oven"`, `7:19: pack has no word "oven"; there are hot, raw`},
		{"misspelt item", `'"onoin" in added'`, `7:12: added has no word "onoin"; the nearest is "onion"`},
		{"misspelt item in any", `'any(added, # == "garlick")'`, `7:28: added has no word "garlick"; the nearest is "garlic"`},
		{"empty item", `'"" in added'`, `7:12: added has no word ""; there are onion, garlic, salt`},
		{"mixed list", `method in ["oven", 3]`, `7:30: only words in quotes may stand in a list`},
		{"fact in a list", `method in ["oven", usual_method]`, `7:30: only words in quotes may stand in a list`},
		{"empty list", `method in []`, `7:21: the list is empty`},
		{"word twice in a list", `method in ["oven", "oven"]`, `7:30: "oven" stands in the list twice`},
		{"word beside a fact without words", `food == "pears"`, `7:19: food has no list of words, so a misspelt "pears" would never be noticed: make a yes-or-no fact of it`},
		{"word beside a list without words", `'"pears" in remarks'`, `7:12: remarks has no list of words, so a misspelt "pears" would never be noticed: make a yes-or-no fact of it`},
		{"facts without a common word", `pack == method`, `7:16: pack and method have no word in common`},
		{"fact and list without a common word", `pack in added`, `7:16: pack and added have no word in common`},
		{"in a word", `'"hot" in pack'`, `7:21: in needs a list; pack is a word`},

		{"letters of several bytes before the mistake", `method == "öven" or minuts > 0`, `7:21: method has no word "öven"; the nearest is "oven"` + "\n" + `7:31: there is no fact "minuts"; the nearest is "minutes"`},
		{"in double quotes", `"time_known and minuts > 0"`, `7:27: there is no fact "minuts"; the nearest is "minutes"`},
		{"in double quotes with escapes", `"method == \"presure\""`, `7:11: method has no word "presure"; the nearest is "pressure"`},
		{"too many parts", strings.Repeat("low_acid or ", 110) + "low_acid", `: the condition has more than 200 parts: make facts of some`},
		{"too long", strings.Repeat("(", 1500) + strings.Repeat(")", 1500), `7:11: the condition has 3000 characters; at most 2000 are read`},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			var lines []string
			for line := range strings.SplitSeq(test.want, "\n") {
				at, message, _ := strings.Cut(line, ": ")
				lines = append(lines, "probe.yaml:"+at+": rule probe: when: "+message)
			}
			want := strings.Join(lines, "\n")
			got := loadError(folder(probeWith("    when: " + test.when)))
			if strings.HasPrefix(test.want, ":") { // where the 200th part stands is no matter
				_, message, _ := strings.Cut(got, " rule probe: when")
				got, want = message, test.want
			}
			if diff := cmp.Diff(want, got); diff != "" {
				t.Errorf("when: %s (-want +got):\n%s", test.when, diff)
			}
		})
	}
}

func TestConditionInBlockIsPlacedAtItsStart(t *testing.T) {
	t.Parallel()
	const want = `probe.yaml:7:11: rule probe: when: none is not allowed here: there are any, all and len`
	for _, when := range []string{
		"|\n      none(added, # == \"onion\")",
		">-\n      time_known and\n      none(added, # == \"onion\")",
	} {
		if got := loadError(folder(probeWith("    when: " + when))); got != want {
			t.Errorf("when: %s\ngot  %s\nwant %s", when, got, want)
		}
	}
	want2 := `probe.yaml:7:11: rule probe: when: there is no fact "minuts"; the nearest is "minutes"`
	if got := loadError(folder(probeWith("    when: time_known and\n      minuts > 0"))); got != want2 {
		t.Errorf("plain text over two lines: got %s, want %s", got, want2)
	}
}

// TestConditions shows each construct that is allowed, with facts that break the
// rule and facts that keep it.
func TestConditions(t *testing.T) {
	t.Parallel()
	tests := []struct {
		when          string
		breaks, keeps kitchen
	}{
		{`low_acid`, kitchen{LowAcid: true}, kitchen{}},
		{`not low_acid`, kitchen{}, kitchen{LowAcid: true}},
		{`!low_acid && (time_known || process_found)`, kitchen{ProcessFound: true}, kitchen{LowAcid: true, TimeKnown: true}},
		{`time_known and process_found and minutes < required_minutes`, kitchen{TimeKnown: true, ProcessFound: true, Minutes: 50, RequiredMinutes: 60}, kitchen{TimeKnown: true, ProcessFound: true, Minutes: 60, RequiredMinutes: 60}},
		{`low_acid != time_known`, kitchen{LowAcid: true}, kitchen{LowAcid: true, TimeKnown: true}},
		{`minutes > 0`, kitchen{Minutes: 0.5}, kitchen{}},
		{`jars >= minutes`, kitchen{Jars: 1, Minutes: 1}, kitchen{Jars: 1, Minutes: 1.5}},
		{`0 < minutes < required_minutes`, kitchen{Minutes: 1, RequiredMinutes: 2}, kitchen{Minutes: 0, RequiredMinutes: 2}},
		{`method == "oven"`, kitchen{Method: "oven"}, kitchen{}},
		{`"oven" != method`, kitchen{}, kitchen{Method: "oven"}},
		{`method == ""`, kitchen{}, kitchen{Method: "oven"}},
		{`food != ""`, kitchen{Food: "pears"}, kitchen{}},
		{`method != usual_method`, kitchen{Method: "oven"}, kitchen{Method: "pressure", UsualMethod: "pressure"}},
		{`method in ["oven", ""]`, kitchen{}, kitchen{Method: "pressure"}},
		{`method not in ["oven", ""]`, kitchen{Method: "pressure"}, kitchen{}},
		{`"onion" in added`, kitchen{Added: []string{"salt", "onion"}}, kitchen{Added: []string{"salt"}}},
		{`spice in added`, kitchen{Spice: "salt", Added: []string{"salt"}}, kitchen{Spice: "dill", Added: []string{"salt"}}},
		{`any(added, # in ["onion", "garlic"])`, kitchen{Added: []string{"salt", "garlic"}}, kitchen{Added: []string{"salt"}}},
		{`any(added, # == spice and low_acid)`, kitchen{Added: []string{"salt"}, Spice: "salt", LowAcid: true}, kitchen{Added: []string{"salt"}, Spice: "salt"}},
		{`all(added, # == "salt")`, kitchen{}, kitchen{Added: []string{"salt", "onion"}}},
		{`added | any(# == "salt")`, kitchen{Added: []string{"salt"}}, kitchen{}},
		{`len(added) == 0`, kitchen{}, kitchen{Added: []string{"salt"}}},
		{`len(added) > len(remarks)`, kitchen{Added: []string{"salt"}}, kitchen{}},
	}
	for _, test := range tests {
		t.Run(test.when, func(t *testing.T) {
			t.Parallel()
			set := mustLoad(t, folder(probeWith("    when: |\n      "+test.when)))
			if got := set.Evaluate(&test.breaks, "plan", nil); len(got) != 1 || got[0].Severity != safety {
				t.Errorf("Evaluate(%+v) = %+v, want the finding", test.breaks, got)
			}
			if got := set.Evaluate(&test.keeps, "plan", nil); len(got) != 0 {
				t.Errorf("Evaluate(%+v) = %+v, want none", test.keeps, got)
			}
		})
	}
}

func TestCompileNotesTheFactsUsed(t *testing.T) {
	t.Parallel()
	c, err := newCatalog(kitchenOptions())
	if err != nil {
		t.Fatal(err)
	}
	compiled, faults := c.compile(`low_acid and (minutes < required_minutes or any(added, # == spice)) and minutes > 0`)
	var names []string
	for _, i := range compiled.uses {
		names = append(names, c.facts[i].name)
	}
	slices.Sort(names)
	if want := []string{"added", "low_acid", "minutes", "required_minutes", "spice"}; !slices.Equal(names, want) || faults != nil {
		t.Errorf("used = %v, faults %v, want %v", names, faults, want)
	}
}

// TestFactsStruct shows which structs cannot be facts.
func TestFactsStruct(t *testing.T) {
	t.Parallel()
	type named string
	type Inner struct {
		A bool `expr:"a"`
	}
	tests := []struct {
		name  string
		facts any
		words map[string][]string
		want  string
	}{
		{"no struct", nil, nil, "facts: need a struct value, got <nil>"},
		{"pointer", &kitchen{}, nil, "facts: need a struct value, got *rules.kitchen"},
		{"map", struct {
			A map[string]int `expr:"a"`
		}{}, nil, "facts: a is a map[string]int: a fact is bool, int, float64, string or []string"},
		{"named word", struct {
			A named `expr:"a"`
		}{}, nil, "facts: a is a rules.named: a fact is bool, int, float64, string or []string"},
		{"pointer field", struct {
			A *bool `expr:"a"`
		}{}, nil, "facts: a is a *bool: a fact is bool, int, float64, string or []string"},
		{"interface", struct {
			A any `expr:"a"`
		}{}, nil, "facts: a is a interface {}: a fact is bool, int, float64, string or []string"},
		{"embedded", struct{ Inner }{}, nil, "facts: Inner is embedded: write its fields out"},
		{"no tag", struct{ A bool }{}, nil, "facts: A has no name for rules: tag it `expr:\"some_name\"`, or `expr:\"-\"` when only texts use it"},
		{"Go name", struct {
			A bool `expr:"LowAcid"`
		}{}, nil, `facts: A: "LowAcid" is not a name such as required_minutes`},
		{"same name", struct {
			A bool `expr:"a"`
			B bool `expr:"a"`
		}{}, nil, "facts: a is named twice"},
		{"words for no fact", Inner{}, map[string][]string{"b": {"x"}}, `facts: there are words for "b", which is no fact; the nearest is "a"`},
		{"words for a number", Inner{}, map[string][]string{"a": {"x"}}, "facts: there are words for a, which is yes or no"},
		{"no words", struct {
			A string `expr:"a"`
		}{}, map[string][]string{"a": {}}, "facts: the words for a are missing, or one is empty"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			o := kitchenOptions()
			o.Facts, o.Words = test.facts, test.words
			if _, err := Load(folder(probeWith()), o); err == nil || err.Error() != test.want {
				t.Errorf("Load = %v, want %s", err, test.want)
			}
		})
	}
}

func TestEdits(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		a, b string
		want int
	}{{"", "", 0}, {"", "ab", 2}, {"minuts", "minutes", 1}, {"oven", "öven", 1}, {"abc", "cab", 2}, {"kitten", "sitting", 3}} {
		if got := edits(test.a, test.b); got != test.want {
			t.Errorf("edits(%q, %q) = %d, want %d", test.a, test.b, got, test.want)
		}
		if got := edits(test.b, test.a); got != test.want {
			t.Errorf("edits(%q, %q) = %d, want %d", test.b, test.a, got, test.want)
		}
	}
}
