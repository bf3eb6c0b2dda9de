package lessons

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"path"
	"regexp"
	"slices"
	"strings"

	"rollingboil/lessons/markdown"
	"rollingboil/scenarios/bench"
	"rollingboil/scenarios/process"
)

//go:embed course/*.md
var course embed.FS

//go:embed doc.go
var docFile string

// Format is doc.go, whose comment describes how a lesson is written, for a page that
// shows it.
func Format() string { return docFile }

// Shipped returns the lesson files that come with the program, with the files
// at the top.
func Shipped() fs.FS {
	sub, err := fs.Sub(course, "course")
	if err != nil {
		panic(err) // the folder is embedded above, so this is a fault in the program
	}
	return sub
}

// Lesson is one lesson, ready to be shown.
type Lesson struct {
	Slug         string // from the file name; never changes
	Number       int    // place in the course, from 1
	Title        string
	Question     string // the one question the lesson answers
	Lead         string // what the answer comes to, in a sentence or two
	Minutes      int    // time to read and answer, 1 to 60
	Able         []string
	Competencies []string
	Sources      []string          // ids, most important first
	Pages        map[string]string // source id to the part and page used
	Cautions     []string
	Reviewed     string // date of the last check against the sources, YYYY-MM-DD
	File         string

	Parts       []markdown.Part
	Headings    []markdown.Heading
	Links       []markdown.Link // every link, for the server to follow
	Questions   []string        // question ids in order
	Refutations []string        // misconception ids in order
}

// Library holds the lessons of a course in order. It does not change after
// Load.
type Library struct {
	lessons []*Lesson
	bySlug  map[string]*Lesson
}

// Lessons returns all lessons in order.
func (l *Library) Lessons() []*Lesson { return slices.Clone(l.lessons) }

// Lesson returns the lesson with the given slug.
func (l *Library) Lesson(slug string) (*Lesson, bool) {
	lesson, ok := l.bySlug[slug]
	return lesson, ok
}

var fileName = regexp.MustCompile(`^[0-9]{2}-([a-z0-9]+(?:-[a-z0-9]+)*)\.md$`)

// Load reads every lesson in the folder and checks it whole: front matter,
// pieces, references to figures, links between lessons. The error holds every
// problem found, as markdown.Problems.
func Load(fsys fs.FS) (*Library, error) {
	l, err := newLoader()
	if err != nil {
		return nil, err
	}
	return l.load(fsys)
}

// File is the source of one lesson.
type File struct {
	Name   string // in messages; any name
	Slug   string
	Source []byte
}

// With gives a library with more lessons, after the others, or with these in place of
// those of the same slug; the library it is asked of does not change. They are checked as
// [Load] checks, and so is every link that leads to one.
func (l *Library) With(files ...File) (*Library, error) {
	loader, err := newLoader()
	if err != nil {
		return nil, err
	}
	with := &Library{lessons: slices.Clone(l.lessons), bySlug: maps.Clone(l.bySlug)}
	for _, f := range files {
		lesson := loader.lesson(f.Name, f.Source)
		lesson.Slug = f.Slug
		if replaced, ok := with.bySlug[f.Slug]; ok {
			lesson.Number = replaced.Number
			with.lessons[lesson.Number-1] = lesson
		} else {
			with.lessons = append(with.lessons, lesson)
			lesson.Number = len(with.lessons)
		}
		with.bySlug[f.Slug] = lesson
	}
	loader.checkLinks(with)
	if err := loader.problems.Err(); err != nil {
		return nil, err
	}
	return with, nil
}

// loader knows what lessons refer to and collects what is wrong with them.
type loader struct {
	table      *process.Table
	bench      *bench.Bench
	facts      map[string]Fact
	pieces     map[string]markdown.PieceSpec
	references map[string]markdown.PieceSpec
	problems   markdown.Problems
}

func newLoader() (*loader, error) {
	table, err := process.Shipped()
	if err != nil {
		return nil, fmt.Errorf("load the process table: %w", err)
	}
	facts, err := Facts()
	if err != nil {
		return nil, err
	}
	demonstrations := bench.New(table)
	l := &loader{table: table, bench: demonstrations, facts: map[string]Fact{}, pieces: pieces(table, demonstrations), references: references(table)}
	for _, f := range facts {
		l.facts[f.ID] = f
	}
	return l, nil
}

func (l *loader) load(fsys fs.FS) (*Library, error) {
	names, err := fs.ReadDir(fsys, ".")
	if err != nil {
		return nil, fmt.Errorf("read the lessons folder: %w", err)
	}
	library := &Library{bySlug: map[string]*Lesson{}}
	for _, entry := range names {
		name := entry.Name()
		match := fileName.FindStringSubmatch(name)
		if match == nil || entry.IsDir() {
			l.problems.Add(name, 0, "not a lesson file; name it like 07-liquid-loss.md")
			continue
		}
		src, err := fs.ReadFile(fsys, name)
		if err != nil {
			return nil, fmt.Errorf("read lesson %s: %w", name, err)
		}
		lesson := l.lesson(name, src)
		lesson.Slug = match[1]
		lesson.Number = len(library.lessons) + 1
		if other, taken := library.bySlug[lesson.Slug]; taken {
			l.problems.Add(name, 0, "the slug %q is taken by %s", lesson.Slug, other.File)
		}
		library.lessons = append(library.lessons, lesson)
		library.bySlug[lesson.Slug] = lesson
	}
	if len(library.lessons) == 0 {
		l.problems.Add(".", 0, "there is no lesson in the folder")
	}
	l.checkLinks(library)
	if err := l.problems.Err(); err != nil {
		return nil, err
	}
	return library, nil
}

// lesson reads one file. What cannot be read is reported and left empty.
func (l *loader) lesson(file string, src []byte) *Lesson {
	l.checkFigures(file, src)
	src, cited := l.expand(file, src)
	front, body, bodyLine := splitFrontMatter(src)
	lesson := &Lesson{File: file}
	if front == nil {
		l.problems.Add(file, 1, "no front matter; the file begins with a line --- and the front matter ends with another")
		return lesson
	}
	l.frontMatter(lesson, front)

	parts, err := markdown.Render(file, body, bodyLine, l.pieces)
	if err != nil {
		var found markdown.Problems
		if !errors.As(err, &found) {
			found.Add(file, 0, "%v", err)
		}
		l.problems = append(l.problems, found...)
		return lesson
	}
	lesson.Parts = parts
	for _, part := range parts {
		lesson.Headings = append(lesson.Headings, part.Headings...)
		lesson.Links = append(lesson.Links, part.Links...)
		if part.Block != nil {
			cited = append(cited, l.block(lesson, part.Block)...)
		}
	}
	l.checkHeadings(lesson)
	for _, c := range cited {
		if len(lesson.Sources) > 0 && !slices.Contains(lesson.Sources, c.source) {
			l.problems.Add(file, c.line, "%s comes from %s, which is not among the lesson's sources", c.what, c.source)
		}
	}
	return lesson
}

// citation is a figure a lesson uses, with the source it comes from.
type citation struct {
	what, source string
	line         int
}

// checkHeadings holds that headings begin at level 2 and never skip a level on
// the way down, as a screen reader's user walks them.
func (l *loader) checkHeadings(lesson *Lesson) {
	level := 1
	for _, h := range lesson.Headings {
		if h.Level > level+1 {
			l.problems.Add(lesson.File, h.Line, "heading %q is of level %d under one of level %d; go down one level at a time", h.Text, h.Level, level)
		}
		level = h.Level
	}
}

// checkLinks follows the links to headings and lessons. Where all other links
// lead is the server's to know.
func (l *loader) checkLinks(library *Library) {
	for _, lesson := range library.lessons {
		for _, link := range lesson.Links {
			target, anchor, _ := strings.Cut(link.Target, "#")
			end := lesson
			if target != "" {
				slug, inCourse := strings.CutPrefix(path.Clean(target), "/lessons/")
				if !inCourse {
					continue
				}
				var found bool
				if end, found = library.bySlug[slug]; !found {
					l.problems.Add(lesson.File, link.Line, "link to an unknown lesson %q; %s",
						slug, markdown.DidYouMean(slug, slices.Sorted(maps.Keys(library.bySlug))))
					continue
				}
			}
			if anchor != "" && end.Parts != nil && !slices.ContainsFunc(end.Headings, func(h markdown.Heading) bool { return h.ID == anchor }) {
				l.problems.Add(lesson.File, link.Line, "link to %q, but lesson %s has no such heading", link.Target, end.Slug)
			}
		}
	}
}
