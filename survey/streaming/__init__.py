"""A round too large to hold at once, judged in batches: the same stages, the same findings.

Pass one (`gathering`) reads the file for what the whole round must tell: the rows set aside,
what fills its gaps, its calibration, and where it may be cut without parting a trap from its
vent. Pass two (`judging`) reads it again, batch by batch, and judges each by itself.
"""

from __future__ import annotations
