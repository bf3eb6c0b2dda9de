package server

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode"

	"rollingboil/lessons"
	"rollingboil/scenarios"
	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
	"rollingboil/server/store"
)

// A trial can begin a lesson. The draft is a lesson file as lessons/doc.go has it. Like the
// page of the trial it says first whether a way leaves the tested process. It holds nothing
// of a student: of their loads it tells what the class sees on that page (trial_tens.go),
// and neither notes nor reasons are taken over.

// Sentences that the page of a trial has too.
const (
	shortcutSays = "A shortcut that seals is not thereby tested."
	sealSays     = "A seal says that the lid holds. It does not say what heat the food got. Neither a seal nor a pH reading makes a way tested."
	reckonedSays = "The likely ranges are Wilson’s, 95 % sure; the comparison is Fisher’s exact test, both sides."
	tellSays     = "To tell means to find a difference as large as the one seen four times in five. Jars of one load share the canner, the boil and the hands that filled them, so they tell less than so many jars of their own would."
	severalSays  = "Each way is held against the first. The more comparisons, the likelier one of them stands out by luck."
)

// What a class reads wherever there are loads of students.
const (
	// amissFate is the strictest of the answers, so that it holds for each load. It is said
	// whether there is such a load or not, so that it tells of nobody.
	amissFate = "Jars of a load that was not cooked as tested are not for eating and not for the shelf, whatever the seals say."
	fewSays   = "Loads of students are not in the counts: they are of too few students."
	tensSays  = "Students are counted in tens, in the order in which their loads were linked, one load of each. A ten does not change. A count of one or two students is not shown, nor a count of nearly all. The other rows are the instructor’s own loads."
)

// notSaid is a cell of trialRows of which nothing is recorded.
const notSaid = "not said"

// draftWay is one way of a trial as the draft tells it. Its name is cleaned, not escaped.
type draftWay struct {
	trialSide
	plan   scenarios.Plan
	report scenarios.Report
	time   string // the reference that draws the tested time, "" where a lesson may draw none
	tested measure.Duration
	work   []int // minutes of each load
}

// trialDraft is a lesson that is being written.
type trialDraft struct {
	server  *Server
	work    *trialWork
	ways    []draftWay // those that are compared
	aside   []draftWay
	loads   int // that are told of
	body    strings.Builder
	teach   []string    // slugs of lessons that the trial is about
	sources []draftFrom // the most important first
}

// draftFrom is a publication and its parts that are used.
type draftFrom struct {
	id string
	at []string
}

// trialLesson drafts a lesson file about a trial, reviewed on the given day by the clocks
// of the class. It loads under a name such as 90-oven.md in a folder that has the shipped
// lessons. An error means that what is kept of the trial cannot be read.
func (s *Server) trialLesson(w *trialWork, day time.Time) ([]byte, error) {
	w.forClass() // which will read the lesson
	d := &trialDraft{server: s, work: w}
	for _, v := range w.Variants {
		way, err := d.way(v)
		if err != nil {
			return nil, err
		}
		if _, aside := w.aside(v.N); aside {
			d.aside = append(d.aside, way)
			continue
		}
		d.loads += way.sums.Loads + fewestLearners*len(way.tens)
		d.ways = append(d.ways, way)
	}
	d.judged()
	d.asked()
	d.seen()
	d.tells()
	d.next()
	d.questions()
	return []byte(d.front(day) + d.body.String()), nil
}

// way judges a variant and sums up its loads.
func (d *trialDraft) way(v store.TrialVariant) (draftWay, error) {
	side, report, err := d.server.viewSide(d.work, v)
	if err != nil {
		return draftWay{}, err
	}
	way := draftWay{trialSide: side, report: report}
	if way.plan, err = d.server.course.Grader.ParsePlan("", v.Plan); err != nil {
		return draftWay{}, fmt.Errorf("read the plan of a trial: %w", err)
	}
	for _, e := range d.work.Entries {
		if e.Variant != v.N || d.work.entry(e.N) == nil {
			continue
		}
		load, _, _, err := d.server.loadOf(d.work, e)
		if err != nil {
			return draftWay{}, err
		}
		if load.Minutes != nil {
			way.work = append(way.work, *load.Minutes)
		}
	}
	if way.Name, way.Lids = oneLine(v.Name), oneLine(v.Lids); way.Name == "" {
		way.Name = fmt.Sprintf("way %d", v.N)
	}
	for _, f := range report.Findings {
		if binding(f) {
			d.teaches(f.Lesson)
			for id := range strings.SplitSeq(f.Source, ", ") {
				d.cites(id, "")
			}
		}
	}
	p := way.plan
	reference, minutes, source, ok := lessons.TimeReference(d.server.course.Grader.Table(), p.Food.Value, p.Pack.Value, p.Method.Value, p.Jar.Value, p.Altitude.Value)
	if ok && p.Altitude.Known && len(report.Tested) == 1 {
		if way.tested, err = measure.ParseDuration(minutes); err != nil {
			return draftWay{}, err
		}
		way.time = reference
		d.cites(source, "p. "+report.Tested[0].Page)
	}
	return way, nil
}

// binding says whether a finding keeps a way from being as tested.
func binding(f scenarios.Finding) bool { return f.Severity == "safety" || f.Severity == "not-checked" }

func (d *trialDraft) teaches(slug string) {
	if _, ok := d.server.course.Lessons.Lesson(slug); ok && !slices.Contains(d.teach, slug) {
		d.teach = append(d.teach, slug)
	}
}

// cites notes a publication; "" stands for the part that the course names for it.
func (d *trialDraft) cites(id, at string) {
	source, ok := d.server.course.Grader.Rules().Source(id)
	if !ok {
		return
	}
	if at == "" {
		at = source.Part
	}
	i := slices.IndexFunc(d.sources, func(f draftFrom) bool { return f.id == id })
	if i < 0 {
		d.sources = append(d.sources, draftFrom{id: id, at: []string{at}})
	} else if !slices.Contains(d.sources[i].at, at) {
		d.sources[i].at = append(d.sources[i].at, at)
	}
}

func (d *trialDraft) write(format string, args ...any) { fmt.Fprintf(&d.body, format, args...) }

// tested says whether every way that is compared is as tested.
func (d *trialDraft) tested() bool {
	return len(d.ways) > 0 && !slices.ContainsFunc(d.ways, func(w draftWay) bool { return w.Verdict != scenarios.AsTested })
}

// heading is the verdict on the trial as a whole, as on its page.
func (d *trialDraft) heading() string {
	if len(d.ways) == 0 {
		return "No way is compared any more"
	}
	return trialHeading(d.sides())
}

func (d *trialDraft) sides() []trialSide {
	var sides []trialSide
	for _, way := range d.ways {
		sides = append(sides, way.trialSide)
	}
	return sides
}

// judged is what the rules say of each way, before anything that was counted.
func (d *trialDraft) judged() {
	d.write("\n## What the tested process says\n\n```caution\n**%s.**", inText(d.heading()))
	if d.tested() {
		d.write(" That comes from the published process and from nothing that was seen here.\n")
	} else {
		d.write(" **%s**\n", shortcutSays)
	}
	for _, way := range d.ways {
		_, means := verdictWords(way.report)
		d.write("\n**“%s”: %s.** %s", inText(way.Name), way.Answer, means)
		if way.Fate != "" {
			d.write(" **%s**", way.Fate)
		}
		d.write("\n")
		if way.Then != "" {
			d.write("\nOn the day it was entered the answer was: %s. The rules or the table have changed since.\n", lowerFirst(way.Then))
		}
		for _, about := range []struct {
			says string
			keys []string
		}{{"A verdict needs these, and its plan does not say them", way.report.Missing}, {"Its plan does not say these; they count too", way.report.NotStated}} {
			if len(about.keys) > 0 {
				d.write("\n%s: %s.\n", about.says, planKeys(about.keys))
			}
		}
		if slices.ContainsFunc(way.report.Findings, binding) {
			d.write("\n")
		}
		for _, f := range way.report.Findings {
			if binding(f) {
				d.write("- The rule [%s](/rules/%s): %s %s\n", f.Rule, f.Rule, way.ruleText(f, f.Says), way.ruleText(f, f.Why))
			}
		}
	}
	if d.work.ofStudents() {
		d.write("\n**%s**\n", amissFate)
	}
	d.write("```\n")
}

// planKeys names keys of a plan in the words of its form.
func planKeys(keys []string) string {
	var names []string
	for _, asked := range asks(keys) {
		names = append(names, strings.ToLower(strings.TrimSuffix(asked.Name, "?")))
	}
	return strings.Join(names, ", ")
}

// asked is the question, and the ways that are held against each other.
func (d *trialDraft) asked() {
	d.write("\n## What was asked\n\n“%s”\n", inText(cmp.Or(oneLine(d.work.Question), "Nothing was written down.")))
	if len(d.ways) > 0 {
		d.write("\n%s\n\n", plural(len(d.ways), "One way is tried, so there is nothing to hold it against:", "These ways are held against each other:"))
	}
	for _, way := range d.ways {
		d.write("- **“%s”**: %s. The answer of the rules: %s.\n", inText(way.Name), d.planText(way), lowerFirst(way.Answer))
	}
	for _, way := range d.aside {
		d.write("\nSet aside, and not counted: “%s”. The answer of the rules: %s. %s\n", inText(way.Name), lowerFirst(way.Answer), way.Fate)
	}
	d.write("\nA figure that is marked as measured was planned, clocked or read in these kitchens. Nobody cans by it.\n")
}

// planText is a plan in a line. Its time is the tested one only where the way is.
func (d *trialDraft) planText(way draftWay) string {
	p := way.plan
	var parts []string
	if name := foodName(d.server.course.Grader.Table(), p.Food.Value); name != "" {
		parts = append(parts, inText(name))
	}
	if p.Pack.Known {
		parts = append(parts, inText(p.Pack.Value)+" pack")
	}
	if p.Jar.Known {
		parts = append(parts, inText(process.JarName(p.Jar.Value))+" jars")
	}
	if p.Method.Known {
		parts = append(parts, inText(scenarios.Label(p.Method.Value)))
	}
	if p.Altitude.Known {
		parts = append(parts, "[[altitude "+plainNumber(float64(p.Altitude.Value))+" ft]]")
	}
	switch {
	case !p.Time.Known:
	case way.Verdict != scenarios.AsTested:
		parts = append(parts, "[[measured "+p.Time.Value.String()+"]]")
	case way.time != "" && way.tested == p.Time.Value:
		parts = append(parts, way.time)
	default:
		parts = append(parts, "its [tested time](/times/"+p.Food.Value+")")
	}
	if len(parts) == 0 {
		return "a plan that says little"
	}
	return strings.Join(parts, ", ")
}

// noLoad says why nothing is counted.
func (d *trialDraft) noLoad() string {
	if d.work.Few {
		return fewSays
	}
	if len(d.work.Entries) > 0 {
		return "No load is counted any more: what was entered was set aside, taken out or deleted."
	}
	return "No load has been entered yet."
}

// seen is the table of what was counted.
func (d *trialDraft) seen() {
	d.write("\n## What was seen\n\n")
	if d.loads == 0 {
		d.write("%s Nothing was seen, so nothing is told here. What the tested process says does not wait for it.\n", d.noLoad())
		return
	}
	row := func(label string, cells []string) { d.write("| %s | %s |\n", label, strings.Join(cells, " | ")) }
	var names, line []string
	for i, way := range d.ways {
		name := inText(way.Name)
		if lessons.NamesUnit(way.Name) { // "fewer minutes": the counts below would read as minutes
			name = fmt.Sprintf("Way %d", i+1)
		}
		names, line = append(names, name), append(line, "---")
	}
	row("Counted", names)
	row("---", line)
	counts := d.sides()
	var work, yields, acid []string
	for i, way := range d.ways {
		work, yields = append(work, minutesText(way.work)), append(yields, cmp.Or(strings.Join(way.sums.Yields, ", "), notSaid))
		acid = append(acid, cmp.Or(inText(strings.Join(way.sums.PHs, ", ")), notSaid))
		// The plans stand above the table, and these rows below: nothing is said of them here.
		counts[i].Summary = notSaid
		sums := &counts[i].sums
		sums.Minutes, sums.Yields, sums.PHs, sums.Gone = nil, nil, nil, 0
	}
	for _, r := range trialRows(counts) {
		var cells []string
		for _, c := range r.Cells {
			text := inText(c.Text)
			if c.Small != "" {
				text += " (" + inText(c.Small) + ")"
			}
			cells = append(cells, text)
		}
		row(r.Label, cells)
	}
	for _, own := range []struct {
		label string
		cells []string
	}{{"Work, each load", work}, {"Jars filled, each load", yields}, {"pH read", acid}} {
		if slices.ContainsFunc(own.cells, func(c string) bool { return c != notSaid }) {
			row(own.label, own.cells)
		}
	}
	switch {
	case d.work.Few:
		d.write("\n" + fewSays + "\n")
	case d.work.ofStudents():
		d.write("\n" + tensSays + "\n")
	}
	corrected := 0
	for _, e := range d.work.Entries {
		corrected += truth(d.work.replacedBy(e.N) > 0)
	}
	if corrected > 0 {
		d.write("\nNot counted: %d %s of the workbook, corrected or taken out.\n", corrected, plural(corrected, "entry", "entries"))
	}
}

// minutesText is the work of each load, or from the least to the most of many.
func minutesText(work []int) string {
	var list []string
	for _, minutes := range work {
		list = append(list, fmt.Sprintf("[[measured %d min]]", minutes))
	}
	if len(list) > 2 {
		return fmt.Sprintf("[[measured %d min]] to [[measured %d min]]", slices.Min(work), slices.Max(work))
	}
	return cmp.Or(strings.Join(list, ", "), notSaid)
}

// tells is what the figures can tell and what they cannot.
func (d *trialDraft) tells() {
	d.write("\n## What the figures can and cannot tell\n\n%s\n", sealSays)
	chances := trialChances(d.sides())
	for _, chance := range chances {
		d.write("\n### %s\n", inText(chance.Heading))
		for _, c := range chance.Compared {
			d.write("\n**%s**", inText(c.Says))
			for _, more := range []string{c.Needs, c.Loads} {
				if more != "" {
					d.write(" %s", inText(more))
				}
			}
			d.write("\n")
		}
	}
	switch {
	case len(chances) > 0:
		d.write("\n%s", tellSays)
		if len(chances) > 1 {
			d.write(" %s", severalSays)
		}
		d.write(" %s\n", reckonedSays)
	case len(d.ways) > 1:
		d.write("\nTwo ways can be compared when each has a load. Until then there is nothing to reckon.\n")
	default:
		d.write("\nA single way has nothing to be compared with. Its figures say what happened here, and not what made it so.\n")
	}
	if !d.tested() {
		d.write("\n**No number of jars makes a way tested.** Do not can more of it to find out: where jars are wanted to tell, they are jars of ways that are as tested.\n")
	}
}

// next is what the reader does now.
func (d *trialDraft) next() {
	d.write("\n## What to do next\n\n")
	for _, way := range d.ways {
		if way.Verdict != scenarios.AsTested {
			d.write("- Leave “%s” alone. Who has jars that were canned so asks the extension service, and eats none of them before.\n", inText(way.Name))
		}
	}
	for _, way := range d.aside {
		if way.Verdict != scenarios.AsTested {
			d.write("- Leave “%s” alone too, although it was set aside.\n", inText(way.Name))
		}
	}
	var foods []string
	for _, way := range d.ways {
		food := way.plan.Food.Value
		card, ok := d.server.course.Grader.Table().Card(food)
		if !ok || slices.Contains(foods, food) {
			continue
		}
		foods = append(foods, food)
		d.write("- Look up the [tested times of %s](/times/%s) for your own jar and altitude.\n", inText(card.Name), food)
	}
	d.write("- [Check your own plan](/plan) before the stove is lit.\n")
	for _, slug := range d.topics() {
		lesson, _ := d.server.course.Lessons.Lesson(slug)
		d.write("- Read again: [%s](/lessons/%s).\n", inText(lesson.Title), slug)
	}
	if d.loads == 0 {
		d.write("- Enter loads in the workbook, then draft this lesson anew.\n")
	}
}

// topics are the lessons that the trial is about: those of the rules that it breaks, then
// those of what was counted.
func (d *trialDraft) topics() []string {
	list := slices.Clone(d.teach)
	for _, slug := range d.counted("testing-seals", "liquid-loss", "separation") {
		if _, ok := d.server.course.Lessons.Lesson(slug); ok && !slices.Contains(list, slug) {
			list = append(list, slug)
		}
	}
	return list
}

// counted gives the word for seals, and those for lost liquid and for watery layers where
// these were looked at.
func (d *trialDraft) counted(seals, liquid, watery string) []string {
	list := []string{seals}
	if slices.ContainsFunc(d.ways, func(w draftWay) bool { return w.sums.LiquidSaid > 0 }) {
		list = append(list, liquid)
	}
	if slices.ContainsFunc(d.ways, func(w draftWay) bool { return w.sums.WaterSaid > 0 }) {
		list = append(list, watery)
	}
	return list
}

// questions brings two questions of the first topic back, and leaves a place for more.
func (d *trialDraft) questions() {
	d.write("\n## From memory\n\nThree to five questions of this trial have their place here, when they are written.\n")
	brought := 0
	for _, slug := range d.topics() {
		lesson, _ := d.server.course.Lessons.Lesson(slug)
		for _, id := range lesson.Questions {
			if _, ok := d.server.course.Bank.Question(id); ok && brought < 2 && strings.HasPrefix(id, slug+"-") {
				d.write("\n```question id=%s\n```\n", id)
				brought++
			}
		}
	}
}

// front is the front matter. The body is written before it, since it knows the length.
func (d *trialDraft) front(day time.Time) string {
	var out strings.Builder
	list := func(key string, texts []string) {
		fmt.Fprintf(&out, "%s:\n", key)
		for _, text := range texts {
			fmt.Fprintf(&out, "  - %s\n", inFront(text))
		}
	}
	question := strings.TrimRight(oneLine(d.work.Question), "?!.,:; ")
	if question == "" {
		question = "What did this trial show"
	}
	lead := d.heading() + ". " + shortcutSays
	if d.tested() {
		lead = d.heading() + ". What was counted says how the jars came out, and not what makes a process tested."
	}
	if d.loads == 0 {
		lead += " " + d.noLoad()
	}
	const wordsAMinute = 150 // slower than silent reading, since there are tables in it
	minutes := min(1+len(strings.Fields(d.body.String()))/wordsAMinute, 60)
	fmt.Fprintf(&out, "---\ntitle: %s\nquestion: %s\nlead: %s\nminutes: %d\n", inFront("A trial: "+question), inFront(question+"?"), inFront(lead), minutes)
	list("able", []string{
		"Say which of these ways a published process covers, and what the rules say of the others.",
		"Say why a shortcut that seals is not thereby tested.",
		"Tell a difference that chance alone would make from one that it would not.",
	})
	competencies := d.counted("seal-check", "siphoning", "separation")
	for _, slug := range d.teach {
		lesson, _ := d.server.course.Lessons.Lesson(slug)
		if first := lesson.Competencies[0]; !slices.Contains(competencies, first) {
			competencies = append(competencies, first)
		}
	}
	fmt.Fprintf(&out, "competencies: [%s]\nsources:\n", strings.Join(competencies, ", "))
	d.cites("usda-guide-1", "")
	for _, from := range d.sources {
		fmt.Fprintf(&out, "  - {id: %s, at: %s}\n", from.id, inFront(strings.Join(from.at, "; ")))
	}
	cautions := []string{sealSays}
	for _, way := range slices.Concat(d.ways, d.aside) {
		if way.Verdict != scenarios.AsTested {
			cautions = append(cautions, "“"+way.Name+"”: "+lowerFirst(way.Answer)+". "+way.Fate)
		}
	}
	if d.work.ofStudents() {
		cautions = append(cautions, amissFate)
	}
	list("cautions", append(cautions, "A trial in a kitchen is no test of a process. The tested recipe, the maker's directions and your extension service decide. When in doubt, throw it out."))
	fmt.Fprintf(&out, "reviewed: %s\n---\n", day.In(zoneOf(d.work.Class.Zone)).Format(time.DateOnly))
	return out.String()
}

// oneLine is a text that somebody typed as one line of signs that can be shown. Double
// square brackets, which begin a reference, are parted.
func oneLine(text string) string {
	text = strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r) || unicode.IsControl(r):
			return ' '
		case unicode.Is(unicode.Cf, r):
			return -1
		}
		return r
	}, strings.ToValidUTF8(text, "\uFFFD"))
	for _, bracket := range []string{"[", "]"} {
		for strings.Contains(text, bracket+bracket) {
			text = strings.ReplaceAll(text, bracket+bracket, bracket+" "+bracket)
		}
	}
	return strings.Join(strings.Fields(text), " ")
}

// leftOut stands where a typed figure cannot be told without guessing.
const leftOut = "(a figure that cannot be read)"

var (
	// Each sign that Markdown takes for more than itself inside a line. The bar is an
	// entity, since in a table it counts even behind a backslash.
	markdownSigns = strings.NewReplacer(`\`, `\\`, "`", "\\`", "*", `\*`, "_", `\_`, "[", `\[`, "]", `\]`, "<", `\<`, ">", `\>`, "&", `\&`, "#", `\#`, "~", `\~`, "!", `\!`, "|", "&#124;")
	yamlSigns     = strings.NewReplacer(`\`, `\\`, `"`, `\"`)
)

// inText makes a typed text one that means itself within a line of a lesson. Its figures
// become references.
func inText(text string) string {
	return withFigures(oneLine(text), markdownSigns, func(f lessons.Stretch) string { return cmp.Or(f.Reference, leftOut) })
}

// inFront is the same for the front matter: a quoted text of YAML.
func inFront(text string) string {
	return `"` + withFigures(oneLine(text), yamlSigns, func(f lessons.Stretch) string { return cmp.Or(f.Reference, leftOut) }) + `"`
}

func withFigures(text string, signs *strings.Replacer, figure func(lessons.Stretch) string) string {
	var out strings.Builder
	for _, part := range lessons.SplitFigures(text) {
		if part.Figure {
			out.WriteString(figure(part))
		} else {
			out.WriteString(signs.Replace(part.Text))
		}
	}
	return out.String()
}

// inMetric is the second half of a figure in both systems, "(25 mm)", which references draw
// by themselves.
var inMetric = regexp.MustCompile(` \([0-9][0-9., ]*(?:to [0-9][0-9., ]*)?(?:mm|cm|m|ml|kPa|°C)\)`)

// ruleText is what a rule says of a way. The time that is tested is drawn from the table,
// and what the plan gives is told as measured. For any other figure the reader is sent to
// the rule, since which of the two it is cannot be told by its looks.
func (way draftWay) ruleText(f scenarios.Finding, says string) string {
	given := map[string]string{"time": way.plan.Time.Value.String(), "pressure": way.plan.Pressure.Value.String(), "headspace": way.plan.Headspace.Value.String()}[f.Field]
	return withFigures(inMetric.ReplaceAllString(oneLine(says), ""), markdownSigns, func(figure lessons.Stretch) string {
		switch {
		case f.Field == "time" && way.time != "" && figure.Text == way.tested.String():
			return way.time
		case figure.Reference != "" && (figure.Text == given || strings.HasPrefix(figure.Reference, "[[altitude ")):
			return figure.Reference
		}
		return "[figure in the rule](/rules/" + f.Rule + ")"
	})
}
