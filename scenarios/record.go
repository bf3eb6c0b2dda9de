package scenarios

import (
	"slices"
	"strconv"
	"time"

	"rollingboil/scenarios/measure"
)

// Batch is what somebody did: the plan, and the record of the day.
type Batch struct {
	Plan   Plan
	Record Record
}

// Record is what happened, with clock times that carry their own offset, so that
// midnight and a change to or from summer time do not matter.
type Record struct {
	Start         time.Time // the boil or the pressure was reached; zero when not stated
	StartKey      string    // which of the two: boil_reached or pressure_reached
	Finished      time.Time // the heat went off; zero when not stated
	Interruptions []Interruption
	Jars          []JarRecord
}

// Interruption is a stretch during which the boil or the pressure was lost. The
// process time starts again at To.
type Interruption struct{ From, To time.Time }

// JarRecord is what was seen of one jar.
type JarRecord struct {
	N            int
	Sealed       Stated[bool]
	LiquidLost   Stated[string] // none, some or half-or-more
	Separated    Stated[bool]
	CheckedAfter Stated[measure.Duration]
	Looks        Stated[string] // clear, cloudy, bubbles, bulging, leaking or mold
	Placed       Stated[string] // shelf, fridge, freezer, reprocessed or discarded
}

var (
	liquidWords = []string{"none", "some", "half-or-more"}
	looksWords  = []string{"clear", "cloudy", "bubbles", "bulging", "leaking", "mold"}
	placedWords = []string{"shelf", "fridge", "freezer", "reprocessed", "discarded"}
	recordKeys  = []string{"boil_reached", "pressure_reached", "finished", "interruptions", "jars"}
	jarKeys     = []string{"n", "sealed", "liquid_lost", "separated", "checked_after", "looks", "placed"}
)

// maxJars is far above any canner's load.
const maxJars = 200

// Held is the longest unbroken stretch at the boil or at pressure, false when
// the record does not say when it began or ended.
func (r *Record) Held() (minutes float64, known bool) {
	if r.Start.IsZero() || r.Finished.IsZero() {
		return 0, false
	}
	from, longest := r.Start, time.Duration(0)
	for _, i := range r.Interruptions {
		longest = max(longest, i.From.Sub(from))
		from = i.To
	}
	return max(longest, r.Finished.Sub(from)).Minutes(), true
}

// startedFor gives the record as it counts for a canner. The time starts at the boil
// in one and at the pressure in another, twenty minutes and more later, so a record of
// the other moment does not say when it started.
func (r Record) startedFor(method Stated[string]) Record {
	if method.Known && r.StartKey != startKey(method.Value) {
		r.Start = time.Time{}
	}
	return r
}

// isBatch tells a batch file from a plan file by its top keys.
func isBatch(root node) bool {
	return slices.ContainsFunc(root.entries, func(e entry) bool { return e.key == "record" || e.key == "plan" })
}

// batch binds a batch file.
func (b *binder) batch(root node) Record {
	var r Record
	for _, e := range root.entries {
		switch e.key {
		case "plan":
			b.tree("", e.value)
		case "record":
			b.record(&r, e.value)
		default:
			b.unknownKey(e, "", []string{"plan", "record"})
		}
	}
	return r
}

func (b *binder) unknownKey(e entry, where string, keys []string) {
	b.problem(node{line: e.line, col: e.col, text: e.key}, where, "%s", noSuchKey(e.key, keys))
}

func (b *binder) record(r *Record, n node) {
	if n.shape != shapeMap {
		b.problem(n, "record", "expected keys with values, such as finished: 2026-08-20T15:30:00-06:00")
		return
	}
	for _, e := range n.entries {
		switch e.key {
		case "boil_reached", "pressure_reached":
			if !r.Start.IsZero() {
				b.problem(e.value, "record", "boil_reached and pressure_reached are the same moment in a record, the start of the time; keep the one of your canner")
			}
			r.Start, r.StartKey = b.clock("record."+e.key, e.value), e.key
		case "finished":
			r.Finished = b.clock("record.finished", e.value)
		case "interruptions":
			for _, item := range e.value.items {
				r.Interruptions = append(r.Interruptions, b.interruption(item))
			}
			if e.value.shape != shapeList && e.value.shape != shapeEmpty {
				b.problem(e.value, "record.interruptions", "expected a list of {from: ..., to: ...}")
			}
		case "jars":
			b.jars(r, e.value)
		default:
			b.unknownKey(e, "record", recordKeys)
		}
	}
	b.order(r, n)
}

func (b *binder) clock(key string, n node) time.Time {
	if n.shape == shapeEmpty {
		return time.Time{}
	}
	t, err := time.Parse(time.RFC3339, n.text)
	if n.shape != shapeScalar || err != nil {
		b.problem(n, key, "%q is not a time with its offset, such as 2026-08-20T14:30:00-06:00", n.text)
	}
	return t
}

func (b *binder) interruption(n node) Interruption {
	var i Interruption
	for _, e := range n.entries {
		switch e.key {
		case "from":
			i.From = b.clock("record.interruptions", e.value)
		case "to":
			i.To = b.clock("record.interruptions", e.value)
		default:
			b.unknownKey(e, "record.interruptions", []string{"from", "to"})
		}
	}
	if i.From.IsZero() || i.To.IsZero() {
		b.problem(n, "record.interruptions", "an interruption needs from and to")
	}
	return i
}

// order checks that the clock times follow one another.
func (b *binder) order(r *Record, n node) {
	if r.Start.IsZero() || r.Finished.IsZero() {
		return
	}
	if !r.Finished.After(r.Start) {
		b.problem(n, "record.finished", "the heat went off before the boil or the pressure was reached")
		return
	}
	slices.SortStableFunc(r.Interruptions, func(a, c Interruption) int { return a.From.Compare(c.From) })
	last := r.Start
	for _, i := range r.Interruptions {
		if i.From.Before(last) || i.To.Before(i.From) || i.To.After(r.Finished) {
			b.problem(n, "record.interruptions", "an interruption must lie within the process, end after it began, and not overlap another")
			return
		}
		last = i.To
	}
}

func (b *binder) jars(r *Record, n node) {
	if n.shape != shapeList {
		if n.shape != shapeEmpty {
			b.problem(n, "record.jars", "expected a list of jars, such as - {n: 1, sealed: true}")
		}
		return
	}
	if len(n.items) > maxJars {
		b.problem(n, "record.jars", "%d jars; a batch has at most %d", len(n.items), maxJars)
		return
	}
	seen := map[int]bool{}
	for _, item := range n.items {
		jar := b.jar(item)
		if seen[jar.N] {
			b.problem(item, "record.jars", "jar %d is recorded twice", jar.N)
		}
		seen[jar.N] = true
		r.Jars = append(r.Jars, jar)
	}
}

func (b *binder) jar(n node) JarRecord {
	var j JarRecord
	for _, e := range n.entries {
		switch e.key {
		case "n":
			v, err := strconv.Atoi(e.value.text)
			if err != nil || v < 1 || v > maxJars {
				b.problem(e.value, "record.jars", "n: %q is not a jar's number from 1 to %d", e.value.text, maxJars)
			}
			j.N = v
		case "sealed":
			b.scalarInto(Key{Name: "record.jars", Kind: KindYesNo}, &j.Sealed, e.value)
		case "separated":
			b.scalarInto(Key{Name: "record.jars", Kind: KindYesNo}, &j.Separated, e.value)
		case "liquid_lost":
			b.scalarInto(Key{Name: "record.jars", Kind: KindWord, Words: liquidWords}, &j.LiquidLost, e.value)
		case "placed":
			b.scalarInto(Key{Name: "record.jars", Kind: KindWord, Words: placedWords}, &j.Placed, e.value)
		case "looks":
			b.scalarInto(Key{Name: "record.jars", Kind: KindWord, Words: looksWords}, &j.Looks, e.value)
		case "checked_after":
			b.scalarInto(Key{Name: "record.jars", Kind: KindDuration}, &j.CheckedAfter, e.value)
		default:
			b.unknownKey(e, "record.jars", jarKeys)
		}
	}
	if j.N == 0 {
		b.problem(n, "record.jars", "a jar needs its number n")
	}
	return j
}
