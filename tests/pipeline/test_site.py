"""Site settings: what cannot be meant is named, key and value, in one printable paragraph."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from survey.errors import SiteError
from survey.physics.units import atmosphere_psia
from survey.site import Site

LONG = "9" * 5000
HUGE = "0x" + "f" * 5000


def refused(tmp_path: Path, text: str) -> str:
    """Return the message with which a site file is refused."""
    path = tmp_path / "site.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SiteError) as raised:
        Site.from_toml(path)
    message = str(raised.value)
    assert message.isprintable()
    assert len(message) < 700 + len(str(path))
    assert message.count(str(path)) == 1
    return message


@pytest.mark.parametrize(
    ("text", "key", "value"),
    [
        (f"hours_per_year = {LONG}", "hours_per_year", "a number of 5,000 digits, 999999999999..."),
        (f"[fuel]\nprice_per_mmbtu = -{LONG}", "price_per_mmbtu", "a number of 5,000 digits"),
        (f"x = [1,\n {LONG}]", "x", "a number of 5,000 digits"),
        (f"hours_per_year = {HUGE}", "hours_per_year", "a whole number of some 6,021 digits"),
        (f"altitude_m = {HUGE}", "altitude_m", "a whole number of some 6,021 digits"),
        (f"altitude_m = {'9' * 400}", "altitude_m", "a whole number of some 400 digits"),
        (f"hours_per_year = [{HUGE}]", "hours_per_year", "a list with a number far too long"),
        ("hours_per_year = 1e999", "hours_per_year", "Found: inf"),
        ("altitude_m = inf", "altitude_m", "Found: inf"),
        ("ambient_c = nan", "ambient_c", "Found: nan"),
        ("feedwater_f = nan", "feedwater_f", "Found: nan"),
        ("ambient_f = true", "ambient_f", "Found: True"),
        ("altitude_m = true", "altitude_m", "Found: True"),
        ('boiler_efficiency = "0.8"', "boiler_efficiency", "Found: '0.8'"),
        ('feedwater_c = "80"', "feedwater_c", "Found: '80'"),
        ("name = 3", "name", "Found: 3"),
        ("hours_per_year = 2020-01-01", "hours_per_year", "datetime.date(2020, 1, 1)"),
        ("fuel = 3", "fuel", "Found: 3"),
        ("[stations]\nNorth = 60", "stations.North", "Found: 60"),
        ("ambient_c = 200", "ambient_c", "392"),
        ('loss_basis = "<b>\\u001b[31m\\u202e"', "loss_basis", r"'<b>\x1b[31m\u202e'"),
        ('"\\u001b[31mred" = 3', r"\x1b[31mred", "nearest known key"),
        ('[stations."\\u001b[1m"]\nsupply_psi = 3', r"\x1b[1m.supply_psi", "'supply_psig'"),
    ],
)
def test_key_and_value_are_named(tmp_path: Path, text: str, key: str, value: str) -> None:
    message = refused(tmp_path, text)
    assert key in message
    assert value in message


def test_other_units_are_converted(tmp_path: Path) -> None:
    path = tmp_path / "site.toml"
    path.write_text("altitude_m = 1000\nambient_c = 20\nfeedwater_c = 100", encoding="utf-8")
    site = Site.from_toml(path)
    assert site.altitude_ft == pytest.approx(3280.84, abs=0.01)
    assert (site.ambient_f, site.feedwater_f) == (68.0, 212.0)
    assert not any("Air" in line or "Altitude" in line for line in site.assumptions)


@pytest.mark.parametrize("pair", ["altitude_m altitude_ft", "ambient_c ambient_f"])
def test_one_setting_in_two_units_is_refused(tmp_path: Path, pair: str) -> None:
    message = refused(tmp_path, "\n".join(f"{key} = 20" for key in pair.split()))
    assert all(key in message for key in pair.split())


@pytest.mark.parametrize("key", ["supply_psig", "return_psig"])
def test_a_station_is_over_a_perfect_vacuum_where_it_stands(tmp_path: Path, key: str) -> None:
    # At 20,000 ft the air presses 6.76 psi (US Standard Atmosphere 1976).
    high = "altitude_ft = 20000\n[stations.North]\n"
    message = refused(tmp_path, f"{high}{key} = -6.9")
    assert f"stations.North.{key}" in message
    assert "-6.9 psig, where the air at 20,000 ft is 6.8 psi" in message
    assert Site.from_mapping({"stations": {"North": {key: -6.9}}}).stations["North"]
    path = tmp_path / "site.toml"
    path.write_text(f"{high}{key} = -6.5", encoding="utf-8")
    assert Site.from_toml(path).stations["North"]


def test_a_return_over_its_supply_is_refused(tmp_path: Path) -> None:
    message = refused(tmp_path, "[stations.North]\nsupply_psig = 2\nreturn_psig = 5")
    assert "stations.North" in message
    assert "return_psig 5 over supply_psig 2" in message
    assert Site.from_mapping({"stations": {"North": {"supply_psig": 2, "return_psig": 2}}})


@given(st.floats(-1500.0, 20_000.0), st.floats(-14.69, 20.0))
def test_whatever_passes_has_an_absolute_pressure(altitude_ft: float, psig: float) -> None:
    air_psia = float(atmosphere_psia(altitude_ft=altitude_ft))
    raw = {"altitude_ft": altitude_ft, "stations": {"North": {"supply_psig": psig}}}
    if psig + air_psia > 0.0:
        assert Site.from_mapping(raw).stations["North"].supply_psig == psig
    else:
        with pytest.raises(SiteError):
            Site.from_mapping(raw)


WORDS = st.sampled_from([*Site.model_fields, "altitude_m", "ambient_c", "supply_psig", "nonsense"])
VALUES = st.one_of(
    st.integers(), st.floats(), st.booleans(), st.text(max_size=30),
    st.just(int("f" * 6000, 16)), st.lists(st.integers(), max_size=2),
    st.dictionaries(st.text(max_size=5), st.integers() | st.dictionaries(WORDS, st.floats())),
)  # fmt: skip


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(st.dictionaries(WORDS | st.text(max_size=10), VALUES, max_size=4))
def test_any_mapping_is_a_site_or_a_printable_error(raw: dict[str, object]) -> None:
    said = ""
    try:
        Site.from_mapping(raw)
    except SiteError as error:
        said = str(error)
    assert said == "" or said.isprintable()
    assert len(said) < 900
