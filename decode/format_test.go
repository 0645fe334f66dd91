package decode

import (
	"reflect"
	"slices"
	"strings"
	"testing"
)

// columns are the names that tables, reports and programs depend on.
var columns = map[Tag]string{
	Hello: "protocol bridge boot",
	Craft: "name layout motors magnet_poles blades propeller_mm mass_g cells",
	Axes: "rate_roll rate_pitch rate_yaw demand_roll demand_pitch demand_yaw " +
		"control_roll control_pitch control_yaw throttle",
	Out:   "out_1 out_2 out_3 out_4 out_5 out_6 out_7 out_8",
	ERPM:  "erpm_1 erpm_2 erpm_3 erpm_4 erpm_5 erpm_6 erpm_7 erpm_8",
	Accel: "force_x force_y force_z",
	Load:  "load_n",
	Temp:  "temp_1 temp_2 temp_3 temp_4 temp_5 temp_6 temp_7 temp_8",
	Pack:  "volts amps",
	Air:   "pascal air_c",
	State: "armed stopped ground stick_throttle stick_roll stick_pitch stick_yaw control_ok",
	Set:   "setting value",
	Note:  "text",
}

func TestColumns(t *testing.T) {
	for tag := Unknown + 1; tag < TagCount; tag++ {
		if got := strings.Join(Columns(tag), " "); got != columns[tag] {
			t.Errorf("%v: got %s, want %s", tag, got, columns[tag])
		}
	}
	if len(Columns(Unknown)) != 0 || len(Columns(TagCount)) != 0 {
		t.Error("an unknown tag has columns")
	}
}

// The slots of a tag are 0, 1, 2 ... in the line's order, as Sample.Num says.
func TestSlots(t *testing.T) {
	for tag := Unknown + 1; tag < TagCount; tag++ {
		var slots []int
		for _, f := range Fields(tag) {
			if f.Kind >= Word != (f.Slot < 0) {
				t.Errorf("%s: slot %d", f.Name, f.Slot)
			}
			if f.Slot >= 0 {
				slots = append(slots, f.Slot)
			}
			if f.About == "" {
				t.Errorf("%s is not explained", f.Name)
			}
			if f.Kind == Rest && f.Name != Columns(tag)[len(Columns(tag))-1] {
				t.Errorf("%s takes the rest of the line but is not the last", f.Name)
			}
		}
		for i, slot := range slots {
			if slot != i || slot >= MaxNum {
				t.Errorf("%v: slots %v", tag, slots)
				break
			}
		}
	}
}

// Fields gives a copy: a caller cannot change how lines are read.
func TestFieldsIsACopy(t *testing.T) {
	f := Fields(Load)
	f[0].Name, f[0].Max = "other", 0
	if reflect.DeepEqual(f, Fields(Load)) {
		t.Error("the table was changed")
	}
}

func TestTagNames(t *testing.T) {
	var names []string
	for tag := Unknown + 1; tag < TagCount; tag++ {
		got, ok := TagNamed(tag.String())
		if got != tag || !ok {
			t.Errorf("%v: got %v, %v", tag, got, ok)
		}
		names = append(names, tag.String())
	}
	slices.Sort(names)
	if len(slices.Compact(names)) != int(TagCount)-1 {
		t.Errorf("a name stands twice in %v", names)
	}
	if _, ok := TagNamed("unknown"); ok {
		t.Error("unknown is no tag of a line")
	}
	if Unknown.String() != "unknown" || Tag(77).String() != "unknown" {
		t.Error("unknown has another name")
	}
}
