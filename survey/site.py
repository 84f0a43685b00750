"""Site settings from TOML; every default with its unit and where it comes from."""

from __future__ import annotations

import difflib
import tomllib
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, ValidationError

from survey.columns import STANDARD_ATMOSPHERE_PSIA
from survey.errors import SiteError

FT_PER_M = 1 / 0.3048
KG_CO2_PER_MMBTU = {
    "natural_gas": 53.06,
    "oil_no2": 73.96,
    "oil_no6": 75.10,
    "propane": 62.87,
    "coal": 93.28,
}
"""CO2 of each fuel, kg/MMBtu: 40 CFR 98 Table C-1 (coal as bituminous)."""

FuelKind = Literal["natural_gas", "oil_no2", "oil_no6", "propane", "coal"]
Psig = Annotated[float, Field(gt=-STANDARD_ATMOSPHERE_PSIA, le=3000, allow_inf_nan=False)]
Word = Annotated[str, StringConstraints(max_length=200)]


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


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
            text = path.read_bytes().decode("utf-8-sig")
            raw = tomllib.loads(text)
        except OSError as error:
            raise SiteError(
                "A site file was expected",
                found=error.strerror or "nothing readable",
                where=str(path),
                do="check the name after --site",
            ) from None
        except (UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as error:
            raise SiteError(
                "A site file in TOML (UTF-8) was expected",
                found=str(error)[:200],
                where=str(path),
                do='write each setting as: key = value, text in "quotes"',
            ) from None
        return cls.from_mapping(raw, where=str(path))

    @classmethod
    def from_mapping(cls, raw: dict[str, Any], *, where: str = "site settings") -> Site:
        """Make a site from a mapping in the shape of the TOML file; raises SiteError."""
        raw = dict(raw)
        if "altitude_m" in raw:
            if "altitude_ft" in raw:
                raise SiteError(
                    "One altitude was expected",
                    found="altitude_ft and altitude_m",
                    where=where,
                    do="keep one of the two",
                )
            metres = raw.pop("altitude_m")
            if not isinstance(metres, int | float) or isinstance(metres, bool):
                raise SiteError(
                    "A number was expected for altitude_m",
                    found=repr(metres)[:80],
                    where=where,
                    do="write altitude_m = 180",
                )
            raw["altitude_ft"] = metres * FT_PER_M
        try:
            return cls.model_validate(raw)
        except ValidationError as error:
            raise _as_site_error(error, where) from None

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
        if self.steam_cost_per_klb is None:
            words += self._fuel_assumptions()
        elif "kind" not in self.fuel.model_fields_set:
            words.append("Fuel taken as natural gas for the carbon dioxide.")
        if "currency" not in given:
            words.append("Money in USD.")
        return words

    def _fuel_assumptions(self) -> list[str]:
        words = []
        if "kind" not in self.fuel.model_fields_set:
            words.append("Fuel taken as natural gas.")
        if "price_per_mmbtu" not in self.fuel.model_fields_set:
            words.append(f"Fuel price taken as {self.currency} 8.00 per MMBtu.")
        if "boiler_efficiency" not in self.model_fields_set:
            words.append("Boiler efficiency taken as 80 %.")
        if "feedwater_f" not in self.model_fields_set:
            words.append("Feedwater taken as 180 °F.")
        return words


def _known_keys(location: tuple[int | str, ...]) -> list[str]:
    if location[:1] == ("fuel",) and len(location) > 1:
        return list(Fuel.model_fields)
    if location[:1] == ("stations",) and len(location) > 2:
        return list(Station.model_fields)
    return [*Site.model_fields, "altitude_m"]


def _as_site_error(error: ValidationError, where: str) -> SiteError:
    first = error.errors(include_url=False)[0]
    location = first["loc"]
    key = ".".join(str(part) for part in location)[:120]
    if first["type"] == "extra_forbidden":
        known = _known_keys(location)
        near = difflib.get_close_matches(str(location[-1])[:80], known, n=1, cutoff=0.0)
        return SiteError(
            "Only known settings were expected",
            found=f"the key {key!r}",
            where=where,
            do=f"the nearest known key is {near[0]!r}; correct it or take the line out",
        )
    return SiteError(
        f"A usable value was expected for {key}",
        found=f"{first['input']!r:.80} ({first['msg']})",
        where=where,
        do="correct the value, or take the line out to use the default",
    )
