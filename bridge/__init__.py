"""Treadle: listening scenes that are proved before they are sent."""
