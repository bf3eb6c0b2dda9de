package store

import (
	"fmt"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func TestMaterial(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	s := newClass(t)
	m := Material{ID: "pears", Class: "autumn", Kind: LessonMaterial, Name: "pears-of-the-valley", Made: noon}
	first := MaterialVersion{N: 1, Title: "Pears", Source: "---\r\nwhat was typed, é", Made: noon}
	if err := s.AddMaterial(ctx, m, first); err != nil {
		t.Fatal(err)
	}
	again := m
	again.ID = "others"
	wantErr(t, "a second of the name", s.AddMaterial(ctx, again, first), ErrExists)
	again.Kind = ScenarioMaterial
	if err := s.AddMaterial(ctx, again, first); err != nil {
		t.Errorf("the same name of another kind: %v", err)
	}

	if err := s.AddMaterialVersion(ctx, "pears", MaterialVersion{N: 2, Title: "Pears, again", Source: "two", Made: noon.Add(time.Minute)}); err != nil {
		t.Fatal(err)
	}
	for _, n := range []int{0, 1, 2, 4} {
		wantErr(t, fmt.Sprintf("version %d after 2", n), s.AddMaterialVersion(ctx, "pears", MaterialVersion{N: n, Title: "x", Source: "x", Made: noon}), ErrChanged)
	}
	if v, err := s.MaterialVersion(ctx, "pears", 1); err != nil || !cmp.Equal(v, first) {
		t.Errorf("version 1 = %+v, %v", v, err)
	}
	_, err := s.MaterialVersion(ctx, "pears", 3)
	wantErr(t, "version 3", err, ErrNotFound)
	if all, err := s.MaterialVersions(ctx, "pears"); err != nil || len(all) != 2 || all[0].N != 2 || all[1].N != 1 || all[0].Source != "" {
		t.Errorf("MaterialVersions() = %+v, %v", all, err)
	}

	want := m
	want.Title, want.Last, want.Changed = "Pears, again", 2, noon.Add(time.Minute)
	if got, err := s.Material(ctx, "autumn", "pears"); err != nil || !cmp.Equal(got, want) {
		t.Errorf("Material() = %v\n%s", err, cmp.Diff(want, got))
	}
	_, err = s.Material(ctx, "winter", "pears")
	wantErr(t, "another class's", err, ErrNotFound)
	if id, err := s.MaterialNamed(ctx, "autumn", LessonMaterial, "pears-of-the-valley"); err != nil || id != "pears" {
		t.Errorf("MaterialNamed() = %q, %v", id, err)
	}
}

// TestTaught: what is published last counts, for the members and the instructor of the
// class and for nobody else.
func TestTaught(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	s := newClass(t)
	for _, m := range []Material{
		{ID: "a", Class: "autumn", Kind: LessonMaterial, Name: "headspace", Made: noon},
		{ID: "b", Class: "autumn", Kind: QuestionMaterial, Name: "headspace-1", Made: noon},
		{ID: "w", Class: "winter", Kind: LessonMaterial, Name: "headspace", Made: noon},
	} {
		if err := s.AddMaterial(ctx, m, MaterialVersion{N: 1, Title: m.Name, Source: m.ID + "1", Made: noon}); err != nil {
			t.Fatal(err)
		}
	}
	if list, err := s.TaughtIn(ctx, "autumn"); err != nil || len(list) != 0 {
		t.Errorf("before anything is published: %+v, %v", list, err)
	}
	wantErr(t, "a version that is not there", s.PublishMaterial(ctx, "a", MaterialEvent{N: 2, At: noon}), ErrNotFound)
	for i, e := range []struct {
		material string
		n        int
	}{{"a", 1}, {"b", 1}, {"w", 1}, {"b", 0}} {
		if err := s.PublishMaterial(ctx, e.material, MaterialEvent{N: e.n, At: noon.Add(time.Duration(i) * time.Minute)}); err != nil {
			t.Fatal(err)
		}
	}
	want := []TaughtMaterial{
		{ID: "a", Class: "autumn", Kind: LessonMaterial, Name: "headspace", N: 1, Since: noon},
		{ID: "b", Class: "autumn", Kind: QuestionMaterial, Name: "headspace-1", N: 0, Since: noon.Add(3 * time.Minute)},
	}
	for _, who := range []string{"ada", "cora"} {
		if list, err := s.TaughtTo(ctx, who); err != nil || !cmp.Equal(list, want) {
			t.Errorf("%s is taught: %v\n%s", who, err, cmp.Diff(want, list))
		}
	}
	if list, err := s.TaughtTo(ctx, "nobody"); err != nil || len(list) != 0 {
		t.Errorf("who belongs to no class is taught %+v, %v", list, err)
	}
	if list, err := s.TaughtTo(ctx, "eve"); err != nil || len(list) != 1 || list[0].ID != "w" {
		t.Errorf("eve is taught %+v, %v", list, err)
	}
	if events, err := s.MaterialEvents(ctx, "b"); err != nil || len(events) != 2 || events[0].N != 1 || events[1].N != 0 {
		t.Errorf("events %+v, %v", events, err)
	}
}

// TestMaterialInTwoTabs: of versions that are kept at once under one number, one is.
func TestMaterialInTwoTabs(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	s := newClass(t)
	if err := s.AddMaterial(ctx, Material{ID: "a", Class: "autumn", Kind: LessonMaterial, Name: "a", Made: noon}, MaterialVersion{N: 1, Title: "a", Source: "a", Made: noon}); err != nil {
		t.Fatal(err)
	}
	const tabs = 8
	kept := make([]error, tabs)
	var together sync.WaitGroup
	for i := range tabs {
		together.Go(func() {
			kept[i] = s.AddMaterialVersion(ctx, "a", MaterialVersion{N: 2, Title: "a", Source: fmt.Sprint(i), Made: noon})
		})
	}
	together.Wait()
	winner := -1
	for i, err := range kept {
		if err == nil && winner >= 0 {
			t.Fatalf("tabs %d and %d were both kept", winner, i)
		}
		if err == nil {
			winner = i
			continue
		}
		wantErr(t, "a later tab", err, ErrChanged)
	}
	if v, err := s.MaterialVersion(ctx, "a", 2); err != nil || winner < 0 || v.Source != fmt.Sprint(winner) {
		t.Errorf("kept %+v, %v; tab %d was told so", v, err, winner)
	}
}
