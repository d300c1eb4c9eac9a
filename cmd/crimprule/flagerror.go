package main

import (
	"errors"
	"fmt"

	"github.com/spf13/pflag"
)

// flagError says in plain words what is wrong with an option's value, and how it is written.
func flagError(err error) error {
	var invalid *pflag.InvalidValueError
	if !errors.As(err, &invalid) {
		return err
	}
	flag, value := invalid.GetFlag(), invalid.GetValue()
	hint := ""
	switch flag.Value.Type() {
	case "int":
		hint = "no whole number: write it in digits alone, such as --" + flag.Name + " 10"
	case "float64":
		hint = "no number: write it in digits, with a point before the decimals, such as --" + flag.Name + " 2.5"
	case "duration":
		hint = "no time: write a number and its unit, such as --" + flag.Name + " 90s or 2m"
	case "bool":
		hint = "neither true nor false: write --" + flag.Name + " alone, or leave it out"
	default:
		return err
	}
	return fmt.Errorf("--%s %q: that is %s", flag.Name, value, hint)
}
