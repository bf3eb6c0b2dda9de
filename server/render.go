package server

import (
	"bytes"
	"fmt"
	"html/template"
	"io/fs"
	"net/http"
	"path"
	"slices"
	"strconv"
	"strings"

	"rollingboil/assets"
	"rollingboil/scenarios"
)

// page is what every page has: its title, and where it stands in the course.
type page struct {
	Title, About  string
	Script        string // an asset that the page runs; "" for none
	Places, Below []place
}

// place is one link of the navigation.
type place struct {
	Path, Name  string
	Here, Exact bool
}

var (
	places = []place{{Path: "/lessons", Name: "Lessons"}, {Path: "/practice", Name: "Practice"}, {Path: "/scenarios", Name: "Scenarios"}, {Path: "/plan", Name: "Check a plan"}, {Path: "/times", Name: "Times"}, {Path: "/bench", Name: "Bench"}, {Path: "/my-work", Name: "My work"}, {Path: "/class", Name: "Class"}}
	below  = []place{{Path: "/find", Name: "Find an answer"}, {Path: "/glossary", Name: "Glossary"}, {Path: "/wall", Name: "Kitchen wall sheet"}, {Path: "/rules", Name: "Rules"}, {Path: "/sources", Name: "Sources"}, {Path: "/times", Name: "Tested times"}, {Path: "/my-work/forget", Name: "Delete my work"}}
)

// newPage makes the common part of a page; at is its own path, by which its
// place in the navigation is marked.
func newPage(title, at string) page {
	p := page{Title: title, Places: slices.Clone(places), Below: below, About: "A teaching-course companion for home canning: lessons, scenarios, and plans checked against published, tested processes."}
	for i := range p.Places {
		p.Places[i].Exact = at == p.Places[i].Path
		p.Places[i].Here = p.Places[i].Exact || strings.HasPrefix(at, p.Places[i].Path+"/")
	}
	return p
}

// loadTemplates parses the layout, the parts and every page, once.
func (s *Server) loadTemplates() error {
	funcs := template.FuncMap{"asset": s.assets.url, "label": scenarios.Label, "upper": scenarios.Sentence}
	base, err := template.New("base").Funcs(funcs).ParseFS(assets.Files, "templates/layout.html", "templates/parts/*.html")
	if err != nil {
		return fmt.Errorf("parse the templates: %w", err)
	}
	s.parts = template.Must(base.Clone())
	s.pages = map[string]*template.Template{}
	files, err := fs.Glob(assets.Files, "templates/pages/*.html")
	if err != nil {
		return err
	}
	for _, file := range files {
		name := strings.TrimSuffix(path.Base(file), ".html")
		if !slices.Contains(pageNames, name) {
			return fmt.Errorf("template %s: no page uses it", file)
		}
		t, err := template.Must(base.Clone()).ParseFS(assets.Files, file)
		if err != nil {
			return fmt.Errorf("parse the page %s: %w", name, err)
		}
		s.pages[name] = t
	}
	for _, name := range pageNames {
		if s.pages[name] == nil {
			return fmt.Errorf("page %s has no template", name)
		}
	}
	return nil
}

var pageNames = []string{"home", "lessons", "lesson", "practice", "question", "checks", "check", "place", "review", "ready", "scenarios", "scenario", "plan", "times", "food", "untested", "rules", "rule", "sources", "glossary", "find", "form", "classes", "class", "code", "assign", "student", "results", "together", "batch", "batch-plan", "batch-version", "record", "seals", "trials", "trial", "trial-new", "trial-workbook", "trial-entry", "materials", "material", "material-new", "material-version", "material-preview", "unsaved", "kitchen", "questions", "asked", "ask", "writing", "format", "wall", "booklet", "benches", "bench", "ear", "work", "kept", "forget", "error"}

// write renders a page to a buffer first, so that a page that fails is never
// sent by halves.
func (s *Server) write(w http.ResponseWriter, r *http.Request, status int, name string, data any) error {
	return s.writeIn(w, r, "layout", status, name, data)
}

// writeIn renders a page within a layout: "layout", or "frame" for one that stands within
// another.
func (s *Server) writeIn(w http.ResponseWriter, r *http.Request, layout string, status int, name string, data any) error {
	var b bytes.Buffer
	if err := s.pages[name].ExecuteTemplate(&b, layout, data); err != nil {
		return fmt.Errorf("render %s: %w", name, err)
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Content-Length", strconv.Itoa(b.Len()))
	w.WriteHeader(status)
	if r.Method == http.MethodHead {
		return nil
	}
	_, err := w.Write(b.Bytes())
	return err
}

// mainOf renders what a page has between its navigation and its footer.
func (s *Server) mainOf(name string, data any) (template.HTML, error) {
	var b bytes.Buffer
	if err := s.pages[name].ExecuteTemplate(&b, "main", data); err != nil {
		return "", fmt.Errorf("render %s: %w", name, err)
	}
	return template.HTML(b.String()), nil
}

// part renders one part of a page.
func (s *Server) part(name string, data any) (template.HTML, error) {
	var b bytes.Buffer
	if err := s.parts.ExecuteTemplate(&b, name, data); err != nil {
		return "", fmt.Errorf("render %s: %w", name, err)
	}
	return template.HTML(b.String()), nil
}
