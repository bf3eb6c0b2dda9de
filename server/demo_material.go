package server

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"rollingboil/server/store"
)

// demoQuestion is what the instructor asks about the first trial.
const demoQuestion = `questions:
  - id: strip-or-juice
    lesson: acid
    competencies: [acidity]
    kind: choice
    stem: We put a strip in one jar of crushed tomatoes, and it read 4.2. May the lemon juice stay out of the other jars?
    options:
      - text: No, each jar gets its measured dose
        right: true
        feedback: The tested directions add the acid to every jar, whatever one of them reads.
      - text: Yes, because 4.2 is below 4.6
        feedback: You may think a low reading stands in for the dose. It does not. A strip is too rough so near to 4.6, and one jar is not the next.
        misconception: strip-replaces-acid
      - text: Yes, if all of them boil longer
        feedback: You may think more time makes up for the acid. It does not. No time was tested for these tomatoes without it.
        misconception: longer-is-always-better
    why: Jars of one pot can differ. The dose in each makes sure of all.
    source: [usda-guide-3]
    page: Guide 3, p. 3-8
`

// writes has the instructor write for the class: a lesson of the trial that the class was
// shown, in two versions, and a question that goes with it, both published; and a scenario
// of somebody's batch that is still a draft.
func (d *demo) writes(ctx context.Context) error {
	trials, err := d.store.Trials(ctx, d.class.ID)
	if err != nil {
		return err
	}
	i := slices.IndexFunc(trials, func(t store.Trial) bool { return t.Shown })
	trial, err := d.trialOf(ctx, d.class, trials[i].ID)
	if err != nil {
		return err
	}
	lesson, err := d.trialLesson(trial, d.at(5, 3, 9, 0))
	if err != nil {
		return err
	}
	records, err := d.acceptedRecords(ctx, d.class.ID)
	if err != nil {
		return err
	}
	scenario := ""
	for _, r := range byTime(records) {
		b, _, err := d.course.Grader.ParseFile("", r.File)
		if err != nil {
			return err
		}
		if draft, err := d.course.Grader.Draft(b, "what-now"); err == nil {
			scenario = string(draft)
			break
		}
	}
	if err := d.writesOne(ctx, store.QuestionMaterial, "strip-or-juice", demoQuestion); err != nil {
		return err
	}
	asked := strings.Replace(string(lesson), "Three to five questions of this trial have their place here, when they are written.", "The first is about this trial.\n\n```question id=strip-or-juice\n```", 1)
	if err := d.writesOne(ctx, store.LessonMaterial, "lemon-juice-and-strips", string(lesson), asked); err != nil {
		return err
	}
	m := store.Material{ID: d.id(), Class: d.class.ID, Kind: store.ScenarioMaterial, Name: "a-load-of-the-class", Made: d.at(6, 1, 19, 0)}
	return d.store.AddMaterial(ctx, m, store.MaterialVersion{N: 1, Title: titleIn(m.Name, scenario), Source: scenario, Made: m.Made})
}

// writesOne keeps the versions of a material and publishes the last.
func (d *demo) writesOne(ctx context.Context, kind, name string, versions ...string) error {
	m := store.Material{ID: d.id(), Class: d.class.ID, Kind: kind, Name: name, Made: d.at(5, 3, 9, 30)}
	for i, source := range versions {
		v := store.MaterialVersion{N: i + 1, Title: titleIn(name, source), Source: source, Made: d.at(5, 3, 9, 30+10*i)}
		if i == 0 {
			if err := d.store.AddMaterial(ctx, m, v); err != nil {
				return err
			}
			continue
		}
		if err := d.store.AddMaterialVersion(ctx, m.ID, v); err != nil {
			return err
		}
	}
	found, err := d.checkText(ctx, m, versions[len(versions)-1])
	if err != nil {
		return err
	}
	if len(found.Problems) > 0 {
		return fmt.Errorf("%s %s cannot be published: %s", kind, name, found.Problems[0].Says)
	}
	return d.store.PublishMaterial(ctx, m.ID, store.MaterialEvent{N: len(versions), At: d.at(5, 3, 10, 0)})
}
