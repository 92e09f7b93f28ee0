"""Tests of the shipped unit under systemd; test_vm.py runs them in their own boot."""
