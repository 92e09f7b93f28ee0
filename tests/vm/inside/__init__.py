"""Tests that need real ports; run by tests/vm/test_vm.py in the machine in software."""
