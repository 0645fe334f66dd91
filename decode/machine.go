package decode

import "tetherbell/decode/craft"

// CraftOf returns what a craft line says of the machine; what it left out is
// zero, not known. It allocates the texts.
func CraftOf(s *Sample) craft.Craft {
	if s.Tag != Craft {
		return craft.Craft{}
	}
	return craft.Craft{
		Name:       string(s.Text),
		Layout:     string(s.Word),
		Motors:     int(s.Num[CraftMotors]),
		Poles:      int(s.Num[CraftPoles]),
		Blades:     int(s.Num[CraftBlades]),
		DiameterMM: s.Num[CraftDiameter],
		MassG:      s.Num[CraftMass],
		Cells:      int(s.Num[CraftCells]),
	}
}
