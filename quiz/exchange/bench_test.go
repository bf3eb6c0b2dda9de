package exchange

import (
	"bytes"
	"io"
	"testing"
)

// exportSize is as many questions as a whole course has.
const exportSize = 160

func exportSet(b *testing.B) Set {
	b.Helper()
	var refs []Ref
	bank := sampleBank(b, exportSize)
	for _, q := range bank.Questions() {
		refs = append(refs, Ref{q.ID, 1})
	}
	set, err := Pick(bank, refs)
	if err != nil {
		b.Fatal(err)
	}
	return set
}

func BenchmarkWriteQTI(b *testing.B) {
	set := exportSet(b)
	b.ReportAllocs()
	for b.Loop() {
		if err := WriteQTI(io.Discard, set, QTIOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkImport(b *testing.B) {
	data := packageOf(b, exportSet(b), QTIOptions{})
	b.ReportAllocs()
	for b.Loop() {
		imported, err := Import("q.zip", data)
		if err != nil || len(imported.Items) != exportSize {
			b.Fatal(len(imported.Items), err)
		}
	}
}

func BenchmarkWriteJSON(b *testing.B) {
	set := exportSet(b)
	b.ReportAllocs()
	for b.Loop() {
		if err := WriteJSON(io.Discard, set); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkValidate(b *testing.B) {
	p, err := NewPublisher("https://class.example")
	if err != nil {
		b.Fatal(err)
	}
	s, err := p.Opened(Opening{Learner: "l-1", Lesson: "altitude", At: noon})
	if err != nil {
		b.Fatal(err)
	}
	var line bytes.Buffer
	if err := WriteStatements(&line, []Statement{s}); err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if err := ValidateStatement(line.Bytes()); err != nil {
			b.Fatal(err)
		}
	}
}
