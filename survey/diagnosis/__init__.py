"""Tidy readings to state and cause: hypotheses weighed by a model the round calibrates."""
