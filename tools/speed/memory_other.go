//go:build !unix

package main

import "os"

func memory(*os.ProcessState) string { return "–" }
