package outside

import (
	"os"
	"path/filepath"
	"testing"
)

// CI reports whether a missing corpus or tool is a failure rather than a skip.
func CI() bool { return os.Getenv("CI") == "true" }

// Long reports whether the full run was asked for.
func Long() bool { return os.Getenv("ROPEWALK_LONG") == "1" }

// Missing ends a test that lacks something it needs: a failure where CI is true,
// otherwise a skip that says so.
func Missing(t testing.TB, what string) {
	t.Helper()
	if CI() {
		t.Fatalf("missing: %s", what)
	}
	t.Skipf("NOT CHECKED, missing: %s", what)
}

// Room is the folder of the conformance tests.
func Room(t testing.TB) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return filepath.Join(dir, "conformance")
		}
		up := filepath.Dir(dir)
		if up == dir {
			t.Fatal("no go.mod above the working folder")
		}
		dir = up
	}
}

// Shared is a path below the folder of published standards and data: the
// environment's ROPEWALK_SHARED, or "shared" beside the project. A path that does
// not exist ends the test as [Missing] does.
func Shared(t testing.TB, path ...string) string {
	t.Helper()
	root := os.Getenv("ROPEWALK_SHARED")
	if root == "" {
		root = filepath.Join(Room(t), "..", "..", "shared")
	}
	full := filepath.Join(append([]string{root}, path...)...)
	if _, err := os.Stat(full); err != nil {
		Missing(t, full)
	}
	return full
}

// ReadShared is the content of a file below the folder of published standards.
func ReadShared(t testing.TB, path ...string) []byte {
	t.Helper()
	b, err := os.ReadFile(Shared(t, path...))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// AtLeast fails a test whose corpus is smaller than it is known to be.
func AtLeast(t testing.TB, what string, got, want int) {
	t.Helper()
	if got < want {
		t.Errorf("%s: %d, must be at least %d", what, got, want)
	}
}
