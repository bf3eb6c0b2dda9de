package scenarios

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"rollingboil/scenarios/measure"
)

// In a what-now scenario jars stand on the counter after the canner. For each the
// learner says what becomes of it, at each hour at which they are looked at. The
// right answer is the grader's own for such a batch.

// lifted is when the heat goes off in a what-now scenario that records no times of
// its own: an afternoon, so that 14 hours later is the next morning.
var lifted = time.Date(2026, 8, 20, 16, 0, 0, 0, time.FixedZone("", -6*60*60))

func (g *Grader) whatNowCase(c *Case, index int) {
	c.Plan = c.Solution.Plan
	record := Record{Start: lifted.Add(-time.Duration(float64(c.Plan.Time.Value) * float64(time.Minute))), StartKey: startKey(c.Plan.Method.Value), Finished: lifted}
	if c.record != nil {
		record = *c.record
		record.Jars = nil
	}
	for n, i := range picked(len(c.jars), c.pick, index) {
		j := c.jars[i]
		j.record.N = n + 1
		record.Jars = append(record.Jars, j.record)
		c.Jars = append(c.Jars, JarCase{Record: j.record, Says: j.says, Lid: j.lid, Source: j.source})
	}
	c.Batch = &Batch{Plan: c.Plan, Record: record}
}

// Looked lists the hours at which the jars are looked at.
func (c *Case) Looked() []measure.Duration { return c.looked }

// Answers gives what becomes of each jar when they are looked at so long after the
// heat went off.
func (g *Grader) Answers(c *Case, looked measure.Duration) []JarAnswer {
	b := *c.Batch
	b.Record.Jars = slices.Clone(b.Record.Jars)
	for i := range b.Record.Jars {
		b.Record.Jars[i].CheckedAfter = Stated[measure.Duration]{Known: true, Value: looked, Text: looked.String()}
	}
	return g.GradeBatch(b).Jars
}

func (g *Grader) checkWhatNow(c *Case) error {
	if !slices.IsSorted(c.looked) || len(slices.Compact(slices.Clone(c.looked))) < len(c.looked) {
		return errors.New("looked lists hours, one after the other")
	}
	chosen := picked(len(c.jars), c.pick, int(c.Seed%uint64(c.space()))/drawsOf(c.Scenario))
	for b, looked := range c.looked {
		answers := g.Answers(c, looked)
		if len(answers) < 2 {
			return errors.New("at least two jars stand on the counter")
		}
		for n, i := range chosen {
			want := c.jars[i].want
			if len(want) > 0 && len(want) != len(c.looked) {
				return fmt.Errorf("jar %d: give one answer for each of the %d times it is looked at", i+1, len(c.looked))
			}
			if len(want) > 0 && want[b] != answers[n].Answer {
				return fmt.Errorf("jar %d at %s: published is %s, but the rules say %s", i+1, looked, want[b], answers[n].Answer)
			}
		}
		if g.MarkWhatNow(c, looked, nil).Passed {
			return errors.New("a blank answer passes")
		}
		for _, answer := range jarAnswers {
			if g.MarkWhatNow(c, looked, slices.Repeat([]string{answer}, len(c.Jars))).Passed {
				return fmt.Errorf("at %s one answer for all jars, %s, passes", looked, answer)
			}
		}
	}
	return nil
}

// JarMark is what is said of a learner's answer for one jar.
type JarMark struct {
	Said string // "" when nothing was said
	JarAnswer
	Right bool
	Other bool // right, though another costs less
}

// WhatNowResult is a row of jars, marked.
type WhatNowResult struct {
	Marks  []JarMark
	Right  int
	Passed bool
}

// MarkWhatNow judges what a learner says of each jar, in order. An answer that the
// reason of the best one names as well is right.
func (g *Grader) MarkWhatNow(c *Case, looked measure.Duration, said []string) WhatNowResult {
	result := WhatNowResult{Passed: true}
	for i, answer := range g.Answers(c, looked) {
		m := JarMark{JarAnswer: answer}
		if i < len(said) {
			m.Said = said[i]
		}
		m.Other = slices.Contains(answer.also, m.Said)
		m.Right = m.Said == answer.Answer || m.Other
		if m.Right {
			result.Right++
		}
		result.Passed = result.Passed && m.Right
		result.Marks = append(result.Marks, m)
	}
	return result
}
