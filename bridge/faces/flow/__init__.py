"""The flow of sound as a drawing: boxes, cables, what is lit and what is cut."""
