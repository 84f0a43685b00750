"""Site settings from TOML; every default with its unit and where it comes from."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    StringConstraints,
    ValidationError,
    model_validator,
)

from survey.columns import FT_PER_M, STANDARD_ATMOSPHERE_PSIA, standard_atmosphere_psia
from survey.errors import SiteError
from survey.paths import plain_bytes

KG_CO2_PER_MMBTU = {
    "natural_gas": 53.06,
    "oil_no2": 73.96,
    "oil_no6": 75.10,
    "propane": 62.87,
    "coal": 93.28,
}
"""CO2 of each fuel, kg/MMBtu: 40 CFR 98 Table C-1 (coal as bituminous)."""

OTHER_UNITS: dict[str, tuple[str, Callable[[float], float]]] = {
    "altitude_m": ("altitude_ft", lambda metres: metres * FT_PER_M),
    "ambient_c": ("ambient_f", lambda celsius: celsius * 1.8 + 32.0),
    "feedwater_c": ("feedwater_f", lambda celsius: celsius * 1.8 + 32.0),
}
"""Settings that may be given in other units: to the setting and its conversion."""

FuelKind = Literal["natural_gas", "oil_no2", "oil_no6", "propane", "coal"]
Psig = Annotated[float, Field(gt=-STANDARD_ATMOSPHERE_PSIA, le=3000, allow_inf_nan=False)]
Word = Annotated[str, StringConstraints(max_length=200)]


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, strict=True)


class Fuel(_Strict):
    """What the boiler burns. Price is per MMBtu of fuel, higher heating value."""

    kind: FuelKind = "natural_gas"
    price_per_mmbtu: float = Field(default=8.0, ge=0, le=10_000)


class Station(_Strict):
    """A pressure reducing station: pressures for rows that have none of their own."""

    supply_psig: Psig | None = None
    return_psig: Psig | None = None


class Site(_Strict):
    """One site. Every field has a default, and `assumptions` says which were used."""

    name: Word = ""
    altitude_ft: float = Field(default=0.0, ge=-1500, le=20_000)
    currency: Annotated[str, StringConstraints(min_length=1, max_length=12)] = "USD"
    hours_per_year: float = Field(default=4972.0, ge=0, le=8784)
    boiler_efficiency: float = Field(default=0.80, gt=0.1, le=1.0)
    feedwater_f: float = Field(default=180.0, ge=32, le=450)
    ambient_f: float = Field(default=70.0, ge=-60, le=160)
    loss_basis: Literal["whole_pound", "latent_heat"] = "whole_pound"
    steam_cost_per_klb: float | None = Field(default=None, ge=0, le=100_000)
    fuel: Fuel = Fuel()
    stations: dict[Word, Station] = {}

    @model_validator(mode="after")
    def _pressures_can_be(self) -> Site:
        """Refuse what no gauge shows: under a perfect vacuum, or a return over its supply."""
        air_psia = float(standard_atmosphere_psia(self.altitude_ft))
        for name, station in self.stations.items():
            for key, psig in station:
                if psig is not None and psig <= -air_psia:
                    raise SiteError(
                        f"A pressure over a perfect vacuum was expected for "
                        f"{_key('stations', name, key)}",
                        found=f"{psig:g} psig, where the air at {self.altitude_ft:,.0f} ft is "
                        f"{air_psia:.1f} psi",
                        do="correct the pressure or the altitude",
                    )
            supply, back = station.supply_psig, station.return_psig
            if supply is not None and back is not None and back > supply:
                raise SiteError(
                    f"A return pressure no higher than the supply was expected for "
                    f"{_key('stations', name)}",
                    found=f"return_psig {back:g} over supply_psig {supply:g}",
                    do="correct the two, or take the one that is not known out",
                )
        return self

    @classmethod
    def from_toml(cls, path: str | Path) -> Site:
        """Read a site file.

        Raises
        ------
        SiteError
            The file cannot be read, is not TOML, or holds a key or value that cannot be used;
            an unknown key is named with the nearest known one.
        """
        path = Path(path)
        try:
            if path.stat().st_size > 1_000_000:
                raise SiteError(
                    "A site file under 1 MB was expected",
                    found=f"{path.stat().st_size:,} bytes",
                    where=str(path),
                    do="give the site's own settings file, not a round",
                )
            content = plain_bytes(path)
            text = content.decode("utf-8-sig", "replace")
            raw = tomllib.loads(content.decode("utf-8-sig"))
        except OSError as error:
            raise SiteError(
                "A site file was expected",
                found=error.strerror or "nothing readable",
                where=str(path),
                do="check the name after --site",
            ) from None
        except (ValueError, RecursionError) as error:  # undecodable, not TOML, a number too long
            raise SiteError(
                "A site file in TOML (UTF-8) was expected",
                found=_overlong_number(text) or _shown(str(error))[1:-1],
                where=str(path),
                do='write each setting as: key = value, text in "quotes"',
            ) from None
        return cls.from_mapping(raw, where=str(path))

    @classmethod
    def from_mapping(cls, raw: dict[str, Any], *, where: str = "site settings") -> Site:
        """Make a site from a mapping in the shape of the TOML file; raises SiteError."""
        try:
            return cls.model_validate(_in_own_units(raw))
        except ValidationError as error:
            fault = _as_site_error(error, raw)
        except SiteError as error:
            fault = error
        raise SiteError(fault.expected, found=fault.found, where=where, do=fault.do)

    @property
    def assumptions(self) -> list[str]:
        """Each default that stands in for something the site did not say, in words."""
        given = self.model_fields_set
        words = []
        if "altitude_ft" not in given:
            words.append("Altitude taken as sea level.")
        if "hours_per_year" not in given:
            words.append(
                "Hours under steam taken as 4,972 a year where a row has none "
                "(226 days of 22 h: a published heating season)."
            )
        if "ambient_f" not in given:
            words.append("Air round a device taken as 70 °F where a row has none.")
        words += self._fuel_assumptions()
        if "loss_basis" not in given:
            words.append(
                "Loss counted by the whole pound, as if its water were gone: "
                "heat from feedwater to steam."
            )
        if "currency" not in given:
            words.append("Money in USD.")
        return words

    def _fuel_assumptions(self) -> list[str]:
        # Beside a given cost of steam the fuel is still what its carbon dioxide comes from.
        priced = self.steam_cost_per_klb is None
        purpose = "" if priced else " for the carbon dioxide"
        words = []
        if "kind" not in self.fuel.model_fields_set:
            words.append(
                f"Fuel taken as natural gas{purpose} ({KG_CO2_PER_MMBTU['natural_gas']} kg of CO2 "
                "per MMBtu)."
            )
        if priced and "price_per_mmbtu" not in self.fuel.model_fields_set:
            words.append(f"Fuel price taken as {self.currency} 8.00 per MMBtu.")
        if "boiler_efficiency" not in self.model_fields_set:
            words.append(f"Boiler efficiency taken as 80 %{purpose}.")
        if self.loss_basis == "whole_pound" and "feedwater_f" not in self.model_fields_set:
            words.append(f"Feedwater taken as 180 °F{purpose}.")
        return words


_OVERLONG = re.compile(r"^[ \t]*([^\n=#]{1,200}?)[ \t]*=[^=]*?(?<!\d)(\d[\d_]{400,})", re.MULTILINE)


def _in_own_units(raw: dict[str, Any]) -> dict[str, Any]:
    raw = dict(raw)
    for key, (own, convert) in OTHER_UNITS.items():
        if key not in raw:
            continue
        if own in raw:
            raise SiteError(
                f"One of {own} and {key} was expected", found="both", do="keep one of the two"
            )
        value = raw.pop(key)
        if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) < 1e9:
            raise SiteError(
                f"A number was expected for {key}",
                found=_shown(value),
                do=f"write it as: {key} = 20",
            )
        raw[own] = convert(value)
    return raw


def _known_keys(location: tuple[int | str, ...]) -> list[str]:
    if location[:1] == ("fuel",) and len(location) > 1:
        return list(Fuel.model_fields)
    if location[:1] == ("stations",) and len(location) > 2:
        return list(Station.model_fields)
    return [*Site.model_fields, *OTHER_UNITS]


def _as_site_error(error: ValidationError, raw: dict[str, Any]) -> SiteError:
    first = error.errors(include_url=False)[0]
    location = first["loc"]
    if first["type"] == "extra_forbidden":
        known = _known_keys(location)
        near = difflib.get_close_matches(str(location[-1])[:80], known, n=1, cutoff=0.0)
        return SiteError(
            "Only known settings were expected",
            found=f"the key '{_key(*location)}'",
            do=f"the nearest known key is {near[0]!r}; correct it or take the line out",
        )
    written = {own: key for key, (own, _) in OTHER_UNITS.items() if key in raw}
    given = written.get(str(location[0]) if location else "", "")
    key = f"{given}, in the unit of {_key(*location)}" if given else _key(*location)
    return SiteError(
        f"A usable value was expected for {key}",
        found=f"{_shown(first['input'])} ({first['msg']})",
        do="correct the value, or take the line out to use the default",
    )


def _key(*location: int | str) -> str:
    """Return a key as it may be shown: of sane length, what cannot be printed escaped."""
    return repr(".".join(str(part) for part in location)[:120])[1:-1]


def _shown(value: object) -> str:
    if isinstance(value, int) and value.bit_length() > 256:  # too long to be written in tens
        return f"a whole number of some {value.bit_length() * 0.30103:,.0f} digits"
    try:
        return repr(value)[:200]
    except ValueError:  # one such number inside a list or table
        return f"a {type(value).__name__} with a number far too long in it"


def _overlong_number(text: str) -> str:
    """Return what to say of a number so long that reading stopped at it, else ''."""
    long = _OVERLONG.search(text)
    if long is None:
        return ""
    return f"a number of {len(long[2]):,} digits, {long[2][:12]}..., for the key '{_key(long[1])}'"
