package server

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"rollingboil/server/store"
)

// What an instructor made for classes, for the instructor's zip. Nothing in it names a
// student or is a student's work: of a load that was linked from a batch it says that it
// was linked, and of an assignment for some that it was not for everyone.

type (
	heldClass struct {
		Name          string            `json:"name"`
		Starts        string            `json:"starts"`
		Weeks         int               `json:"weeks"`
		Zone          string            `json:"time_zone"`
		AltitudeFt    float64           `json:"altitude_ft"`
		CanningDay    string            `json:"canning_day"`
		JoiningOpen   bool              `json:"joining_open"`
		JoiningUntil  time.Time         `json:"joining_until"`
		ShownTogether bool              `json:"shown_together"` // the class sees what it finds hard
		Made          time.Time         `json:"made"`
		Assignments   []takenAssignment `json:"assignments"`
		Shared        []heldShared      `json:"shared"`
	}
	heldShared struct {
		Kind   string    `json:"kind"`
		About  string    `json:"about"` // empty for a batch
		Text   string    `json:"text"`
		Answer string    `json:"answer"`
		At     time.Time `json:"at"`
	}
	heldTrial struct {
		Question string        `json:"question"`
		Made     time.Time     `json:"made"`
		Ways     []heldWay     `json:"ways"`
		Entries  []heldEntry   `json:"entries"`
		Decided  []heldDecided `json:"decided"`
	}
	heldWay struct {
		N        int       `json:"n"`
		Name     string    `json:"name"`
		Plan     string    `json:"plan"` // its file
		Lids     string    `json:"lids"`
		Verdict  string    `json:"verdict"`
		JudgedBy string    `json:"judged_by"`
		Made     time.Time `json:"made"`
	}
	heldEntry struct {
		N        int             `json:"n"`
		Way      int             `json:"way"`
		Kind     string          `json:"kind"`     // typed, linked or void
		Replaces int             `json:"replaces"` // the entry it corrects, 0 for none
		Load     json.RawMessage `json:"load"`
		Why      string          `json:"why"`
		At       time.Time       `json:"at"`
	}
	heldDecided struct {
		What string    `json:"what"`
		Way  int       `json:"way"` // 0 for the whole trial
		Says string    `json:"says"`
		At   time.Time `json:"at"`
	}
	heldMaterial struct {
		ID        string          `json:"id"` // by which answers name the wording they were given to
		Kind      string          `json:"kind"`
		Name      string          `json:"name"`
		Made      time.Time       `json:"made"`
		Versions  []heldVersion   `json:"versions"`
		Published []heldPublished `json:"published"`
	}
	heldVersion struct {
		N     int       `json:"n"`
		Title string    `json:"title"`
		File  string    `json:"file"`
		Made  time.Time `json:"made"`
	}
	heldPublished struct {
		N  int       `json:"n"` // the version the class reads from then on, 0 for none
		At time.Time `json:"at"`
	}
)

func (s *Server) takeHeld(ctx context.Context, t *takeout, instructor string) error {
	classes, err := s.store.Held(ctx, instructor)
	if err != nil {
		return err
	}
	for _, class := range classes {
		folder := "classes/" + class.ID + "/"
		if err := s.takeHeldClass(ctx, t, folder, class); err != nil {
			return err
		}
		trials, err := s.store.Trials(ctx, class.ID)
		if err != nil {
			return err
		}
		for _, trial := range trials {
			if err := s.takeTrial(ctx, t, folder+"trials/"+trial.ID+"/", trial); err != nil {
				return err
			}
		}
		materials, err := s.store.Materials(ctx, class.ID)
		if err != nil {
			return err
		}
		for _, m := range materials {
			if err := s.takeMaterial(ctx, t, folder+"materials/"+m.Kind+"-"+m.Name+"/", m); err != nil {
				return err
			}
		}
	}
	return nil
}

func (s *Server) takeHeldClass(ctx context.Context, t *takeout, folder string, class store.Class) error {
	assignments, err := s.store.Assignments(ctx, class.ID)
	if err != nil {
		return err
	}
	shared, err := s.store.SharedIn(ctx, class.ID)
	if err != nil {
		return err
	}
	together, err := s.store.Together(ctx, class.ID)
	if err != nil {
		return err
	}
	taken := heldClass{
		Name: class.Name, Starts: class.Starts, Weeks: class.Weeks, Zone: class.Zone, AltitudeFt: class.AltitudeFt, CanningDay: class.CanningDay,
		JoiningOpen: class.CodeOpen, JoiningUntil: class.CodeUntil, ShownTogether: together.Shown, Made: class.Made,
		Assignments: takenAssignments(assignments), Shared: []heldShared{},
	}
	for _, q := range shared {
		taken.Shared = append(taken.Shared, heldShared{q.Kind, q.About, q.Text, q.Answer, q.At})
	}
	t.json(folder+"about.json", taken)
	return nil
}

func (s *Server) takeTrial(ctx context.Context, t *takeout, folder string, trial store.Trial) error {
	ways, err := s.store.TrialVariants(ctx, trial.ID)
	if err != nil {
		return err
	}
	entries, err := s.store.TrialEntries(ctx, trial.ID)
	if err != nil {
		return err
	}
	events, err := s.store.TrialEvents(ctx, trial.ID)
	if err != nil {
		return err
	}
	taken := heldTrial{Question: trial.Question, Made: trial.Made, Entries: []heldEntry{}, Decided: []heldDecided{}}
	for _, v := range ways {
		file := fmt.Sprintf("%d.yaml", v.N)
		t.file(folder+file, v.Plan)
		taken.Ways = append(taken.Ways, heldWay{v.N, v.Name, file, v.Lids, v.Verdict, v.Version, v.Made})
	}
	for _, e := range entries {
		taken.Entries = append(taken.Entries, heldEntry{e.N, e.Variant, e.Kind, e.Replaces, e.Load, e.Why, e.At})
	}
	for _, e := range events {
		taken.Decided = append(taken.Decided, heldDecided{e.What, e.Variant, e.Says, e.At})
	}
	t.json(folder+"about.json", taken)
	return nil
}

func (s *Server) takeMaterial(ctx context.Context, t *takeout, folder string, m store.Material) error {
	versions, err := s.store.MaterialVersions(ctx, m.ID)
	if err != nil {
		return err
	}
	published, err := s.store.MaterialEvents(ctx, m.ID)
	if err != nil {
		return err
	}
	taken := heldMaterial{ID: m.ID, Kind: m.Kind, Name: m.Name, Made: m.Made, Published: []heldPublished{}}
	for _, listed := range slices.Backward(versions) {
		v, err := s.store.MaterialVersion(ctx, m.ID, listed.N)
		if err != nil {
			return err
		}
		file := fmt.Sprintf("%d%s", v.N, fileEnding(m.Kind))
		t.file(folder+file, []byte(v.Source))
		taken.Versions = append(taken.Versions, heldVersion{v.N, v.Title, file, v.Made})
	}
	for _, e := range published {
		taken.Published = append(taken.Published, heldPublished(e))
	}
	t.json(folder+"about.json", taken)
	return nil
}
