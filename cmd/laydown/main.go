// Command laydown reads artwork for a toner press with special toners and tells the truth about its
// printed sheet.
package main

import (
	"os"

	"laydown/internal/cli"
)

func main() { os.Exit(cli.Run(os.Args[1:], os.Stdout, os.Stderr)) }
