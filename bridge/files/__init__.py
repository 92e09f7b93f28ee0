"""Text in, studio or findings out."""
