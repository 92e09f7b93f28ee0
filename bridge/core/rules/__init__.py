"""The house rules: what must hold in every setting without anyone writing it."""
