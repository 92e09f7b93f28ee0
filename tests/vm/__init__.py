"""A machine in software that has what this one may lack: see README.md's test command.

A small Linux is booted in an emulator. It has a real ALSA sequencer, USB MIDI devices
that can be pulled out, lines of GPIO and keyboards, all made by the kernel itself. In a
second boot the host's own systemd is in charge, and runs the shipped unit.
"""
