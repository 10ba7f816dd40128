"""The machine a diary is about: its units, tank, meter and names."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field, fields
from typing import Any

from diary.errors import DiaryError
from diary.language.types import Locale

CHOICES = {
    "distance": ("mi", "km", "h"),
    "volume": ("gal_us", "gal_imp", "L"),
    "torque": ("ft_lb", "in_lb", "N_m"),
    "pressure": ("psi", "bar", "kPa"),
    "fuel": ("gasoline", "diesel", "two_stroke_mix", "other"),
}


@dataclass(kw_only=True, slots=True)
class Machine:
    """`distance`, `volume`, `torque`, `pressure` are the units meant when none is said.

    `tank` is in `volume` units; `tanks` names them where there are several that must all be full. `meter_factor` is true over
    indicated distance (see calculators.tyres); `factors` lists its changes as {"since": ISO time, "factor": f}. `rollover` is where
    the odometer wraps, if it does. `meter_changes` are the times another odometer was fitted. `others` are names of machines that
    are not this one.
    """

    name: str = "machine"
    distance: str = "mi"
    volume: str = "gal_us"
    torque: str = "ft_lb"
    pressure: str = "psi"
    currency: str = "USD"
    fuel: str = "gasoline"
    tank: float | None = None
    meter_factor: float = 1.0
    tyres: str | None = None
    tyres_calibrated: str | None = None
    rollover: float | None = None
    tanks: list[str] = field(default_factory=list)
    factors: list[dict[str, Any]] = field(default_factory=list)
    meter_changes: list[str] = field(default_factory=list)
    nicknames: list[str] = field(default_factory=list)
    others: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        for name, allowed in CHOICES.items():
            value = getattr(self, name)
            if value not in allowed:
                raise DiaryError(f"The machine's {name} unit {value!r} is not known; use one of {', '.join(allowed)}.")
        if self.tank is not None and not 0 < self.tank < 10_000:
            raise DiaryError(f"A tank of {self.tank:g} {self.volume} cannot be right; give a size above 0 and below 10000.")
        if not 0.5 <= self.meter_factor <= 2:
            raise DiaryError(f"A meter factor of {self.meter_factor:g} cannot be right; give a number from 0.5 to 2.")

    @property
    def locale(self) -> Locale:
        """The units as the language room wants them."""
        return Locale(self.distance, self.volume, self.torque, self.pressure, self.currency)


def machine_from(row: dict[str, Any]) -> Machine:
    """A machine from a stored or exported dictionary; unknown keys are left out."""
    names = {f.name for f in fields(Machine)}
    return Machine(**{k: v for k, v in row.items() if k in names})


def as_row(machine: Machine) -> dict[str, Any]:
    """The machine as a plain dictionary."""
    return asdict(machine)
