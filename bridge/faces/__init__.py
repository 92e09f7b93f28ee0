"""What a person or a script sees."""
