// Command bondtrial turns the readings of broken glue joints into an answer.
package main

import (
	"os"

	"bondtrial/internal/cli"
)

func main() {
	os.Exit(cli.Main(os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}
