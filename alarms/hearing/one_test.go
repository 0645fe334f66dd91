package hearing

import (
	"fmt"
	"os"
	"strconv"
	"testing"
)

func TestOne(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("ONE"))
	if n == 0 {
		t.Skip()
	}
	b := GrowthBench(uint64(n), os.Getenv("DIS") != "")
	fmt.Println(b, "axis", b.Axis())
	next := 0.0
	r := &Runner{Each: func(d *Drawing, f *Frame) {
		if f.T > next {
			next = f.T + 0.1
			if f.T > b.Begin-0.3 {
				fmt.Printf("== %.2f truth %.4f\n", f.T, d.Truth())
			}
		}
	}}
	o := r.Run(b)
	fmt.Println(o)
}
