"""Exit codes of the command line, beside 0 for done and 2 for input that cannot be used."""

NOT_MET = 3
"""What was asked for cannot be met, or is forbidden for its purpose."""
INTERRUPTED, ENDED = 130, 143
"""Of a process that a person interrupts, and of one that is asked to end."""
