"""The eight plants: what sets each apart. Reasons and sources are in the README beside."""

from __future__ import annotations

from dataclasses import dataclass, field

SERVICE_SHARES = {"unit_heater": 0.62, "drip": 0.24, "process": 0.10, "tracing": 0.04}


@dataclass(frozen=True)
class Station:
    """One pressure reducing station. Pairs are ranges a seed draws from."""

    name: str
    supply_psig: tuple[float, float]
    return_psig: tuple[float, float] = (0.5, 4.0)
    gauge_error_psi: float = 0.0
    thermometer: str = "contact"


@dataclass(frozen=True)
class PlantSettings:
    """What a plant is like before the dice are thrown. Shares are 0..1."""

    name: str
    traps: int
    stations: tuple[Station, ...]
    failed_share: tuple[float, float]
    altitude_ft: tuple[float, float] = (0.0, 900.0)
    services: dict[str, float] = field(default_factory=lambda: dict(SERVICE_SHARES))
    vent_shut_share: float = 0.12
    vent_missing_share: float = 0.03
    check_stuck_share: float = 0.03
    valved_off_share: float = 0.03
    lifted_share: float = 0.5
    lift_ft: tuple[float, float] = (4.0, 14.0)
    surfaces: tuple[float, float, float, float] = (0.35, 0.45, 0.10, 0.10)
    meter_offset_db: tuple[float, float] = (-4.0, 4.0)
    meter_gain: tuple[float, float] = (0.95, 1.05)
    background_share: float = 0.85
    missing_share: float = 0.0
    observed_share: float = 0.35


HEATED_60 = (Station("North", (50, 70)), Station("South", (40, 60)))

EIGHT: tuple[PlantSettings, ...] = (
    PlantSettings(
        "high_pressure_vents_shut", 320,
        (Station("North", (95, 125)), Station("South", (85, 115))),
        failed_share=(0.15, 0.25), vent_shut_share=0.75, lift_ft=(6, 22),
    ),
    PlantSettings(
        "after_step_down", 280,
        (Station("North", (6, 10), (0.5, 2.5)), Station("South", (8, 13), (0.5, 2.5))),
        failed_share=(0.10, 0.20), vent_shut_share=0.15, lifted_share=0.75, lift_ft=(8, 26),
    ),
    PlantSettings(
        "infrared_surfaces", 260,
        (
            Station("North", (35, 60), thermometer="infrared"),
            Station("South", (15, 40), thermometer="infrared"),
        ),
        failed_share=(0.12, 0.22), surfaces=(0.35, 0.35, 0.15, 0.15),
    ),
    PlantSettings(
        "meter_offset_no_background", 240, HEATED_60,
        failed_share=(0.15, 0.28), meter_offset_db=(8, 15), meter_gain=(0.82, 0.92),
        background_share=0.0,
    ),
    PlantSettings(
        "low_pressure_altitude", 220,
        (Station("North", (2, 5), (0.0, 0.3)), Station("South", (2.5, 5), (0.0, 0.3))),
        failed_share=(0.10, 0.20), altitude_ft=(5000, 7000), lifted_share=0.15, lift_ft=(1, 4),
        services={"unit_heater": 0.75, "drip": 0.22, "process": 0.03, "tracing": 0.0},
    ),
    PlantSettings(
        "gauge_low", 250,
        (Station("North", (60, 75), gauge_error_psi=-18.0), Station("South", (50, 65))),
        failed_share=(0.12, 0.22),
    ),
    PlantSettings(
        "readings_missing", 300, HEATED_60, failed_share=(0.15, 0.25), missing_share=0.20,
    ),
    PlantSettings(
        "campus", 1500,
        (
            Station("North", (80, 110)),
            Station("East", (45, 65)),
            Station("South", (25, 40), thermometer="infrared"),
            Station("West", (10, 15), (0.5, 3)),
            Station("Laundry", (90, 120)),
            Station("Packing", (5, 9), (0.2, 1.5)),
        ),
        failed_share=(0.03, 0.05), vent_shut_share=0.10, check_stuck_share=0.02,
    ),
)  # fmt: skip
