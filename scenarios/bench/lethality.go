package bench

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"

	"rollingboil/scenarios/physics"
	"rollingboil/scenarios/process"
)

func lethality() *Demo {
	return &Demo{
		Name: "lethality", Title: "Minutes that count", Question: "Why does a minute at a lower temperature count less?",
		About:   "Heat kills a tenfold part of what lives in each so many minutes, and the more slowly the cooler it is: ten times as slowly for every z degrees. Adding up each moment gives minutes at the reference temperature.",
		Leaves:  "It is arithmetic on one curve. A published process stands on inoculated packs, many jars and margins. Never shorten or build a process with this.",
		Sources: []string{"Geankoplis, Transport Processes and Unit Operations, ch. 9", "NIST Digital Library of Mathematical Functions, 6.2: the exponential integral"},
		Keys: []Key{
			{Name: "ref", Label: "Reference temperature", Means: "200 °F (93.3 °C) is used for acid foods.", Default: "93.3 C", read: readC},
			{Name: "z", Label: "Degrees for ten times the effect (z)", Means: "A difference: 16 F or 8.89 C.", Default: "8.89 C", read: readDegreesC},
			{Name: "d", Label: "Minutes for a tenfold kill at the reference (D)", Means: "One minute is a round teaching value.", Default: "1 min", read: readMinutes},
			{Name: "fh", Label: "Nine tenths of the gap close in (fh)", Means: "From the heating demonstration.", Default: "57 min", Instead: []string{"curve"}, read: readMinutes},
			{Name: "j", Label: "Lag factor (j)", Means: "Near 2 for food that stands still.", Default: "2.03", Instead: []string{"curve"}, read: readNumber("")},
			{Name: "bath", Label: "Bath", Means: "Boiling water at your altitude, or steam.", Default: "100 C", Instead: []string{"curve"}, read: readC},
			{Name: "start", Label: "Food at the start", Means: "Hot pack is near 185 °F (85 °C).", Default: "85 C", Instead: []string{"curve"}, read: readC},
			{Name: "time", Label: "Time in the bath", Means: "Minutes.", Default: "40 min", Instead: []string{"curve"}, read: readMinutes},
			{Name: "curve", Label: "Readings", Means: "A CSV file of minutes and Celsius degrees, one reading to a line.", Command: true},
		},
		run: runLethality,
	}
}

func runLethality(in values, _ *process.Table) (Result, error) {
	ref, z := in.num("ref"), in.num("z")
	var f float64
	var line []Point // F so far
	var err error
	if in.has("curve") {
		for _, key := range []string{"fh", "j", "bath", "start", "time"} {
			if in[key].given {
				return Result{}, &KeyError{Key: key, Text: in.text(key), Cause: fmt.Errorf("a curve stands alone: leave out fh, j, bath, start and time")}
			}
		}
		f, line, err = lethalityOfFile(in, ref, z)
	} else {
		line, err = curve(steps(0, in.num("time"), curvePoints), func(minutes float64) (float64, error) {
			return physics.LethalityOfHeating(in.num("fh"), in.num("j"), in.num("bath"), in.num("start"), minutes, ref, z)
		})
		if err != nil {
			err = &KeyError{Cause: err}
		} else {
			f = line[len(line)-1].Y
		}
	}
	if err != nil {
		return Result{}, err
	}
	logs, err := physics.LogReductions(f, in.num("d"))
	if err != nil {
		return Result{}, underKey("d", in, err)
	}
	r := Result{
		Says: []string{
			fmt.Sprintf("All of it counts as %s at %s.", sayMinutes(f), sayC(ref)),
			fmt.Sprintf("With %s for a tenfold kill that is %s times tenfold.", sayMinutes(in.num("d")), digits(logs, 3)),
		},
		Numbers: []Number{
			{"f_min", "Minutes at the reference temperature (F)", f, sayMinutes(f)},
			{"log_reductions", "Tenfold reductions", logs, digits(logs, 4)},
		},
	}
	r.Figure = &Figure{
		Title: "Minutes that count, so far",
		Says:  "A line that stays near zero while the food is cool and climbs the faster the hotter it gets. " + r.Says[0],
		X:     Axis{Label: "Time", Unit: "min"}, Y: Axis{Label: "Counts as, at " + sayC(ref), Unit: "min"},
		Lines: []Line{{Points: line}},
	}
	r.Table = Table{Caption: "What counts, in figures", Head: []string{"Time", "Counts as"}}
	for i, p := range line {
		if i%max(1, len(line)/10) == 0 || i == len(line)-1 {
			r.Table.Rows = append(r.Table.Rows, Row{Cells: []string{sayMinutes(p.X), sayMinutes(p.Y)}})
		}
	}
	return r, nil
}

// mostReadings is far more than a day of readings, one a second.
const mostReadings = 100_000

func lethalityOfFile(in values, ref, z float64) (f float64, line []Point, err error) {
	readings, err := readingsOf(in.text("curve"))
	if err != nil {
		return 0, nil, underKey("curve", in, err)
	}
	if f, err = physics.LethalityOfCurve(readings, ref, z); err != nil {
		return 0, nil, underKey("curve", in, err)
	}
	every := max(1, len(readings)/curvePoints)
	line = []Point{{readings[0].Minutes, 0}}
	from := 0
	for i := range readings {
		if i == 0 || i%every != 0 && i != len(readings)-1 {
			continue
		}
		part, err := physics.LethalityOfCurve(readings[from:i+1], ref, z)
		if err != nil {
			return 0, nil, underKey("curve", in, err)
		}
		from = i
		line = append(line, Point{readings[i].Minutes, line[len(line)-1].Y + part})
	}
	return f, line, nil
}

// readingsOf reads minutes and Celsius degrees from a CSV file. A first line of
// words is passed over.
func readingsOf(name string) ([]physics.Reading, error) {
	file, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	text := bufio.NewReader(file)
	if mark, err := text.Peek(3); err == nil && string(mark) == "\ufeff" { // as some spreadsheets write
		if _, err := text.Discard(3); err != nil {
			return nil, err
		}
	}
	table := csv.NewReader(text)
	table.FieldsPerRecord, table.TrimLeadingSpace, table.ReuseRecord, table.Comment = 2, true, true, '#'
	var readings []physics.Reading
	first := true
	for {
		fields, err := table.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w; each line has minutes, a comma, and Celsius degrees", name, err)
		}
		at, _ := table.FieldPos(0)
		minutes, errMin := strconv.ParseFloat(strings.TrimSpace(fields[0]), 64)
		temp, errC := strconv.ParseFloat(strings.TrimSpace(fields[1]), 64)
		if errMin != nil || errC != nil {
			if first && errMin != nil && errC != nil {
				first = false
				continue // names of the columns
			}
			return nil, fmt.Errorf("%s:%d: %q is not minutes, a comma, and Celsius degrees, such as 12.5, 93.1", name, at, strings.Join(fields, ","))
		}
		first = false
		if len(readings) == mostReadings {
			return nil, fmt.Errorf("%s:%d: more than %d readings", name, at, mostReadings)
		}
		readings = append(readings, physics.Reading{Minutes: minutes, TempC: temp})
	}
	if len(readings) < 2 {
		return nil, fmt.Errorf("%s: it takes at least two readings", name)
	}
	return readings, nil
}
