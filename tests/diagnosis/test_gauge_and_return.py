"""A station whose every unit is under its return's steam: water stands in it, no gauge is wrong."""

from __future__ import annotations

import pandas as pd

from survey.pipeline import analyze


def test_no_gauge_is_found_wrong_to_under_the_pressure_of_its_return() -> None:
    common = {"device": "trap", "trap_type": "float_thermostatic", "ambient_f": 70.0,
              "return_psig": 4.5, "background_db": 28.0, "thermometer": "contact"}  # fmt: skip
    well = [{**common, "tag": f"A{i}", "station": "A", "supply_psig": 40.0, "outlet_temp_f": 215.0,
             "inlet_temp_f": 280.0 - i % 5, "sound_db": 30.0, "lift_ft": 2.0}
            for i in range(30)]  # fmt: skip
    flooded = [{**common, "tag": f"C{i}", "station": "C", "supply_psig": 10.0, "sound_db": 28.0,
                "inlet_temp_f": 182.0 + i, "outlet_temp_f": 175.0 + i, "lift_ft": 2.0 + 2 * i,
                "sound_pattern": "quiet"} for i in range(6)]  # fmt: skip
    findings = analyze(pd.DataFrame([*well, *flooded]))
    assert not any(one["what"] == "gauge" for one in findings.summary["calibration"])
    table = findings.table[findings.table["station"].astype(str) == "C"]
    assert set(table["state"].astype(str)) == {"backed_up"}
