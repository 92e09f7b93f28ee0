"""A new studio file from a few plain answers, proved before it is written."""
