"""Units and locales: the same figure, written another way."""

from __future__ import annotations

import math
import re
from datetime import date

import pytest
from babel.numbers import get_group_symbol
from hypothesis import given
from hypothesis import strategies as st

from reports.build import findings
from survey.columns import FINDING_COLUMNS, INPUT_COLUMNS
from survey.errors import UsageError
from survey.reports import manner, measures, numerals, words
from survey.reports.spoken import spoken

SWISS = get_group_symbol("de_CH")
assert SWISS in "’'"


@pytest.mark.parametrize("locale", ["en", "en_US", "de_DE", "sv_SE"])
def test_nothing_is_written_as_less_than_nothing_by_rounding(locale: str) -> None:
    with manner.using(locale=locale):
        assert numerals.grouped(-0.04) == "0"
        assert numerals.grouped(-0.0, 1).lstrip("0,.") == ""
        assert numerals.grouped(-0.6)[-1] == "1"
        assert numerals.grouped(-0.6) != "1"

@pytest.mark.parametrize(("name", "us", "si", "shown"), [
    # 100 °C = 212 °F; a difference of 9 °F is 5 °C; 1 bar = 14.503774 psi (BIPM: 1 psi = 6894.757
    # Pa); 1 ft = 0.3048 m and 1 in = 25.4 mm (1959 agreement); 1 lb = 0.45359237 kg; 1 Btu (IT) =
    # 1055.05585 J (NIST SP 811, table B.8), so 10,000 Btu/h = 2.9307107 kW.
    ("inlet_temp_f", 212.0, 100.0, "100 °C"),
    ("saturation_f", -40.0, -40.0, "-40 °C"),
    ("subcooling_f", 9.0, 5.0, "5 °C"),
    ("supply_psig", 14.503774, 1.0, "1 bar (gauge)"),
    ("lift_ft", 10.0, 3.048, "3.05 m"),
    ("orifice_in", 0.125, 3.175, "3.2 mm (1/8 in)"),
    ("orifice_in", 0.15, 3.81, "3.8 mm (0.15 in)"),
    ("orifice_in", 0.25, 6.35, "6.4 mm (1/4 in)"),
    ("orifice_in", 6.4 / 25.4, 6.4, "6.4 mm (1/4 in)"),
    ("orifice_in", 4.2 / 25.4, 4.2, "4.2 mm"),
    ("orifice_in", 1.5, 38.1, "38.1 mm (1 1/2 in)"),
    ("orifice_in", 0.3594, 9.12876, "9.1 mm (23/64 in)"),
    ("orifice_in", 2.0, 50.8, "50.8 mm (2 in)"),
    ("steam_loss_lb_per_h", 100.0, 45.359237, "45.36 kg/h"),
    ("annual_loss_klb", 1.0, 0.45359237, "0.45 t"),
    ("heat_back_btu_per_h", 10_000.0, 2.9307107, "2.9 kW"),
    ("sound_db", 52.0, 52.0, "52 dB"),
    ("annual_co2_t", 15.6, 15.6, "15.6 t"),
])
def test_a_quantity_in_si(name: str, us: float, si: float, shown: str) -> None:
    assert measures.value(name, us) == us
    with manner.using(units="si"):
        assert measures.value(name, us) == pytest.approx(si, rel=1e-7)
        assert measures.said(name, us) == shown
        assert math.isnan(measures.value(name, math.nan))


def test_every_column_with_a_us_unit_has_one_in_si() -> None:
    us = {"°F", "psig", "psi", "in", "ft", "lb/h", "1000 lb", "Btu/h"}
    named = {c.name for c in (*INPUT_COLUMNS, *FINDING_COLUMNS) if c.unit in us}
    assert named <= set(measures.MEASURES)
    with manner.using(units="si"):
        assert not us & {measures.unit(name) for name in measures.MEASURES}


def test_heads_name_the_unit_shown() -> None:
    assert measures.head("inlet_temp_f") == "Inlet temperature, °F"
    assert measures.head("annual_cost", "EUR") == "Cost a year, EUR"
    assert measures.head("tag") == "Tag"
    assert measures.head("my own column_f") == "my own column_f"
    with manner.using(units="si"):
        assert measures.head("supply_psig") == "Pressure ahead, bar (gauge)"
        assert measures.head("steam_loss_lb_per_h") == "Steam lost, kg/h"
        column = measures.value("inlet_temp_f", findings().table["inlet_temp_f"])
        assert measures.head(column.name) == "Inlet temperature, °C"
        assert column.iloc[3] == pytest.approx((328.0 - 32) / 1.8)


@pytest.mark.parametrize(("us", "si"), [
    ("its inlet reads 303 °F, 95 % of the way to saturation (307 °F)",
     "its inlet reads 151 °C, 95 % of the way to saturation (153 °C)"),
    ("its inlet reads 268 °F (290 °F as corrected)",
     "its inlet reads 131 °C (143 °C as corrected)"),
    # A difference is no temperature: 12 °F below is 6.7 °C below, and not -11 °C.
    ("12 °F below saturation", "6.7 °C below saturation"),
    ("within 5 °F of it", "within 2.8 °C of it"),
    ("off by 9 °F", "off by 5.0 °C"),
    ("+9 °F", "+5.0 °C"),
    ("10 to 20 °F colder", "5.6 to 11 °C colder"),
    ("300 to 310 °F", "149 to 154 °C"),
    ("between 300 and 310 °F", "between 149 and 154 °C"),
    ("-40 °F", "-40 °C"),
    ("its lift wants 12 psi more than there is", "its lift wants 0.83 bar more than there is"),
    ("2–3 psi", "0.14–0.21 bar"),
    ("at 60 psig", "at 4.1 bar gauge"),
    ("vented (0 psig): none", "vented (0 bar gauge): none"),
    ("a jet of 10 lb/h is heard about 21 dB over", "a jet of 4.5 kg/h is heard about 21 dB over"),
    ("12 ft up takes 5.2 psi", "3.7 m up takes 0.36 bar"),
    ("trap, 0.125 in bore", "trap, 3.2 mm (1/8 in) bore"),
    ("taken as 0.1 to 0.15 in.", "taken as 2.5 to 3.8 mm (0.1 to 0.15 in)."),
    ("trap, 0.252 in bore", "trap, 6.4 mm (1/4 in) bore"),
    ("trap, 0.1654 in bore", "trap, 4.2 mm bore"),
    ("else 0.15 in.", "else 3.8 mm (0.15 in)."),
    ("USD 8.00 per MMBtu.", "USD 7.58 per GJ."),
    # 1 MMBtu = 1.05505585 GJ, so 53.06 kg for each MMBtu is 50.29 kg for each GJ.
    ("gas (53.06 kg of CO2 per MMBtu).", "gas (50.29 kg of CO2 per GJ)."),
    # What is no figure of ours, or not sure to be one, stays.
    ("4 in all, 2.5 in area 3", "4 in all, 2.5 in area 3"),
    ("rises 60 °F/h", "rises 60 °F/h"),
    ("3 and 5 psi", "3 and 5 psi"),
    ("over 1,000 to 1 for blown open over leaking", "over 1,000 to 1 for blown open over leaking"),
    ("coefficient 0.65 (0.57 to 0.73), 4,972 h", "coefficient 0.65 (0.57 to 0.73), 4,972 h"),
])
def test_a_sentence_in_si(us: str, si: str) -> None:
    assert spoken(us) == us
    with manner.using(units="si"):
        assert spoken(us) == si


@pytest.mark.parametrize(("said", "locale", "german"), [
    ("read on 2025-11-04, 2025-11-05", "de_DE", "read on 04.11.2025, 05.11.2025"),
    ("T-2025-11-04 and 2025-11-04-7", "de_DE", "T-2025-11-04 and 2025-11-04-7"),
    ("on 2025-13-40", "de_DE", "on 2025-13-40"),
    ("on 2025-11-04", "en_US", "on November 4, 2025"),
    ("on 2025-11-04 at 60.5 °F", "en", "on 2025-11-04 at 60.5 °F"),
])
def test_a_day_in_a_sentence_is_written_by_the_locale(said: str, locale: str, german: str) -> None:
    with manner.using(locale=locale):
        assert spoken(said) == german


@pytest.mark.parametrize(("text", "locale", "said"), [
    ("2025-11-04T08:02:00", "en", "2025-11-04 08:02"),
    ("2025-11-04T08:02:00+01:00", "de_DE", "04.11.2025 08:02"),
    ("2025-11-04", "de_DE", "04.11.2025"),
    ("after lunch", "de_DE", "after lunch"),
])
def test_when_it_was_read(text: str, locale: str, said: str) -> None:
    with manner.using(locale=locale):
        assert numerals.read_at(text) == said


def test_a_name_that_looks_like_a_figure_is_left_alone() -> None:
    with manner.using(units="si", locale="de_DE"):
        said = spoken("Main 60 psig: 1.5 bar; T-1.5, at 60 psig", ["Main 60 psig", "T-1.5"])
    assert said == "Main 60 psig: 1,5 bar; T-1.5, at 4,1 bar gauge"


@pytest.mark.parametrize(("units", "locale", "said", "day", "price"), [
    ("us", "en", ["23.5 psig", "12,300 lb/h", "303", "0.3"], "2026-02-03", "USD 7.58"),
    ("si", "en", ["1.62 bar gauge", "5,580 kg/h", "151", "0.02"], "2026-02-03", "USD 7.58"),
    ("si", "de_DE", ["1,62 bar gauge", "5.580 kg/h", "151", "0,02"], "03.02.2026", "7,58 €"),
])
def test_a_figure_of_a_paper(
    units: str, locale: str, said: list[str], day: str, price: str
) -> None:
    with manner.using(units=units, locale=locale):
        assert [
            measures.figured("supply_psig", 23.5),
            measures.figured(measures.FLOW, 12_300.0),
            measures.to_places(measures.TEMPERATURE, 303.0, 0),
            measures.to_places("pressure_psi", 0.3, 1),
        ] == said
        assert numerals.short_day(date(2026, 2, 3)) == day
        money = numerals.priced(7.58, "EUR" if locale == "de_DE" else "USD", 2)
        assert money.replace("\xa0", " ") == price


def test_a_tag_of_digits_is_no_figure_and_a_figure_no_tag() -> None:
    with manner.using(units="si"):
        said = spoken("5 and 1,204: within 0.5 psi, at 5 psig, 5 ft up, by 1.5", ["5", "1,204"])
    assert said == "5 and 1,204: within 0.034 bar, at 0.34 bar gauge, 1.5 m up, by 1.5"


@given(st.integers(-200, 1200))
def test_a_temperature_in_a_sentence_is_the_rounded_conversion(whole_f: int) -> None:
    with manner.using(units="si"):
        said = spoken(f"it reads {whole_f} °F now")
    assert said.startswith("it reads ")
    shown = int(re.search(r"(-?[\d,]+) °C", said)[1].replace(",", ""))
    assert abs(shown - (whole_f - 32) / 1.8) <= 0.5 + 1e-9


@pytest.mark.parametrize(("locale", "figure", "money"), [
    ("en", "1,234.50", "USD 12,400 (9,100 to 16,000)"),
    ("en_US", "1,234.50", "$12,400 (9,100 to 16,000)"),
    ("de_DE", "1.234,50", "12.400\xa0$ (9.100 to 16.000)"),
    # The Swiss mark is a right quote or an apostrophe, by the edition of CLDR.
    ("de-CH", f"1{SWISS}234.50", f"$\xa012{SWISS}400 (9{SWISS}100 to 16{SWISS}000)"),
])
def test_figures_and_money_of_a_locale(locale: str, figure: str, money: str) -> None:
    with manner.using(locale=locale):
        assert numerals.grouped(1234.5, 2) == figure
        assert words.money(12_400.4, "USD", 9100.0, 16_000.0) == money
        assert words.money(5.0, "tokens").startswith("tokens")


@pytest.mark.parametrize(("locale", "said"), [
    ("en", "25 November 2026"), ("en_US", "November 25, 2026"), ("en_GB", "25 November 2026"),
    ("de_DE", "25.11.2026"),
])
def test_days_of_a_locale(locale: str, said: str) -> None:
    with manner.using(locale=locale):
        assert numerals.day(date(2026, 11, 25)) == said


@given(st.floats(-1e12, 1e12), st.integers(0, 4))
def test_plain_english_is_what_its_locale_writes(value: float, places: int) -> None:
    plainly = numerals.grouped(value, places)
    with manner.using(locale="en_US"):
        assert numerals.grouped(value, places) == plainly


@pytest.mark.parametrize("asked", [{"units": "metric"}, {"locale": "xx_YY"}, {"locale": "-"},
                                   {"locale": "../etc"}])
def test_an_unknown_manner_is_refused_in_words(asked: dict[str, str]) -> None:
    with pytest.raises(UsageError, match=r"expected\. Found: .*(choose from|give a language)"), \
            manner.using(**asked):
        pass
    assert manner.current() == manner.Manner()


def test_a_manner_ends_with_its_block_whatever_happens() -> None:
    with pytest.raises(ZeroDivisionError), manner.using(units="si"):
        raise ZeroDivisionError
    assert not measures.in_si()
