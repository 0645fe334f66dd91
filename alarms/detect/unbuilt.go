package detect

// unbuilt stands in the place of a detector that is not there yet: it says so.
type unbuilt struct{ kind Kind }

func (u *unbuilt) Kind() Kind                            { return u.kind }
func (*unbuilt) Observe(*Bench, *Input)                  {}
func (*unbuilt) Judge(_ *Bench, dst []Finding) []Finding { return dst }
func (*unbuilt) Describe(*Bench, Finding) Story          { return Story{} }
func (*unbuilt) Missing(*Bench) string                   { return "this version does not judge it yet" }
func (*unbuilt) Reset()                                  {}
