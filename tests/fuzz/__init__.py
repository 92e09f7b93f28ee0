"""Whatever comes in from outside: no exception escapes, nothing grows."""
