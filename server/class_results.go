package server

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"rollingboil/quiz"
	"rollingboil/quiz/analysis"
	"rollingboil/scenarios"
	"rollingboil/scenarios/physics"
	"rollingboil/scenarios/rules"
	"rollingboil/server/store"
)

// classWork is what the members of a class have done up to some time, in the order in
// which they did it.
type classWork struct {
	course   *taught // as the class is taught it
	members  []store.Person
	zones    map[string]string // by visitor
	answers  []store.Answer
	attempts []store.Attempt
	plans    []store.SavedPlan
}

func (s *Server) classWork(ctx context.Context, class string, until time.Time) (w classWork, err error) {
	if w.course, err = s.taughtIn(ctx, class); err != nil {
		return w, err
	}
	if w.members, err = s.store.Members(ctx, class); err != nil {
		return w, err
	}
	if w.zones, err = s.store.MemberZones(ctx, class); err != nil {
		return w, err
	}
	if w.answers, err = s.store.ClassAnswers(ctx, class, until); err != nil {
		return w, err
	}
	if w.attempts, err = s.store.ClassAttempts(ctx, class, until); err != nil {
		return w, err
	}
	w.plans, err = s.store.ClassPlans(ctx, class, until)
	return w, err
}

// since is the work without what was done before a time.
func (w classWork) since(from time.Time) classWork {
	w.answers = slices.DeleteFunc(slices.Clone(w.answers), func(a store.Answer) bool { return a.At.Before(from) })
	w.attempts = slices.DeleteFunc(slices.Clone(w.attempts), func(a store.Attempt) bool { return a.At.Before(from) })
	w.plans = slices.DeleteFunc(slices.Clone(w.plans), func(p store.SavedPlan) bool { return p.At.Before(from) })
	return w
}

// active is who did anything.
func (w classWork) active() people {
	did := people{}
	for _, a := range w.answers {
		did[a.Visitor] = true
	}
	for _, a := range w.attempts {
		did[a.Visitor] = true
	}
	for _, p := range w.plans {
		did[p.Visitor] = true
	}
	return did
}

// people is a set of visitors.
type people map[string]bool

// meeting is who met something, such as a belief.
type meeting map[string]people

func (m meeting) met(what, visitor string) {
	if m[what] == nil {
		m[what] = people{}
	}
	m[what][visitor] = true
}

func (m meeting) has(what, visitor string) bool { return m[what][visitor] }

// byMost lists what was met, by the most people first.
func (m meeting) byMost() []string {
	list := make([]string, 0, len(m))
	for what := range m {
		list = append(list, what)
	}
	slices.SortFunc(list, func(a, b string) int { return cmp.Or(cmp.Compare(len(m[b]), len(m[a])), cmp.Compare(a, b)) })
	return list
}

// competenciesInOrder are those that keep people from harm, and then the others.
func competenciesInOrder() []string {
	others := slices.DeleteFunc(rules.Competencies(), func(name string) bool { return slices.Contains(rules.Critical(), name) })
	return slices.Concat(rules.Critical(), others)
}

// learners gives each member as reviewing knows a learner, in the order of the
// members: the same answers, the same days as on the learner's own page.
func (w classWork) learners() []quiz.Learner {
	at := map[string]int{}
	list := make([]quiz.Learner, len(w.members))
	for i, m := range w.members {
		at[m.Visitor], list[i].Zone = i, zoneOf(w.zones[m.Visitor])
	}
	for _, a := range w.answers {
		i, ok := at[a.Visitor]
		if !ok {
			continue // joined after the members were listed
		}
		l := &list[i]
		l.Answers = append(l.Answers, quiz.Answered{Question: a.Question, Seed: a.Seed, Right: a.Right, At: a.At})
	}
	return list
}

// shownBy tells of each member, in their order, how far each competency was shown.
func (w classWork) shownBy(competencies []string) [][]quiz.Shown {
	learners := w.learners()
	list := make([][]quiz.Shown, len(learners))
	for i, l := range learners {
		for _, name := range competencies {
			list[i] = append(list[i], w.course.Bank.Shown(l, name))
		}
	}
	return list
}

// beliefs is who met which belief, and where.
type beliefs struct {
	all, inAnswers, inPlans, inScenarios meeting
}

// beliefsOf finds the beliefs behind wrong answers, and behind the findings of plans and
// of plans written for scenarios.
func (s *Server) beliefsOf(w classWork) (beliefs, error) {
	b := beliefs{meeting{}, meeting{}, meeting{}, meeting{}}
	for _, a := range w.answers {
		if a.Right {
			continue
		}
		for _, id := range w.course.wrongBeliefs(a) {
			b.all.met(id, a.Visitor)
			b.inAnswers.met(id, a.Visitor)
		}
	}
	for _, p := range w.plans {
		report, err := readReport(p.Report)
		if err != nil {
			return b, fmt.Errorf("plan %s: %w", p.ID, err)
		}
		for _, id := range s.behind(report) {
			b.all.met(id, p.Visitor)
			b.inPlans.met(id, p.Visitor)
		}
	}
	for _, a := range w.attempts {
		report, err := readReport(a.Report)
		if err != nil {
			return b, fmt.Errorf("attempt %s: %w", a.ID, err)
		}
		for _, id := range s.behind(report) {
			b.all.met(id, a.Visitor)
			b.inScenarios.met(id, a.Visitor)
		}
	}
	return b, nil
}

// believed remembers which beliefs are behind a wrong answer that was kept without them: to
// put a question again may take a model to work out, and a class is looked at many times.
// It does not grow beyond mostBelieved; then it begins anew.
type believed struct {
	mu    sync.Mutex
	known map[string][]string
}

const mostBelieved = 50_000

// wrongBeliefs names the beliefs behind an answer, none for a right one.
func (t *taught) wrongBeliefs(a store.Answer) []string {
	if a.Right {
		return nil
	}
	if a.Beliefs != nil {
		return a.Beliefs
	}
	key := fmt.Sprintf("%s %d %q", a.Question, a.Seed, a.Given)
	t.believed.mu.Lock()
	ids, seen := t.believed.known[key]
	t.believed.mu.Unlock()
	if seen {
		return ids
	}
	if _, result, ok := t.markedAgain(a); ok {
		ids = result.Misconceptions()
	}
	t.believed.mu.Lock()
	defer t.believed.mu.Unlock()
	if len(t.believed.known) >= mostBelieved || t.believed.known == nil {
		t.believed.known = map[string][]string{}
	}
	t.believed.known[key] = ids
	return ids
}

// readReport reads the findings of a kept report. That of a scenario in which no plan
// is written is null and has none.
func readReport(kept []byte) ([]scenarios.Finding, error) {
	var report struct {
		Findings []scenarios.Finding `json:"findings"`
	}
	if err := json.Unmarshal(kept, &report); err != nil {
		return nil, fmt.Errorf("read a kept report: %w", err)
	}
	return slices.DeleteFunc(report.Findings, func(f scenarios.Finding) bool { return f.Severity == "not-checked" }), nil
}

// behind names the beliefs that lead to findings.
func (s *Server) behind(findings []scenarios.Finding) []string {
	var ids []string
	for _, f := range findings {
		if rule, ok := s.course.Grader.Rules().Rule(f.Rule); ok {
			ids = append(ids, rule.Misconceptions...)
		}
	}
	return ids
}

// scenarioFindings tells who met what in scenarios, in which scenarios, and who tried
// any. The key of a meeting is a rule's id, or "slug: thing".
func scenarioFindings(w classWork) (found, where meeting, tried people, err error) {
	found, where, tried = meeting{}, meeting{}, people{}
	for _, a := range w.attempts {
		tried[a.Visitor] = true
		findings, err := readReport(a.Report)
		if err != nil {
			return nil, nil, nil, fmt.Errorf("attempt %s: %w", a.ID, err)
		}
		for _, f := range findings {
			found.met(f.Rule, a.Visitor)
			where.met(f.Rule, a.Scenario)
		}
		if a.Kind == "" || a.Kind == scenarios.PlanIt {
			continue
		}
		var result scenarioResult
		if err := json.Unmarshal(a.Result, &result); err != nil {
			return nil, nil, nil, fmt.Errorf("read the result of attempt %s: %w", a.ID, err)
		}
		for _, line := range result.Lines {
			if !line.Right {
				key := a.Scenario + ": " + line.Name
				found.met(key, a.Visitor)
				where.met(key, a.Scenario)
			}
		}
	}
	return found, where, tried, nil
}

// questionStat is what the first answers of a class say about one question.
type questionStat struct {
	Question  *quiz.Question
	Right, Of int
	Low, High float64        // Wilson's 95 % interval of the share right
	Item      *analysis.Item // nil where the question was not compared with others
	Flags     []string       // in words
	Changed   bool           // answers to another wording are not counted
	Idle      string         // the beliefs that hardly anybody chose
}

// questionStats is the item analysis of a class.
type questionStats struct {
	List              []questionStat
	Compared, By, All int // questions compared, learners they are compared by, learners who answered any
	Hidden            bool
	Label             string // analysis.TooFew, or ""
}

// The answers of an item: A is right, the letters after it are the question's beliefs in
// their order, Z is a wrong answer without a belief.
func answerLetter(q *quiz.Question, right bool, beliefs []string) string {
	if right {
		return "A"
	}
	if len(beliefs) > 0 {
		if i := slices.Index(q.Misconceptions(), beliefs[0]); i >= 0 && i < 24 {
			return string(rune('B' + i))
		}
	}
	return "Z"
}

// questionsOf analyzes the first answer of each learner to each question as it reads now,
// where it was given after a time: by the second one the feedback is known. Coefficients
// need learners who answered all of the same questions; they are worked out over as many
// questions, those most answered first, as still leave a class of which coefficients may be
// shown (see quiz/analysis).
func (s *Server) questionsOf(w classWork, from time.Time) (questionStats, error) {
	cells := map[string]map[string]string{} // question, learner: letter
	stats := map[string]*questionStat{}
	all, changed, first := people{}, map[string]bool{}, meeting{}
	for _, a := range w.answers {
		q, ok := w.course.Bank.Question(a.Question)
		if !ok || first.has(q.ID, a.Visitor) {
			continue
		}
		if w.course.readsOtherwise(a) {
			changed[q.ID] = true
			continue
		}
		first.met(q.ID, a.Visitor)
		if a.At.Before(from) {
			continue
		}
		all[a.Visitor] = true
		if cells[q.ID] == nil {
			cells[q.ID], stats[q.ID] = map[string]string{}, &questionStat{Question: q}
		}
		stat, letter := stats[q.ID], "A"
		stat.Of++
		if a.Right {
			stat.Right++
		} else {
			letter = answerLetter(q, false, w.course.wrongBeliefs(a))
		}
		cells[q.ID][a.Visitor] = letter
	}
	out := questionStats{All: len(all)}
	for _, stat := range stats {
		var err error
		if stat.Low, stat.High, err = physics.Wilson(stat.Right, stat.Of, 0.95); err != nil {
			return out, err
		}
		stat.Changed = changed[stat.Question.ID]
		out.List = append(out.List, *stat)
	}
	slices.SortFunc(out.List, func(a, b questionStat) int {
		return cmp.Or(cmp.Compare(b.Of, a.Of), cmp.Compare(a.Question.ID, b.Question.ID))
	})
	compared, err := compare(out.List, cells)
	if err != nil {
		return out, err
	}
	out.Compared, out.By, out.Label, out.Hidden = len(compared.Items), compared.N, compared.Label, compared.Hidden()
	for i := range compared.Items {
		out.List[i].Item = &compared.Items[i]
		out.List[i].Flags, out.List[i].Idle = s.flagsOf(out.List[i].Question, compared.Items[i])
	}
	// What may not work comes first, then what hardly anybody has right.
	slices.SortStableFunc(out.List, func(a, b questionStat) int {
		return cmp.Or(cmp.Compare(min(1, len(b.Flags)), min(1, len(a.Flags))), cmp.Compare(a.High, b.High))
	})
	return out, nil
}

// compare analyzes the longest run of questions, from the most answered on, that enough
// learners answered whole. list is in that order; cells are the letters.
func compare(list []questionStat, cells map[string]map[string]string) (analysis.Analysis, error) {
	whole := map[string]bool{}
	n := 0
	for i, stat := range list {
		of := cells[stat.Question.ID]
		next := map[string]bool{}
		for learner := range of {
			if i == 0 || whole[learner] {
				next[learner] = true
			}
		}
		if (analysis.Analysis{N: len(next)}).Hidden() {
			break
		}
		whole, n = next, i+1
	}
	if n < 2 { // nothing to compare with
		return analysis.Analysis{Label: analysis.TooFew}, nil
	}
	table := analysis.Table{}
	learners := make([]string, 0, len(whole))
	for learner := range whole {
		learners = append(learners, learner)
	}
	slices.Sort(learners)
	right, err := analysis.ParseAnswer("A")
	if err != nil {
		return analysis.Analysis{}, err
	}
	table.Rows = make([][]analysis.Answer, len(learners))
	for _, stat := range list[:n] {
		q := stat.Question
		table.Items, table.Key = append(table.Items, q.ID), append(table.Key, right)
		letters := []string{"A"}
		for _, id := range q.Misconceptions() {
			if letter := answerLetter(q, false, []string{id}); !slices.Contains(letters, letter) {
				letters = append(letters, letter)
			}
		}
		for i, learner := range learners {
			letter := cells[q.ID][learner]
			if !slices.Contains(letters, letter) { // Z is offered by nobody, only given
				letters = append(letters, letter)
			}
			answer, err := analysis.ParseAnswer(letter)
			if err != nil {
				return analysis.Analysis{}, err
			}
			table.Rows[i] = append(table.Rows[i], answer)
		}
		var offered []analysis.Answer
		for _, letter := range letters {
			answer, err := analysis.ParseAnswer(letter)
			if err != nil {
				return analysis.Analysis{}, err
			}
			offered = append(offered, answer)
		}
		table.Offered = append(table.Offered, offered)
	}
	a, err := analysis.Of(table)
	if err != nil {
		return a, fmt.Errorf("analyze the questions of a class: %w", err)
	}
	return a.ForDisplay(), nil
}

// flagsOf puts the flags of an item and of its options into words; options that mislead
// nobody are only named.
func (s *Server) flagsOf(q *quiz.Question, item analysis.Item) (says []string, idle string) {
	for _, f := range item.Flags {
		says = append(says, scenarios.Sentence(f.Says())+".")
	}
	names := map[string]string{"A": "The right answer", "Z": "A wrong answer of no known belief"}
	for _, id := range q.Misconceptions() {
		if m, ok := s.course.Grader.Rules().Misconception(id); ok {
			names[answerLetter(q, false, []string{id})] = "“" + strings.TrimSuffix(m.Belief, ".") + "”"
		}
	}
	var unused []string
	for _, o := range item.Options {
		var odd []string
		for _, f := range o.Flags {
			switch f {
			case analysis.RarelyChosen:
				unused = append(unused, names[o.Option])
			case analysis.NeverChosen:
				if !q.Variants() { // not every draw offers every mistake
					unused = append(unused, names[o.Option])
				}
			default:
				odd = append(odd, f.Says())
			}
		}
		if len(odd) > 0 {
			says = append(says, names[o.Option]+": "+strings.Join(odd, "; ")+".")
		}
	}
	return says, strings.Join(unused, ", ")
}
