"""Checks of Treadle; the folders mirror the package."""
