"""The panel: a web page beside the pedal. Only `open` needs what `[panel]` installs."""
