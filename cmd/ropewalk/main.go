// Command ropewalk turns museum object records into linked data, checks it, and
// serves it over HTTP. Run "ropewalk --help" for its commands.
package main

import "os"

func main() {
	os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}
