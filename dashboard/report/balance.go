package report

import (
	"fmt"
	"math"

	"tetherbell/alarms/account"
)

// balanceSection tells where the weight lies.
func balanceSection(a *account.Account) section {
	s := section{ID: "balance", Title: "Balance"}
	b := &a.Balance
	if !b.Known {
		why := b.Why
		if why == "" {
			why = "there was no steady hold to tell it by"
		}
		s.text("Where the weight lies is not known. " + sentence(why))
	} else {
		_, doubt := doubtful(b.ForwardMM, b.ErrMM)
		s.text(fmt.Sprintf("The weight lies %s of the middle of the motors, give or take %s mm (half of the 95 %% interval), by %s.",
			directionText(b), doubt, count(b.Holds, "steady hold", "steady holds")), sentence(b.Why))
		s.table(balanceTable(b), "")
		s.chart(balanceChart(&a.Craft, b))
	}
	s.text(twistText(b))
	return s
}

// twistText words the yaw twist; "" where it is not known. Under two standard
// errors it is not told from none: common practice.
func twistText(b *account.Balance) string {
	if b.YawTwist == nil {
		return ""
	}
	harder := "Yaw twist: the motors of one turning sense work harder than the others by "
	if b.YawErr == nil {
		return harder + percent(math.Abs(*b.YawTwist)) + "."
	}
	twist, doubt := doubtful(100*math.Abs(*b.YawTwist), 100**b.YawErr)
	if math.Abs(*b.YawTwist) < 2**b.YawErr {
		return fmt.Sprintf("Yaw twist: none that is told from its standard error of %s %%.", doubt)
	}
	return harder + fmt.Sprintf("%s %%, standard error %s %%.", twist, doubt)
}

func directionText(b *account.Balance) string {
	if b.Direction != "" {
		return b.Direction
	}
	return fmt.Sprintf("%s mm forward and %s mm right", number(b.ForwardMM), number(b.RightMM))
}

func balanceTable(b *account.Balance) *table {
	t := &table{Caption: "Centre of weight, from the middle of the motors", Columns: columns("way", "#mm", "#give or take (mm)")}
	for _, v := range []struct {
		way string
		mm  float64
	}{{"forward", b.ForwardMM}, {"right", b.RightMM}} {
		value, doubt := doubtful(v.mm, b.ErrMM)
		t.row(v.way, value, doubt)
	}
	return t
}

// firstMotor is the bearing of m1 from the nose, in degrees clockwise, of the
// layouts whose motors stand evenly around.
var firstMotor = map[string]struct {
	motors  int
	bearing float64
}{
	"quad-x": {4, 45}, "quad-plus": {4, 90}, "hex-x": {6, 30}, "octo-x": {8, 22.5}, "tri": {3, 60},
}

const (
	sketchSize = 400.0
	sketchRim  = 150.0 // distance of the motors from the middle
	sketchRing = 96.0  // of the outermost ring
)

// balanceChart is the craft from above, nose up. The rings are millimetres;
// the motors stand around them and show the way only.
func balanceChart(c *account.Craft, b *account.Balance) *chart {
	d := &drawing{}
	mid := sketchSize / 2
	far := math.Hypot(b.ForwardMM, b.RightMM) + b.ErrMM
	step := niceStep(max(far, 1), 2)
	rings := 2
	perMM := sketchRing / (step * float64(rings))
	layout, known := firstMotor[c.Layout]
	if known {
		drawMotors(d, mid, layout.motors, layout.bearing)
	}
	d.path("craft", fmt.Sprintf("M%s %sl8 14h-16z", unit(mid), unit(8)))
	d.text(mid+14, 20, "t", "start", "nose (x)")
	d.text(sketchSize-4, mid+4, "t", "end", "right (y)")
	for k := 1; k <= rings; k++ {
		d.circle(mid, mid, float64(k)*step*perMM, "ring")
		d.text(mid+4, mid+float64(k)*step*perMM-4, "t tick halo", "start", number(float64(k)*step)+" mm")
	}
	d.line(mid, mid-sketchRing-8, mid, mid+sketchRing+8, "grid")
	d.line(mid-sketchRing-8, mid, mid+sketchRing+8, mid, "grid")
	x, y := mid+b.RightMM*perMM, mid-b.ForwardMM*perMM
	d.circle(x, y, max(b.ErrMM*perMM, 2), "doubt")
	d.circle(x, y, 5, "weight")
	return &chart{ID: "chart-balance", Title: "Centre of weight seen from above", Picture: d.picture(sketchSize, sketchSize), Small: true,
		Desc: fmt.Sprintf("Nose up, right to the right. The dot is the centre of weight, the disc about it how well it is known; the rings are %s and %s mm from the middle of the motors. The motors stand around it, not to scale. The weight lies %s.",
			number(step), number(2*step), directionText(b))}
}

func drawMotors(d *drawing, mid float64, n int, first float64) {
	for k := range n {
		sin, cos := math.Sincos((first + 360*float64(k)/float64(n)) * math.Pi / 180)
		x, y := mid+sketchRim*sin, mid-sketchRim*cos
		d.line(mid, mid, x, y, "arm")
		d.circle(x, y, 22, "motor")
		d.text(x, y+4, "t", "middle", "m"+numbered(k))
	}
}
