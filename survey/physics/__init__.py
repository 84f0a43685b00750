"""Physics of steam traps and their lines: a leaf that knows no tables of readings.

Functions take and return numpy arrays (or floats), keyword-only, units in the names.
Outside a function's stated range the answer is NaN, never an extrapolation.
"""
