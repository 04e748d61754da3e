"""Heat at the faces as functions of numbers: mould, sprays, rolls, radiation and water."""
