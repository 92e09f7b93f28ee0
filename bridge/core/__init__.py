"""Decisions: no clock, file, socket, thread, log or third party."""
