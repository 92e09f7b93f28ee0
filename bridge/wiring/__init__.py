"""Builds everything concrete: the only folder that knows every class.

An adapter's module is imported when the studio has something for it, so that the
service is small and starts quickly.
"""
