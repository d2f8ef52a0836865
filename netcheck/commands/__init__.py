"""What each command does, once it is known which one it is: everything slow is imported here, not in `netcheck.cli`."""
