package process

import (
	"bytes"
	_ "embed"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"sync"

	"rollingboil/scenarios/measure"
)

//go:embed times.csv
var timesCSV []byte

//go:embed foods.csv
var foodsCSV []byte

//go:embed acid.csv
var acidCSV []byte

//go:embed untested.csv
var untestedCSV []byte

// Shipped gives the embedded table, which is loaded once.
var Shipped = sync.OnceValues(func() (*Table, error) {
	return Load(bytes.NewReader(timesCSV), bytes.NewReader(foodsCSV), bytes.NewReader(acidCSV), bytes.NewReader(untestedCSV))
})

var (
	timesHeader = []string{"food", "name", "guide", "pack", "method", "gauge", "jar", "from_ft", "to_ft", "minutes", "psi", "headspace_in", "confidence", "page", "source"}
	foodsHeader = []string{"food", "acidity", "acid_in", "recipe_acid", "prepared", "sterilise", "confidence", "page", "directions", "load_7qt", "load_9pt", "bushel_lb", "bushel_yield", "lb_per_qt", "produce_out", "note"}
	acidHeader  = []string{"food", "jar", "kind", "amount", "source"}
	otherHeader = []string{"id", "name", "like", "why", "source", "confidence"}

	packWords       = []string{"hot", "raw", "as-directed"}
	methodWords     = []string{"boiling-water", "pressure"}
	confidenceWords = []string{"guide-2015", "guide-2015-ocr", "one-copy", "from-memory"}
	acidityWords    = []string{"acid", "acidified", "borderline", "pickled", "low-acid"}
	preparedWords   = []string{"milled", "peeled", "unpeeled", "blended-unpeeled", "mashed", "cubed", "whole"}
	produceWords    = []string{"ripe", "green", "overripe", "frost-killed", "diseased", "white-fleshed"}
	acidWords       = []string{"bottled-lemon-juice", "citric-acid", "vinegar-5"}
)

// loader collects problems as file:line: message.
type loader struct {
	table    *Table
	problems []error
}

func (l *loader) problem(file string, line int, format string, args ...any) {
	l.problems = append(l.problems, fmt.Errorf("%s:%d: %s", file, line, fmt.Sprintf(format, args...)))
}

// Load reads and checks a table from its four files. Every problem is reported,
// joined in one error: unknown words, figures out of range, rows given twice,
// altitude bands of a line that overlap or leave a hole, minutes that fall with
// altitude in boiling water, pressure that falls with altitude, a food without a
// card, a card without rows, an untested food that has rows or that resembles
// none.
func Load(times, foods, acid, untested io.Reader) (*Table, error) {
	l := &loader{table: &Table{byID: map[string]*food{}}}
	order := l.readTimes(times)
	l.readFoods(foods)
	l.readAcid(acid)
	l.readUntested(untested)
	for _, id := range order {
		f := l.table.byID[id]
		if f.card.Acidity == "" {
			l.problem("foods.csv", 1, "%s has rows but no card", id)
		}
		l.table.number += len(f.rows)
		l.table.foods = append(l.table.foods, *f)
		l.table.ids = append(l.table.ids, id)
	}
	for i := range l.table.foods {
		f := &l.table.foods[i]
		l.table.byID[f.card.Food] = f
		f.index()
	}
	for _, u := range l.table.untested {
		l.table.ids = append(l.table.ids, u.ID)
	}
	if len(l.problems) > 0 {
		return nil, errors.Join(l.problems...)
	}
	return l.table, nil
}

// records reads a CSV file with the wanted header and calls row for each line.
func (l *loader) records(file string, src io.Reader, header []string, row func(line int, field map[string]string)) {
	r := csv.NewReader(src)
	first, err := r.Read()
	if err != nil || !slices.Equal(first, header) {
		l.problem(file, 1, "the first line must be %s", strings.Join(header, ","))
		return
	}
	for {
		record, err := r.Read()
		if errors.Is(err, io.EOF) {
			return
		}
		if err != nil {
			var parse *csv.ParseError
			if !errors.As(err, &parse) {
				l.problems = append(l.problems, fmt.Errorf("%s: %w", file, err))
				return // the reader itself failed and would fail again
			}
			l.problem(file, parse.Line, "not readable as CSV: %v", err)
			continue
		}
		line, _ := r.FieldPos(0)
		field := make(map[string]string, len(header))
		for i, name := range header {
			field[name] = record[i]
		}
		row(line, field)
	}
}

func (l *loader) word(file string, line int, name, word string, words []string) {
	if slices.Contains(words, word) {
		return
	}
	l.problem(file, line, "%s: %q is not one of %s", name, word, strings.Join(words, " "))
}

func (l *loader) whole(file string, line int, name, text string, low, high int) int {
	n, err := strconv.Atoi(text)
	if err != nil || n < low || n > high || strconv.Itoa(n) != text {
		l.problem(file, line, "%s: %q is not a whole number from %d to %d", name, text, low, high)
		return 0
	}
	return n
}

func (l *loader) readTimes(src io.Reader) (order []string) {
	const file = "times.csv"
	checked := map[string]*bandCheck{}
	var lines []*bandCheck
	l.records(file, src, timesHeader, func(line int, field map[string]string) {
		r := Row{
			Food: field["food"], Name: field["name"], Pack: field["pack"], Method: field["method"], Gauge: field["gauge"], Jar: field["jar"],
			Confidence: field["confidence"], Page: field["page"], Source: field["source"],
		}
		before := len(l.problems)
		if !isID(r.Food) || r.Name == "" || r.Source == "" {
			l.problem(file, line, "a row needs a food id in small letters, a name and a source")
		}
		r.Guide = l.whole(file, line, "guide", field["guide"], 1, 7)
		l.word(file, line, "pack", r.Pack, packWords)
		l.word(file, line, "method", r.Method, methodWords)
		l.word(file, line, "confidence", r.Confidence, confidenceWords)
		if jarRank(r.Jar) < 0 {
			l.problem(file, line, "jar: %q is no jar", r.Jar)
		}
		r.FromFt = l.whole(file, line, "from_ft", field["from_ft"], 0, 20000)
		if field["to_ft"] != "" {
			r.ToFt = l.whole(file, line, "to_ft", field["to_ft"], r.FromFt+1, 20000)
		}
		r.Minutes = l.whole(file, line, "minutes", field["minutes"], 1, 300)
		if r.Method == "pressure" {
			r.PSI = l.whole(file, line, "psi", field["psi"], 1, 15)
			l.word(file, line, "gauge", r.Gauge, []string{"dial", "weighted"})
		} else if field["psi"] != "" || r.Gauge != "" {
			l.problem(file, line, "psi and gauge belong to pressure only")
		}
		if text := field["headspace_in"]; text != "" {
			v, err := strconv.ParseFloat(text, 64)
			if err != nil || !(v > 0 && v <= 2) {
				l.problem(file, line, "headspace_in: %q is not a number over 0 up to 2", text)
			}
			r.HeadspaceIn = v
		}
		if len(l.problems) > before {
			return
		}
		f := l.table.byID[r.Food]
		if f == nil {
			f = &food{card: Card{Food: r.Food, Name: r.Name, Guide: r.Guide, Source: r.Source}}
			l.table.byID[r.Food] = f
			order = append(order, r.Food)
		}
		f.rows = append(f.rows, r)
		key := strings.Join([]string{r.Food, r.Pack, r.Method, r.Gauge, r.Jar}, "|")
		if r.Method == "pressure" { // alternatives are told apart by their time
			key += "|" + field["minutes"]
		}
		if checked[key] == nil {
			checked[key] = &bandCheck{}
			lines = append(lines, checked[key])
		}
		checked[key].add(line, r)
	})
	for _, c := range lines {
		c.check(l, file)
	}
	return order
}

func isID(s string) bool {
	for _, c := range s {
		if (c < 'a' || c > 'z') && (c < '0' || c > '9') && c != '-' {
			return false
		}
	}
	return s != ""
}

// bandCheck holds the rows of one printed line until all are read.
type bandCheck struct {
	rows  []Row
	lines []int
}

func (c *bandCheck) add(line int, r Row) {
	c.rows = append(c.rows, r)
	c.lines = append(c.lines, line)
}

func (c *bandCheck) check(l *loader, file string) {
	order := make([]int, len(c.rows))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return c.rows[a].FromFt - c.rows[b].FromFt })
	for n, i := range order {
		r, line := c.rows[i], c.lines[i]
		if n == 0 {
			if r.FromFt != 0 {
				l.problem(file, line, "%s in %s jars: the lowest band starts at %d ft, not at 0", r.Food, r.Jar, r.FromFt)
			}
			continue
		}
		last := c.rows[order[n-1]]
		switch {
		case last.ToFt == 0 || r.FromFt <= last.ToFt:
			l.problem(file, line, "%s in %s jars: the band from %d ft overlaps the one from %d ft (line %d)", r.Food, r.Jar, r.FromFt, last.FromFt, c.lines[order[n-1]])
		case r.FromFt != last.ToFt+1:
			l.problem(file, line, "%s in %s jars: no row from %d to %d ft", r.Food, r.Jar, last.ToFt+1, r.FromFt-1)
		}
		if r.Method == "boiling-water" && r.Minutes < last.Minutes {
			l.problem(file, line, "%s in %s jars: %d min is less than the %d min of the lower band", r.Food, r.Jar, r.Minutes, last.Minutes)
		}
		if r.PSI < last.PSI {
			l.problem(file, line, "%s in %s jars: %d psi is less than the %d psi of the lower band", r.Food, r.Jar, r.PSI, last.PSI)
		}
	}
}

func (l *loader) readFoods(src io.Reader) {
	const file = "foods.csv"
	l.records(file, src, foodsHeader, func(line int, field map[string]string) {
		f := l.table.byID[field["food"]]
		if f == nil {
			l.problem(file, line, "%s has a card but no row", field["food"])
			return
		}
		if f.card.Acidity != "" {
			l.problem(file, line, "%s has a card already", field["food"])
			return
		}
		l.word(file, line, "acidity", field["acidity"], acidityWords)
		l.word(file, line, "acid_in", field["acid_in"], []string{"", "jar", "recipe"})
		l.word(file, line, "sterilise", field["sterilise"], []string{"", "under-10"})
		l.word(file, line, "confidence", field["confidence"], confidenceWords)
		f.card.Acidity, f.card.AcidIn, f.card.Sterilise = field["acidity"], field["acid_in"], field["sterilise"]
		f.card.Confidence, f.card.Page = field["confidence"], field["page"]
		l.readRecipeAcid(line, field, &f.card)
		if field["prepared"] != "" {
			f.card.Prepared = strings.Split(field["prepared"], "|")
			for _, word := range f.card.Prepared {
				l.word(file, line, "prepared", word, preparedWords)
			}
		}
		l.readDirections(line, field, &f.card)
		for _, r := range f.rows {
			if !slices.Contains(f.card.Packs, r.Pack) {
				f.card.Packs = append(f.card.Packs, r.Pack)
			}
		}
		if len(f.card.Packs) > 1 && slices.Contains(f.card.Packs, "as-directed") {
			l.problem(file, line, "%s has as-directed rows, which answer for any pack, beside rows for one pack", field["food"])
		}
		for _, r := range f.rows {
			if r.Method == "boiling-water" && f.card.Acidity == "low-acid" {
				l.problem(file, line, "%s is low-acid but has a boiling-water row", r.Food)
				break
			}
		}
	})
}

// readRecipeAcid reads which acids the tested recipe of a food has, where its acid is
// part of the recipe. A recipe of the guide always says; of one that was not read
// there, it may be unknown.
func (l *loader) readRecipeAcid(line int, field map[string]string, card *Card) {
	const file = "foods.csv"
	if field["recipe_acid"] == "" {
		if card.AcidIn == "recipe" && strings.HasPrefix(card.Confidence, "guide-2015") {
			l.problem(file, line, "recipe_acid: the recipe of %s is printed in the guide, so say which acid it has", card.Food)
		}
		return
	}
	if card.AcidIn != "recipe" {
		l.problem(file, line, "recipe_acid: the acid of %s is not part of a recipe", card.Food)
	}
	card.RecipeAcid = strings.Split(field["recipe_acid"], "|")
	for _, word := range card.RecipeAcid {
		l.word(file, line, "recipe_acid", word, acidWords)
	}
}

// readDirections reads what the directions say beside the times.
func (l *loader) readDirections(line int, field map[string]string, card *Card) {
	const file = "foods.csv"
	card.Directions, card.Note = field["directions"], field["note"]
	if card.Directions == "" && strings.HasPrefix(card.Confidence, "guide-2015") {
		l.problem(file, line, "directions: %s is printed in the guide, so say how it is prepared", card.Food)
	}
	if len(card.Directions) > 120 || strings.HasSuffix(card.Directions, ".") {
		l.problem(file, line, "directions: %q is not one line of at most 120 letters without a full stop", card.Directions)
	}
	if n := len(card.Note); n == 0 || n > 180 || !strings.HasSuffix(card.Note, ".") {
		l.problem(file, line, "note: %q is not one or two sentences of at most 180 letters", card.Note)
	}
	for name, to := range map[string]*Amounts{
		"load_7qt": &card.Load7Quarts, "load_9pt": &card.Load9Pints, "bushel_lb": &card.Bushel,
		"bushel_yield": &card.BushelYield, "lb_per_qt": &card.PerQuart,
	} {
		amounts, err := parseAmounts(field[name])
		if err != nil {
			l.problem(file, line, "%s: %v", name, err)
		}
		*to = amounts
	}
	if (card.Bushel == nil) != (card.BushelYield == nil) {
		l.problem(file, line, "%s: bushel_lb and bushel_yield belong together", card.Food)
	}
	if field["produce_out"] != "" {
		card.ProduceOut = strings.Split(field["produce_out"], "|")
	}
	for _, word := range card.ProduceOut {
		l.word(file, line, "produce_out", word, produceWords)
	}
	if !slices.IsSortedFunc(card.ProduceOut, func(a, b string) int {
		return slices.Index(produceWords, a) - slices.Index(produceWords, b)
	}) || len(slices.Compact(slices.Clone(card.ProduceOut))) != len(card.ProduceOut) {
		l.problem(file, line, "produce_out: %q names a word twice or out of order", field["produce_out"])
	}
}

func (l *loader) readAcid(src io.Reader) {
	const file = "acid.csv"
	l.records(file, src, acidHeader, func(line int, field map[string]string) {
		f, rank := l.table.byID[field["food"]], jarRank(field["jar"])
		if f == nil || rank < 0 || f.card.AcidIn != "jar" {
			l.problem(file, line, "%s in %s jars: no food whose card asks for acid in each jar, or no jar", field["food"], field["jar"])
			return
		}
		l.word(file, line, "kind", field["kind"], acidWords)
		amount, err := measure.ParseVolume(field["amount"])
		if err != nil {
			l.problem(file, line, "amount: %v", err)
			return
		}
		if amount == 0 {
			l.problem(file, line, "amount: %q is no dose", field["amount"])
			return
		}
		for jar, doses := range f.card.doses {
			for _, d := range doses {
				switch {
				case d.Kind != field["kind"]:
				case jar == rank:
					l.problem(file, line, "%s in %s jars: a dose of %s is listed already", field["food"], field["jar"], d.Kind)
				case jar < rank && d.Tsp > float64(amount), jar > rank && d.Tsp < float64(amount):
					l.problem(file, line, "%s: the smaller of %s and %s jars has the larger dose of %s", field["food"], field["jar"], jars[jar].ID, d.Kind)
				}
			}
		}
		f.card.doses[rank] = append(f.card.doses[rank], AcidDose{Kind: field["kind"], Tsp: float64(amount), Source: field["source"]})
	})
	for id, f := range l.table.byID {
		if f.card.AcidIn == "jar" && f.card.Dose("quarter-pint") == nil {
			l.problem(file, 1, "%s needs acid in each jar, but no dose is listed", id)
		}
	}
}

// index sorts a food's rows into places, jars and stretches of altitude.
func (f *food) index() {
	for _, r := range f.rows {
		i := slices.IndexFunc(f.places, func(p place) bool { return p.pack == r.Pack && p.method == r.Method && p.gauge == r.Gauge })
		if i < 0 {
			f.places = append(f.places, place{pack: r.Pack, method: r.Method, gauge: r.Gauge})
			i = len(f.places) - 1
		}
		f.places[i].rows = append(f.places[i].rows, r)
	}
	for i := range f.places {
		p := &f.places[i]
		for rank, jar := range jars {
			p.jars[rank] = segments(p.rows, jar.ID)
		}
	}
}

// segments parts the altitudes at every edge of a jar's bands: between two
// neighboring edges the same rows hold.
func segments(rows []Row, jar string) []segment {
	var bands []Band
	for _, r := range rows {
		if r.Jar == jar {
			bands = append(bands, r.Band)
		}
	}
	var out []segment
	for _, band := range SharedBands(bands) {
		s := segment{Band: band}
		for _, r := range rows {
			if r.Jar == jar && r.Covers(float64(band.FromFt)) {
				s.rows = append(s.rows, r)
			}
		}
		if len(s.rows) > 0 {
			slices.SortStableFunc(s.rows, func(a, b Row) int { return a.PSI - b.PSI })
			out = append(out, s)
		}
	}
	return out
}
