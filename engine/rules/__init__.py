"""Rules content: models, grants, formulas, folios and the catalogue made of them. Takes bytes, does no I/O."""
