"""Is the economy changing, and is a change more than noise?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, lgamma, log, log1p, sqrt

from diary.calculators.conversion import written
from diary.calculators.fuel_records import Span
from diary.errors import DiaryError

LEVEL = 0.05


@dataclass(slots=True)
class Trend:
    """`slope` of the economy per 1000 distance units (or hours), its standard uncertainty, and whether it is clear."""

    slope: float
    plus_minus: float
    unit: str
    count: int
    p: float
    clear: bool
    text: str


@dataclass(slots=True)
class Comparison:
    """`difference` = mean after − mean before, with its standard uncertainty and two-sided p."""

    difference: float
    plus_minus: float
    unit: str
    degrees: float
    p: float
    clear: bool
    text: str


def _two_sided(t: float, degrees: float) -> float:
    """Two-sided p of Student's t: I(ν / (ν + t²); ν/2, 1/2) (Abramowitz and Stegun 26.7.1; DLMF 8.17).

    Written out because a question must be answered cold in well under a second, and importing scipy for this one number takes
    a quarter of that. The tests hold it to scipy.
    """
    return _beta_share(degrees / 2, 0.5, degrees / (degrees + t * t))


def _beta_share(a: float, b: float, x: float) -> float:
    """The regularised incomplete beta function I(x; a, b), by its continued fraction (DLMF 8.17.22, modified Lentz)."""
    if not 0 < x < 1:
        return 0.0 if x <= 0 else 1.0
    if x > (a + 1) / (a + b + 2):
        return 1 - _beta_share(b, a, 1 - x)
    front = exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log1p(-x)) / a
    tiny = 1e-300
    c, d = 1.0, 1 / ((1 - (a + b) * x / (a + 1)) or tiny)
    whole = d
    for m in range(1, 1000):
        for step in (
            m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)),
        ):
            d = 1 / ((1 + step * d) or tiny)
            c = (1 + step / c) or tiny
            whole *= c * d
        if abs(c * d - 1) < 1e-13:
            break
    return front * whole


def trend(spans: Sequence[Span]) -> Trend:
    """Straight line through the economy against distance driven, by least squares; slope per 1000 mi, km or h.

    Its standard uncertainty comes from the scatter about the line (n − 2 degrees of freedom); "clear" means a two-sided
    p under 0.05 in Student's t test. Needs at least three spans.
    """
    if len(spans) < 3:
        raise DiaryError(f"A trend needs at least three tanks, there are {len(spans)}.")
    x, run = [], 0.0
    for s in spans:
        x.append(run + s.distance / 2)
        run += s.distance
    y = [s.value for s in spans]
    n = len(y)
    mx, my = sum(x) / n, sum(y) / n
    sxx = sum((a - mx) ** 2 for a in x)
    slope = sum((a - mx) * (b - my) for a, b in zip(x, y, strict=True)) / sxx
    residual = sum((b - my - slope * (a - mx)) ** 2 for a, b in zip(x, y, strict=True))
    sd = sqrt(residual / (n - 2) / sxx)
    p = _two_sided(slope / sd, n - 2) if sd > 0 else float(slope == 0)
    unit = f"{spans[0].unit} per 1000 {spans[0].distance_unit}"
    clear = p < LEVEL
    word = "a clear trend" if clear else "no trend that stands out from the scatter"
    text = f"{word}: {slope * 1000:+.2g} ± {sd * 1000:.2g} {unit} over {n} tanks (p {p:.2g})"
    return Trend(slope * 1000, sd * 1000, unit, n, p, clear, written(text))


def more_than_noise(before: Sequence[Span], after: Sequence[Span]) -> Comparison:
    """Compare two groups of tanks: Welch's t test where each has two or more, else by the measurement's own spread.

    Welch: difference ÷ √(s1²/n1 + s2²/n2), degrees of freedom by Welch and Satterthwaite; "clear" is a two-sided p
    under 0.05. With a single tank on one side its scatter is taken from the other side's; with one on each side only
    the measurement uncertainty is known, and "clear" means more than two of its standard deviations.
    """
    if not before or not after:
        raise DiaryError("Comparing needs at least one tank on each side.")
    a, b = [s.value for s in before], [s.value for s in after]
    ma, mb = sum(a) / len(a), sum(b) / len(b)
    difference, unit = mb - ma, before[0].unit
    if len(a) > 1 and len(b) > 1:
        qa, qb = _variance(a) / len(a), _variance(b) / len(b)
        sd = sqrt(qa + qb)
        degrees = (qa + qb) ** 2 / (qa**2 / (len(a) - 1) + qb**2 / (len(b) - 1)) if sd else len(a) + len(b) - 2.0
    elif len(a) > 1 or len(b) > 1:
        many = a if len(a) > 1 else b
        sd, degrees = sqrt(_variance(many) * (1 / len(a) + 1 / len(b))), len(many) - 1.0
    else:
        sd, degrees = sqrt(before[0].plus_minus ** 2 + after[0].plus_minus ** 2), float("inf")
    if degrees == float("inf"):
        from math import erfc

        p = erfc(abs(difference) / sd / sqrt(2)) if sd else float(difference == 0)
    else:
        p = _two_sided(difference / sd, degrees) if sd else float(difference == 0)
    clear = p < LEVEL
    word = "more than noise" if clear else "within the noise, so nothing can be said yet"
    text = f"{difference:+.2f} ± {sd:.2f} {unit}, {len(a)} tanks before and {len(b)} after: {word} (p {p:.2g})"
    return Comparison(difference, sd, unit, degrees, p, clear, written(text))


def _variance(values: Sequence[float]) -> float:
    mean = sum(values) / len(values)
    return sum((v - mean) ** 2 for v in values) / (len(values) - 1)
