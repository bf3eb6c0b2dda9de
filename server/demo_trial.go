package server

import (
	"context"
	"encoding/json"
	"fmt"
	"net/url"

	"rollingboil/server/store"
)

// demoTrials are what the instructor tries out for the class, a load of each way on one
// Saturday after the other: a shortcut that leaves the tested process, and seals as well
// as the tested way; and something that stays within it, and can be told by the liquid.
// Readings and chances are invented; chances are of a thousand jars.
var demoTrials = []struct {
	question, food string
	week, loads    int // the first Saturday, and how many
	shown          bool
	ways           []demoWay
}{
	{
		question: "The strip says 4.2. May the lemon juice stay out?", food: "tomatoes-crushed", week: 1, loads: 4, shown: true,
		ways: []demoWay{
			{name: "With lemon juice", unsealed: 30, lost: 150, half: 20, watery: 180, work: 95},
			{
				name: "Without lemon juice", unsealed: 30, lost: 150, half: 20, watery: 180, work: 90,
				change: url.Values{"acid.kind": {"none"}, "acid.per_jar": {""}, "ph.reading": {"4.2"}, "ph.by": {"strip"}},
				reads:  []demoReading{{4.2, "strip"}, {4.2, "strip"}, {4.4, "strip"}, {4.5, "meter"}},
			},
		},
	},
	{
		question: "Do the jars lose less liquid if they rest before they are lifted?", food: "peaches", week: 2, loads: 3,
		ways: []demoWay{
			{name: "Five minutes of rest", unsealed: 20, lost: 200, half: 20, work: 80, change: url.Values{"rest": {"5 min"}}},
			{name: "Lifted at once", unsealed: 40, lost: 450, half: 60, work: 80, change: url.Values{"rest": {"0 min"}}},
		},
	},
}

// demoWay is one way of a trial: in what it differs from the right plan, how often a jar
// turns out so, and about how many minutes of work a load is.
type demoWay struct {
	name                         string
	change                       url.Values
	unsealed, lost, half, watery int
	work                         int
	reads                        []demoReading // of the loads in turn
}

type demoReading struct {
	ph float64
	by string
}

// compare enters the trials of the class, at its own altitude and in quarts.
func (d *demo) compare(ctx context.Context) error {
	own := &demoStudent{altitude: int(d.class.AltitudeFt), jar: "quart", lids: "two-piece"}
	for _, about := range demoTrials {
		trial := store.Trial{ID: d.id(), Class: d.class.ID, Question: about.question, Made: d.at(about.week, 0, 21, 0)}
		right, err := d.rightPlan(own, about.food)
		if err != nil {
			return err
		}
		var variants []store.TrialVariant
		for _, way := range about.ways {
			form := noneMeansNothing(formOf(right))
			for key, values := range way.change {
				form[key] = values
			}
			plan, err := d.course.Grader.PlanFromForm(form)
			if err != nil {
				return fmt.Errorf("the trial %q, %s: %w", about.question, way.name, err)
			}
			variants = append(variants, store.TrialVariant{
				Name: way.name, Plan: plan.YAML(), Lids: demoLots[0].name, Verdict: string(d.course.Grader.Grade(plan).Verdict), Version: d.course.Grader.Version(), Made: trial.Made,
			})
		}
		if _, err := d.store.AddTrial(ctx, trial, variants); err != nil {
			return err
		}
		for n := range about.loads {
			for i, way := range about.ways {
				load, err := json.Marshal(d.loadOfWay(way, n))
				if err != nil {
					return err
				}
				// The seals are read on the Sunday.
				e := store.TrialEntry{Form: d.id(), Variant: i + 1, Kind: store.TypedEntry, Load: load, At: d.at(about.week+n, 3, 9, 10*i+d.random.IntN(10))}
				if err := d.store.AddTrialEntry(ctx, trial.ID, e); err != nil {
					return err
				}
			}
		}
		if about.shown {
			if err := d.store.AddTrialEvent(ctx, trial.ID, store.TrialEvent{What: store.TrialShown, At: d.at(about.week+about.loads, 0, 18, 30)}); err != nil {
				return err
			}
		}
	}
	return nil
}

// loadOfWay is what came of a load of quarts, the nth of its way.
func (d *demo) loadOfWay(way demoWay, nth int) trialLoad {
	jars, minutes := demoLoad["quart"], way.work-5+d.random.IntN(11)
	filled := float64(jars)
	load := trialLoad{Minutes: &minutes, Yield: &filled}
	for range jars {
		jar := trialJar{Sealed: fmt.Sprint(!d.chance(way.unsealed)), Liquid: "none"}
		switch roll := d.random.IntN(1000); {
		case roll < way.half:
			jar.Liquid = "half-or-more"
		case roll < way.half+way.lost:
			jar.Liquid = "some"
		}
		if way.watery > 0 {
			jar.Watery = fmt.Sprint(d.chance(way.watery))
		}
		load.Jars = append(load.Jars, jar)
	}
	if nth < len(way.reads) {
		read := way.reads[nth]
		load.PH, load.PHBy = &read.ph, read.by
	}
	return load
}
