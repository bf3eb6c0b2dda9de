package server

import (
	"fmt"
	"slices"
	"strings"

	"rollingboil/scenarios"
)

// On paper a scenario is a worksheet: what is asked with room to write on one page, and
// the worked answer on a second.

// worksheet is what only paper shows.
type worksheet struct {
	Rows    []worksheetRow
	Answers []worksheetAnswer
}

// worksheetRow is one thing to be written down.
type worksheetRow struct {
	Name string
	Says string // what stands there already
}

// worksheetAnswer is one line of the worked answer.
type worksheetAnswer struct{ Name, Answer, Why string }

func (s *Server) worksheetOf(kase *scenarios.Case) worksheet {
	switch kase.Kind {
	case scenarios.Worked:
		return s.workedSheet(kase)
	case scenarios.Faults:
		return s.faultsSheet(kase)
	case scenarios.WhatNow:
		return s.whatNowSheet(kase)
	}
	return s.planSheet(kase)
}

// sheetKeys are the keys that a plan on paper has a line for. The others are asked for
// together: which of them matter is for the learner to say.
var sheetKeys = []string{"method", "gauge", "pack", "jar", "time", "pressure", "headspace", "acid.kind", "acid.per_jar"}

func (s *Server) planSheet(kase *scenarios.Case) worksheet {
	var w worksheet
	for _, key := range sheetKeys {
		if kase.Solution.Plan.Known(key) && !kase.Kitchen.Known(key) {
			w.Rows = append(w.Rows, worksheetRow{Name: words[key].label})
		}
	}
	for _, ask := range []string{"Jars, lids and bands", "In the canner", "When the heat is off", "On the shelf", "What I would not do here, and why"} {
		w.Rows = append(w.Rows, worksheetRow{Name: ask})
	}
	for _, step := range kase.Solution.Steps {
		w.Answers = append(w.Answers, worksheetAnswer{step.Ask, step.Answer, step.Why})
	}
	return w
}

func (s *Server) workedSheet(kase *scenarios.Case) worksheet {
	var w worksheet
	for i, kitchen := range kase.Then {
		var settled []string
		for _, line := range s.settledOf(kitchen.Kitchen, &kase.Kitchen) {
			settled = append(settled, line.Name+" "+line.Value)
		}
		for _, key := range kitchen.Blank {
			name := fmt.Sprintf("Kitchen %d: %s", i+1, words[key].label)
			w.Rows = append(w.Rows, worksheetRow{name, strings.Join(settled, ", ")})
			answer := worksheetAnswer{Name: name, Answer: s.sayPlan(kitchen.Solution.Plan, key)}
			for _, step := range kitchen.Solution.Steps {
				if step.Key == key {
					answer.Why = step.Why
				}
			}
			w.Answers = append(w.Answers, answer)
		}
	}
	return w
}

func (s *Server) faultsSheet(kase *scenarios.Case) worksheet {
	var w worksheet
	for _, mark := range s.course.Grader.MarkFaults(kase, nil).Marks {
		name, ofRecord := recordNames[mark.Key]
		var says string
		if ofRecord {
			says = s.sayRecord(kase, mark.Key)
		} else {
			name, says = words[mark.Key].label, s.sayPlan(kase.Plan, mark.Key)
		}
		w.Rows = append(w.Rows, worksheetRow{name, says})
		if mark.Faulty {
			var whys []string
			for _, f := range mark.Findings {
				whys = append(whys, f.Says)
			}
			answer := "wrong"
			if mark.Tested != "" {
				answer = "wrong: " + sayValue(mark.Key, mark.Tested)
			}
			w.Answers = append(w.Answers, worksheetAnswer{name, answer, strings.Join(whys, " ")})
		}
	}
	return w
}

func (s *Server) whatNowSheet(kase *scenarios.Case) worksheet {
	var w worksheet
	looked := kase.Looked()
	for i, jar := range kase.Jars {
		w.Rows = append(w.Rows, worksheetRow{fmt.Sprintf("Jar %d", i+1), jar.Says})
		answer := worksheetAnswer{Name: fmt.Sprintf("Jar %d", i+1)}
		for _, at := range looked {
			a := s.course.Grader.Answers(kase, at)[i]
			text := answerNames[a.Answer]
			if len(looked) > 1 {
				text = at.String() + ": " + text
			}
			answer.Answer = strings.TrimPrefix(answer.Answer+"; "+text, "; ")
			if !slices.Contains([]string{"", a.Why}, answer.Why) {
				answer.Why += " "
			}
			if !strings.HasSuffix(answer.Why, a.Why) {
				answer.Why += a.Why
			}
		}
		w.Answers = append(w.Answers, answer)
	}
	return w
}
