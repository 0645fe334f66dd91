package report

import (
	"fmt"
	"slices"
	"strings"

	"tetherbell/alarms/account"
)

// axesSection tells of each axis: controller output, body rate, spectrum.
func axesSection(a *account.Account) section {
	s := section{ID: "axes", Title: "Axes: rate controller and oscillation"}
	sum := &table{Caption: "Rate controllers while armed; rms and mean: over idle only", Stacked: true,
		Columns: columns("axis", "#output rms", "#output peak", "#output mean", "#limit", "#rate rms (deg/s)", "strongest oscillation")}
	heard := false
	for i := range a.Axes {
		x := &a.Axes[i]
		heard = heard || len(points(x.Control))+len(points(x.Rate)) > 0 || x.Spectrum != nil || x.ControlPeak != nil
		sum.row(x.Name, measured(x.ControlRMS, ""), measured(x.ControlPeak, ""), measured(x.ControlMean, ""), number(x.Limit), measured(x.RateRMS, ""), toneText(x.Strongest))
	}
	if !heard {
		s.text("Neither controller outputs nor body rates were measured: no axis was watched.")
		return s
	}
	s.text("Controller outputs are shares of full output. The limit holds for an oscillation, the narrow-band part of the output: a slow push over it is no oscillation. " +
		"Spectra: square root of the power spectral density by Welch's method; " + shaded(a.Axes[0].Spectrum, a.Axes[1].Spectrum, a.Axes[2].Spectrum))
	s.text("Output rms (about its mean), output mean and rate rms (about the demand) are of the time armed with the motors over idle; output peak is of all the time armed; " +
		"the strongest oscillation is that of the time armed with the rotors turning.")
	s.table(sum, "")
	for i := range a.Axes {
		axis(&s, a, &a.Axes[i])
	}
	axisOrders(&s, a)
	return s
}

// axisOrders tells where the rotors' orders lie: once, where the axes agree, as
// they do when they come in one stream.
func axisOrders(s *section, a *account.Account) {
	var told []*account.Spectrum
	for i := range a.Axes {
		sp := a.Axes[i].Spectrum
		if sp == nil || slices.ContainsFunc(told, func(t *account.Spectrum) bool { return slices.Equal(t.Orders, sp.Orders) }) {
			continue
		}
		caption := "Rotor orders in the spectra of the axes"
		if len(told) > 0 {
			caption = "Rotor orders in the spectrum of " + a.Axes[i].Name
		}
		if len(told) == 0 {
			s.heading("Rotor orders")
		}
		told = append(told, sp)
		var tones []axisTone
		for j := range a.Axes {
			if y := &a.Axes[j]; y.Strongest != nil {
				tones = append(tones, axisTone{y.Name, y.Strongest})
			}
		}
		s.table(orderTable(caption, sp, tones...), noOrders)
	}
}

// shaded says what the bands in a picture of a spectrum are.
func shaded(all ...*account.Spectrum) string {
	for _, sp := range all {
		if sp != nil && sp.OrdersOf != "" {
			return "shaded: where the rotors' orders lie at " + sp.OrdersOf + "."
		}
	}
	return "shaded: where the rotors' orders lie."
}

const noOrders = "Where the rotors' orders lie is not known: no speeds, or no magnet poles, were reported."

func axis(s *section, a *account.Account, x *account.Axis) {
	name := strings.ToUpper(x.Name[:min(1, len(x.Name))]) + x.Name[min(1, len(x.Name)):]
	s.heading(name)
	if len(x.Found) > 0 {
		s.add(block{List: x.Found})
	} else {
		s.text("No alarm speaks of this axis.")
	}
	c := &timeChart{id: "chart-" + idOf(x.Name), acc: a, events: happenings(a, x.Name), panels: []panel{
		{title: x.Name + ", controller output", height: 110, kind: balanced, name: "output", curve: x.Control,
			refs: []reference{{"limit ±" + number(x.Limit) + " of the narrow-band part", []float64{x.Limit, -x.Limit}}}},
		{title: x.Name + ", body rate (deg/s)", height: 80, kind: balanced, name: "rate", curve: x.Rate},
	}}
	chart := c.chart(name+": controller output and body rate over time", axisDesc(x))
	if chart == nil {
		s.text("Controller output and body rate of this axis were not measured.")
	}
	s.chart(chart)
	spectrum(s, "chart-"+idOf(x.Name)+"-spectrum", name+": spectrum of the controller output", x.Spectrum, x.Strongest)
}

func axisDesc(x *account.Axis) string {
	d := "Least and greatest values over time, with the limit of ±" + number(x.Limit) + "."
	if lo, hi, ok := reach(x.Control); ok {
		d += fmt.Sprintf(" Output from %s to %s.", number(lo), number(hi))
	}
	if lo, hi, ok := reach(x.Rate); ok {
		d += fmt.Sprintf(" Rate from %s to %s deg/s.", number(lo), number(hi))
	}
	return d
}

// spectrum adds a spectrum, or why there is none.
func spectrum(s *section, id, title string, sp *account.Spectrum, t *account.Tone) {
	c := spectrumChart(id, title, sp, t)
	if c == nil {
		s.text(title + ": none; too little of it came while the craft was armed.")
		return
	}
	s.text(fmt.Sprintf("Averaged over %s with the craft armed and rotors turning, in bins of %s Hz. The stream shows nothing over %s Hz.",
		count(sp.Spans, "stretch", "stretches"), number(sp.BinHz), number(topOf(sp))))
	if t != nil {
		s.text("Strongest in the band of oscillations: " + toneText(t) + ".")
	}
	s.chart(c)
	if wide := wideOrders(sp); len(wide) > 0 {
		s.text("Not shaded, for they reach over most of it: " + strings.Join(wide, ", ") + ".")
	}
}

func toneText(t *account.Tone) string {
	if t == nil {
		return absent
	}
	return fmt.Sprintf("%s Hz with a peak of %s, %s of the variance about it, at %s", number(t.Hz), number(t.Amplitude), percent(t.Share), second(t.At))
}

// happenings are the alarms of one place.
func happenings(a *account.Account, where string) []happening {
	var all []happening
	for i, r := range a.Alarms {
		for place := range strings.SplitSeq(r.Where, "+") {
			if place == where {
				all = append(all, happening{r.At, priorityClass(r.Priority), cut(numbered(i)+" "+r.Name, longestLabel)})
			}
		}
	}
	return all
}

func vibrationSection(a *account.Account) section {
	s := section{ID: "vibration", Title: "Vibration"}
	if a.Vibration == nil {
		s.text("No spectrum of vibration: neither specific force nor body rates were measured, or too little of them came while the craft was armed.")
		return s
	}
	s.text("Root density: square root of the power spectral density by Welch's method. " + sentence(shaded(a.Vibration)))
	of := "specific force"
	if strings.HasPrefix(a.Vibration.Unit, "deg/s") { // where no force came
		of = "body rates"
	}
	spectrum(&s, "chart-vibration", "Vibration: spectrum of the "+of, a.Vibration, nil)
	s.table(orderTable("Rotor orders in the spectrum of vibration", a.Vibration), noOrders)
	return s
}

// idOf makes a name fit to be part of an id.
func idOf(name string) string {
	return strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r == '-' {
			return r
		}
		return '-'
	}, strings.ToLower(name))
}
