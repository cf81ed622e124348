//go:build race

package inspect

const raced = true
