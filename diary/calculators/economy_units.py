"""Units of fuel economy, and the spread of a quotient."""

from __future__ import annotations

from math import sqrt

from diary.errors import DiaryError

LITRES = {"gal_us": 3.785411784, "gal_imp": 4.54609, "L": 1.0, "qt_us": 0.946352946, "mL": 0.001, "cc": 0.001}
"""Exact litres per unit: US gallon 231 in³, imperial gallon 4.54609 L (NIST SP 811, appendix B)."""
KM_PER_MI = 1.609344


def economy_unit(distance_unit: str, volume_unit: str) -> str:
    """The unit in which people with these meters and pumps speak of economy.

    mi with US gallons: mpg_us; mi with imperial gallons, or with litres (Britain sells litres and speaks of gallons):
    mpg_imp; km: L_per_100km; hours: fuel per hour in the pump's own unit.
    """
    table = {
        ("mi", "gal_us"): "mpg_us",
        ("mi", "gal_imp"): "mpg_imp",
        ("mi", "L"): "mpg_imp",
        ("km", "L"): "L_per_100km",
        ("km", "gal_us"): "L_per_100km",
        ("km", "gal_imp"): "L_per_100km",
        ("h", "gal_us"): "gal_us_per_h",
        ("h", "gal_imp"): "gal_imp_per_h",
        ("h", "L"): "L_per_h",
    }
    try:
        return table[distance_unit, volume_unit]
    except KeyError:
        raise DiaryError(
            f"Economy of {distance_unit} with {volume_unit} is not known: "
            "distance is one of mi, km, h; fuel one of gal_us, gal_imp, L."
        ) from None


def economy_value(distance: float, fuel: float, distance_unit: str, fuel_unit: str, unit: str) -> float:
    """Economy in `unit` from `distance` (mi, km or h) and `fuel` (gal_us, gal_imp, L); both must be positive.

    mpg = miles ÷ gallons, km/L = km ÷ litres, L/100 km = 100 × litres ÷ km, per hour = fuel ÷ hours. 235.214583 ÷
    mpg(US) = 282.480936 ÷ mpg(imp) = 100 ÷ (km/L) = L/100 km (NIST SP 811, B.5 rounds the first to 235.215).
    """
    if not distance > 0 or not fuel > 0:
        raise DiaryError(f"Economy needs a distance and a fuel volume above zero, not {distance:g} and {fuel:g}.")
    factor, inverse = scale(distance_unit, fuel_unit, unit)
    return factor * fuel / distance if inverse else factor * distance / fuel


def scale(distance_unit: str, fuel_unit: str, unit: str) -> tuple[float, bool]:
    """(factor, fuel over distance?) such that economy in `unit` = factor × distance ÷ fuel, or factor × fuel ÷
    distance.
    """
    litres = LITRES.get(fuel_unit)
    if litres is None:
        raise DiaryError(f"Fuel in {fuel_unit} is not known: use gal_us, gal_imp or L.")
    if unit.endswith("_per_h"):
        out = LITRES.get(unit.removesuffix("_per_h"))
        if out is None or distance_unit != "h":
            raise DiaryError(f"{unit} cannot be worked out from {distance_unit}: it needs hours.")
        return litres / out, True
    if distance_unit not in ("mi", "km"):
        raise DiaryError(f"{unit} cannot be worked out from {distance_unit}: it needs miles or kilometres.")
    km = KM_PER_MI if distance_unit == "mi" else 1.0
    if unit == "L_per_100km":
        return 100.0 * litres / km, True
    if unit == "km_per_L":
        return km / litres, False
    if unit in ("mpg_us", "mpg_imp"):
        return (km / KM_PER_MI) / (litres / LITRES["gal_us" if unit == "mpg_us" else "gal_imp"]), False
    raise DiaryError(
        f"{unit} is no unit of economy here: use mpg_us, mpg_imp, L_per_100km, km_per_L, or fuel per hour."
    )


def quotient_spread(value: float, distance: float, distance_sd: float, fuel: float, fuel_sd: float) -> float:
    """Standard uncertainty of a quotient (or its inverse): |E|·√((u(D)/D)² + (u(V)/V)²), D and V independent (GUM
    5.1.2, eq. 10).
    """
    return abs(value) * sqrt((distance_sd / distance) ** 2 + (fuel_sd / fuel) ** 2)


def convert_economy(value: float, from_unit: str, to_unit: str) -> float:
    """Economy from one unit into another (mpg_us, mpg_imp, km_per_L, L_per_100km; or fuel per hour among themselves).

    L/100 km = 235.214583 ÷ mpg(US) = 282.480936 ÷ mpg(imp) = 100 ÷ (km/L). Raises DiaryError on zero, a negative
    value, or when one is per distance and the other per hour.
    """
    if not value > 0:
        raise DiaryError(f"Economy must be above zero to convert it, not {value:g} {from_unit}.")
    if from_unit.endswith("_per_h") and to_unit.endswith("_per_h"):
        return economy_value(1.0, value, "h", from_unit.removesuffix("_per_h"), to_unit)
    if from_unit.endswith("_per_h") or to_unit.endswith("_per_h"):
        raise DiaryError(f"{from_unit} cannot become {to_unit}: one counts hours, the other distance.")
    factor, inverse = scale("km", "L", from_unit)
    litres_per_km = value / factor if inverse else factor / value
    return economy_value(1.0, litres_per_km, "km", "L", to_unit)
