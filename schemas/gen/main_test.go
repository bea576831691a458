package main

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
)

func TestGeneratedFilesAreCurrent(t *testing.T) {
	dir := filepath.Join("..", "entity")
	want := files()
	if len(want) != 13 {
		t.Fatalf("%d files, want 12 endpoints and core.json", len(want))
	}
	for name, doc := range want {
		data, err := encode(doc)
		if err != nil {
			t.Fatal(err)
		}
		got, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Error(err)
			continue
		}
		if !bytes.Equal(got, data) {
			t.Errorf("%s is out of date: run go generate ./schemas", name)
		}
	}
	there, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range there {
		if _, ok := want[f.Name()]; !ok {
			t.Errorf("%s is not made by the generator", f.Name())
		}
	}
}
