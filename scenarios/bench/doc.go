// Package bench holds the demonstrations: small models from package physics,
// each with the values it asks for, its numbers, and its picture as plain data.
// The same demonstration answers on the command line, on its page and inside a
// lesson.
//
// A demonstration explains. It never sets a process time, a pressure, a dose or a
// headspace. Where a published value belongs beside its curve, that value is
// looked up in the process table and marked as tested.
package bench

// Explains stands with every demonstration.
const Explains = "This explains. It never sets a process time."
