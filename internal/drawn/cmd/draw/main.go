// Draw writes drawn test pictures with their truth:
//
//	go run ./internal/drawn/cmd/draw -demo                   the demo: samples/ and testdata/drawn/
//	go run ./internal/drawn/cmd/draw -first 1 -count 20 -out DIR   random scenes, picture and truth side by side
//	go run ./internal/drawn/cmd/draw -spoil -out DIR               one bad photo of each kind, which must be refused
package main

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"

	"crimprule/internal/drawn"
)

func main() {
	demo := flag.Bool("demo", false, "write the demo's pictures into samples/ and their truth into testdata/drawn/")
	first := flag.Int64("first", 1, "seed of the first random scene")
	count := flag.Int64("count", 0, "how many random scenes")
	out := flag.String("out", "", "existing folder for random scenes")
	spoil := flag.Bool("spoil", false, "write one bad photo of each kind into the folder")
	flag.Parse()
	if err := run(*demo, *spoil, *first, *count, *out); err != nil {
		fmt.Fprintln(os.Stderr, "draw:", err)
		os.Exit(1)
	}
}

func run(demo, spoil bool, first, count int64, out string) error {
	if !demo && (count <= 0 && !spoil || out == "") {
		return fmt.Errorf("nothing to draw; give -demo, or -out with -count or -spoil")
	}
	if demo {
		for _, s := range drawn.Demo() {
			if err := write(s.Scene, filepath.Join("samples", s.Name+".jpg"), filepath.Join("testdata", "drawn", s.Name+".json")); err != nil {
				return err
			}
		}
	}
	if spoil {
		for i, why := range drawn.Faults {
			name := filepath.Join(out, fmt.Sprintf("spoiled-%d", i+1))
			if err := write(drawn.Random(first).Spoil(why), name+".jpg", name+".json"); err != nil {
				return err
			}
		}
	}
	for seed := first; seed < first+count; seed++ {
		name := filepath.Join(out, fmt.Sprintf("drawn-%04d", seed))
		if err := write(drawn.Random(seed), name+".jpg", name+".json"); err != nil {
			return err
		}
	}
	return nil
}

func write(s drawn.Scene, picture, truth string) error {
	fmt.Println(picture)
	return s.Write(picture, truth)
}
