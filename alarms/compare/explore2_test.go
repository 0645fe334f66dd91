package compare

import (
	"fmt"
	"os"
	"strconv"
	"strings"
	"sync"
	"testing"
)

func TestOne(t *testing.T) {
	a, sa := split(os.Getenv("A"))
	b, sb := split(os.Getenv("B"))
	fmt.Print(print(Between(play(scenario(t, a, sa...), 100001), play(scenario(t, b, sb...), 100002))))
}
func TestScan(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("N"))
	for _, pair := range strings.Split(os.Getenv("PAIRS"), ";") {
		ab := strings.Split(pair, "|")
		if len(ab) == 1 {
			ab = append(ab, ab[0])
		}
		a, sa := split(ab[0])
		b, sb := split(ab[1])
		A, B := scenario(t, a, sa...), scenario(t, b, sb...)
		count := map[Word]int{}
		fm := map[string]int{}
		var mu sync.Mutex
		var wg sync.WaitGroup
		ch := make(chan int)
		for range 2 {
			wg.Add(1)
			go func() {
				defer wg.Done()
				for i := range ch {
					r := Between(play(A, uint64(100000+2*i)), play(B, uint64(100001+2*i)))
					mu.Lock()
					count[r.Verdict]++
					for _, f := range r.Measures {
						if f.Verdict != CannotTell && f.Verdict != Same {
							fm[f.Measure+" "+string(f.Verdict)]++
						}
					}
					mu.Unlock()
				}
			}()
		}
		for i := range n {
			ch <- i
		}
		close(ch)
		wg.Wait()
		fmt.Println(pair, count, fm)
	}
}

func TestOdd(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("N"))
	a, sa := split(os.Getenv("A"))
	b, sb := split(os.Getenv("B"))
	A, B := scenario(t, a, sa...), scenario(t, b, sb...)
	for i := range n {
		r := Between(play(A, uint64(100000+2*i)), play(B, uint64(100001+2*i)))
		if string(r.Verdict) != os.Getenv("W") {
			fmt.Println(i, print(r))
		}
	}
}
