"""Torque, preload, friction and adapters (project check values, section 3).

Sources: SAE J429 as tabled in Shigley and Mischke, 5th ed., p. 341; ISO 898-1 from memory, checked by printed proof
loads; T = K·d·F from a fastener supplier's engineering data; adapter formula from two reference pages. Factors by
pint.
"""

import pint
import pytest

from diary.calculators import torque
from diary.calculators.torque import N_PER_LBF, NM_PER_FT_LB, estimate, thread
from diary.errors import DiaryError
from tests.outside.figures import agrees, value

UNITS = pint.UnitRegistry()


def test_units_as_pint_has_them() -> None:
    assert pytest.approx(UNITS("foot * force_pound").to("newton * meter").magnitude, rel=1e-12) == NM_PER_FT_LB
    assert pytest.approx(UNITS("force_pound").to("newton").magnitude, rel=1e-12) == N_PER_LBF


METRIC = [
    ("M8x1.25", "36.61", "36.6", [("15.92", "25.5", "19.1"), ("22.78", "36.5", "27.3"), ("26.63", "42.6", "32.0")]),
    ("M10x1.5", "57.99", "58", [("25.23", "50.5", "37.8"), ("36.10", "72.2", "54.2"), ("42.20", "84.4", "63.3")]),
    ("M12x1.75", "84.27", "84.3", [("36.67", "88.0", "66.0"), ("52.48", "125.9", "94.5"), ("61.33", "147.2", "110.4")]),
    ("M14x2", "115.44", "115", [("50.02", "140.1", "105.1"), ("71.59", "200.4", "150.3"), ("83.66", "234.3", "175.7")]),
]
PROOF_LOADS = {
    "M8x1.25": (21200, 30400, 35500),
    "M10x1.5": (33700, 48100, 56300),
    "M12x1.75": (48900, 70000, 81800),
    "M14x2": (66700, 95500, 112000),
}


@pytest.mark.parametrize(("size", "area", "printed", "rows"), METRIC)
def test_metric_coarse(size: str, area: str, printed: str, rows: list[tuple[str, str, str]]) -> None:
    t = thread(size)
    assert agrees(t.stress_area, area) and agrees(t.printed_area, printed)
    for grade, (kn, dry, oiled), proof in zip(("8.8", "10.9", "12.9"), rows, PROOF_LOADS[size], strict=True):
        got = estimate(t, grade)
        # the table allows ±0.5 %, some of its rows take the area by formula
        assert got.preload / 1000 == pytest.approx(value(kn), rel=0.005)
        assert got.torque == pytest.approx(value(dry), rel=0.005)
        assert estimate(t, grade, "oiled").torque == pytest.approx(value(oiled), rel=0.005)
        assert torque.proof_strength(grade, t) * t.printed_area == pytest.approx(proof, rel=0.006), (
            "ISO 898-1 proof load"
        )


def test_coarse_pitch_need_not_be_said() -> None:
    assert thread("M10") == thread("m10 x 1.5")
    assert thread("3/8") == thread("3/8-16") and thread("7/16 fine") == thread("7/16-20")


@pytest.mark.parametrize(
    ("size", "torques"),
    [
        ("M8", ("18.8", "26.9", "31.4")),
        ("M10", ("37.2", "53.3", "62.2")),
        ("M12", ("64.9", "92.9", "108.6")),
        ("M14", ("103.3", "147.8", "172.8")),
    ],
)
def test_metric_coarse_in_foot_pounds(size: str, torques: tuple[str, ...]) -> None:
    for grade, printed in zip(("8.8", "10.9", "12.9"), torques, strict=True):
        assert estimate(thread(size), grade).ft_lb == pytest.approx(value(printed), rel=0.005)


@pytest.mark.parametrize(
    ("size", "area"),
    [("M8x1", "39.2"), ("M10x1.25", "61.2"), ("M12x1.25", "92.1"), ("M12x1.5", "88.1"), ("M14x1.5", "124.5")],
)
def test_metric_fine_areas(size: str, area: str) -> None:
    assert agrees(thread(size).stress_area, area)


INCH = [
    ("3/8-16", "0.0775", ("4,941", "30.9", "23.2"), ("6,975", "43.6", "32.7")),
    ("3/8-24", "0.0878", ("5,597", "35.0", "26.2"), ("7,902", "49.4", "37.0")),
    ("7/16-14", "0.1063", ("6,777", "49.4", "37.1"), ("9,567", "69.8", "52.3")),
    ("7/16-20", "0.1187", ("7,567", "55.2", "41.4"), ("10,683", "77.9", "58.4")),
    ("1/2-13", "0.1419", ("9,046", "75.4", "56.5"), ("12,771", "106.4", "79.8")),
    ("1/2-20", "0.1599", ("10,194", "84.9", "63.7"), ("14,391", "119.9", "89.9")),
]


@pytest.mark.parametrize(("size", "area", "five", "eight"), INCH)
def test_inch(size: str, area: str, five: tuple[str, str, str], eight: tuple[str, str, str]) -> None:
    t = thread(size)
    assert t.stress_area / 25.4**2 == pytest.approx(float(area), abs=0.0001)
    assert agrees(t.printed_area / 25.4**2, area)
    for grade, (lbf, dry, oiled) in (("5", five), ("8", eight)):
        got = estimate(t, grade)
        assert got.preload / N_PER_LBF == pytest.approx(value(lbf), abs=0.51)
        assert got.ft_lb == pytest.approx(value(dry), abs=0.051)
        assert estimate(t, grade, "oiled").ft_lb == pytest.approx(value(oiled), abs=0.051)


def test_second_sources() -> None:
    """A nut-factor article: grade 5 3/8-16, 4,940 lbf, 30 and 23 lbf·ft. A lock-nut maker: 7/8-9 at 400 lbf·ft."""
    got = estimate(thread("3/8-16"), "5")
    assert got.preload / N_PER_LBF == pytest.approx(4940, rel=0.001)
    assert got.ft_lb == pytest.approx(30, abs=1) and estimate(thread("3/8-16"), "5", "oiled").ft_lb == pytest.approx(
        23, abs=0.5
    )
    for k, lbf in ((0.20, "27,429"), (0.15, "36,571")):
        assert agrees(torque.preload_from_torque(400 * NM_PER_FT_LB, 0.875 * 25.4, k) / N_PER_LBF, lbf)


def test_friction() -> None:
    assert torque.torque_for_friction(100, 0.20, 0.15) == pytest.approx(75.0)
    assert torque.torque_for_friction(100, 0.20, 0.17) == pytest.approx(85.0)
    dry, oiled = (torque.preload_from_torque(100, 10, k) for k in (0.20, 0.15))
    assert agrees(oiled / dry, "1.3333"), "the same torque on a slicker thread"
    assert torque.nut_factor("dry") == 0.20 and torque.nut_factor("oiled") == 0.15


@pytest.mark.parametrize(
    ("wanted", "l1", "l2", "angle", "setting"),
    [
        (100, 18, 2, 0, "90.00"),
        (100, 18, 2, 45, "92.72"),
        (100, 18, 2, 90, "100.00"),
        (100, 18, 2, 180, "112.50"),
        (80, 400, 50, 0, "71.11"),
        (25, 250, 40, 0, "21.55"),
    ],
)
def test_adapter(wanted: float, l1: float, l2: float, angle: float, setting: str) -> None:
    assert agrees(torque.adapter_setting(wanted, l1, l2, angle), setting)


def test_wheels_come_up_again() -> None:
    """50 to 100 miles after a wheel has been off (common practice, no standard found)."""
    assert torque.recheck_window(61200) == (61250, 61300)


@pytest.mark.parametrize(
    "name", ["lug nuts", "wheel nut", "cylinder head bolts", "caliper bracket bolts", "tie rod end nut"]
)
def test_never_from_a_formula(name: str) -> None:
    with pytest.raises(DiaryError, match="manual"):
        estimate(thread("M12"), "10.9", fastener=name)
