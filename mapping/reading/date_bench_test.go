package reading

import (
	"testing"
	"time"
)

// BenchmarkTimeParse is the floor: the standard library reading one ISO day of
// known layout.
func BenchmarkTimeParse(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := time.Parse("2006-01-02", "1874-05-03"); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkReadDate(b *testing.B) {
	for _, text := range []string{
		"1874", "1874-05-03", "c. 1874", "1871–76", "late 19th century", "before 1914 (?)", "3 May 1874",
		"1800-talets början", "19. Jahrhundert", "XIXe siècle", "Michaelmas 1891", "American, born Germany, 1809 - 1879",
		"1926, printed 1974", "no date", "oak and brass",
	} {
		b.Run(text, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := ReadDate(text, nil); err != nil && err.(*Unread).Code == "" {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkDateEDTF(b *testing.B) {
	d, _ := ReadDate("c. 1871–76", nil)
	b.ReportAllocs()
	for b.Loop() {
		_ = d.EDTF()
	}
}

func BenchmarkDateMemo(b *testing.B) {
	m := NewDateMemo(nil, 0)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := m.Read("late 18th–early 19th century"); err != nil {
			b.Fatal(err)
		}
	}
}
