"""Many devices to the plant: lift, air, common causes, work list, and the way down in pressure.

Everything here starts from a findings table: no reading is judged twice.
"""
