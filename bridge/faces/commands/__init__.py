"""The commands: what each takes from the command line, and how it is run.

A command's own modules are imported when it is run, so that every command is quick.
"""
