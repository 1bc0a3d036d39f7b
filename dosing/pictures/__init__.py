"""Every picture and printed sheet."""
