package dashboard

// beaconParts word in a row of its own what the beacon's line says; none where
// there is no beacon.
func beaconParts(f *Frame, l *look) []part {
	st := &f.Status
	switch {
	case st.Beacon == "":
		return nil
	case st.BeaconFallen:
		return []part{{clean(st.Beacon), l.invert.Bold(true)}}
	}
	return []part{{clean(st.Beacon), l.plain}}
}

// beaconShort words the same beside other things.
func beaconShort(f *Frame, l *look) []part {
	st := &f.Status
	switch {
	case st.Beacon == "":
		return nil
	case st.BeaconError != "": // how its line stands, nobody knows
		return []part{{" NO BEACON ", l.invert.Bold(true)}, {"  ", l.plain}}
	case st.BeaconFallen:
		return []part{{" beacon fallen ", l.invert.Bold(true)}, {"  ", l.plain}}
	}
	return []part{{"beacon up  ", l.plain}}
}
