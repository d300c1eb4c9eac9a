package section

import (
	"os"
	"testing"

	"crimprule/vision/picture"
	"crimprule/vision/record"
	"crimprule/vision/scale"
)

func BenchmarkDev(b *testing.B) {
	pic, err := picture.Open(os.Getenv("PIC"))
	if err != nil {
		b.Skip()
	}
	defer pic.Close()
	for range b.N {
		rec := record.New(record.Section)
		if err := Measure(Subject{Mat: pic.Mat, Deep: pic.Deep, Scale: scale.Micro{Kind: "known", MMPerPX: 0.00257, RelU: 0.0005}}, &rec); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkDevDecode(b *testing.B) {
	for range b.N {
		pic, err := picture.Open(os.Getenv("PIC"))
		if err != nil {
			b.Skip()
		}
		pic.Close()
	}
}
