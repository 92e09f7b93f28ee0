"""The one task that owns the state and performs the effects."""
