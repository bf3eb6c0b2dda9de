package quiz

import "testing"

// A question is asked while a page is made, which should take less than 100 µs, and
// marked in less than 20 µs.
func BenchmarkAsk(b *testing.B) {
	bank := load(b, templates)
	for _, id := range []string{"pick", "type", "sort", "pair"} {
		b.Run(id, func(b *testing.B) {
			q := question(b, bank, id)
			b.ReportAllocs()
			seed := uint64(0)
			for b.Loop() {
				seed++
				if _, err := q.Ask(seed); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkMark(b *testing.B) {
	bank, typed := markedBank(b), question(b, load(b, templates), "type")
	for _, q := range append(bank.Questions(), typed) {
		b.Run(q.Kind, func(b *testing.B) {
			a := ask(b, q, 5)
			given := a.Key()
			b.ReportAllocs()
			for b.Loop() {
				if result, err := a.Mark(given); err != nil || !result.Right {
					b.Fatal(result, err)
				}
			}
		})
	}
}

func BenchmarkLoad(b *testing.B) {
	options := courseOptions(b)
	files, err := shippedFiles()
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Load(files, options); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCheck(b *testing.B) {
	for name, bank := range map[string]*Bank{"bank": shipped(b), "templates": load(b, templates)} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if err := bank.Check(); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
