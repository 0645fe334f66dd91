package bridge_test

import (
	"io"
	"log"
	"os"
	"time"

	"tetherbell/decode/bridge"
)

// A bridge on a single-board computer, in full but for its sensors. In earnest
// the clock is a monotonic one, and the port an opened serial port behind a
// Queue whose Run has a goroutine of its own, as the example of Queue.Run has it:
//
//	start := time.Now()
//	clock := func() time.Duration { return time.Since(start) }
//	w := bridge.NewWriter(queue, bridge.Config{Name: "bench-1", Boot: rand.Uint32(), Now: clock})
func Example() {
	var now time.Duration
	w := bridge.NewWriter(os.Stdout, bridge.Config{Name: "bench-1", Boot: 42, Now: func() time.Duration { return now }})
	_ = w.SetCraft(bridge.Craft{Name: "Marsh Heron", Layout: "quad-x", Motors: 4, MagnetPoles: 14, Blades: 3, PropellerMM: 178, MassG: 655, Cells: 4})
	_ = w.Set("idle_ready", 0.05)
	for range 3 {
		at := w.Now() // when the sensors are read
		_ = w.State(at, &bridge.State{Armed: bridge.No, Stopped: bridge.No, Ground: bridge.Yes, ControlOK: bridge.Yes})
		_ = w.Load(at, 0.0213)
		_ = w.Temp(at, []float64{31.52, 31.48, bridge.None(), 31.6}) // m3's sensor did not answer
		now += 500 * time.Millisecond
	}
	// Output:
	// hello,0,0,1,bench-1,42*A1C42CDB
	// craft,1,0,Marsh Heron,quad-x,4,14,3,178,655,4*AEA23357
	// set,2,0,idle_ready,0.05*2683C33F
	// state,3,0,0,0,1,0,0,0,0,1*3713DC4F
	// load,4,0,0.021*644BE08E
	// temp,5,0,31.52,31.48,,31.6*9BD60BB0
	// state,6,500000,0,0,1,0,0,0,0,1*77003745
	// load,7,500000,0.021*B2D56B90
	// temp,8,500000,31.52,31.48,,31.6*C2B66529
	// hello,9,1000000,1,bench-1,42*4B38B9FA
	// state,10,1000000,0,0,1,0,0,0,0,1*0524BC97
	// load,11,1000000,0.021*8547B8F4
	// temp,12,1000000,31.52,31.48,,31.6*A023A0C6
}

// openPort is yours: it opens the serial port.
func openPort() (io.WriteCloser, error) { return os.OpenFile("/dev/ttyGS0", os.O_WRONLY, 0) }

// A port that fails is opened again: a gadget port fails a write whenever the
// host is unplugged, and the bridge must not stay mute after that.
func ExampleQueue_Run() {
	port, err := openPort()
	if err != nil {
		log.Fatal(err)
	}
	queue := bridge.NewQueue(4096)
	go func() {
		for err := queue.Run(port); err != nil; err = queue.Run(port) {
			log.Print(err)
			_ = port.Close()
			for err != nil {
				time.Sleep(time.Second)
				port, err = openPort()
			}
		}
	}()
}
