package runcard

import "tetherbell/decode/craft"

// An Error says what is wrong with a card, where, and what to write instead.
type Error = craft.FieldError
