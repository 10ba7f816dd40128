"""Economy from the fills, readings and resets of seven invented diaries (short excerpts of our labelled
narrations).

The expected figures are what a careful clerk wrote down for each diary; every one must come out, and no other.
"""

from datetime import datetime

import pytest

from diary.calculators.economy import Fill, Reading, Reset, Span, spans

# Each row of fills: note, at, volume, to brim, odometer, trip. Resets: notes in which the trip meter was set to zero.
DIARIES = {
    "old wagon": {
        "units": ("mi", "gal_us"),
        "fills": [
            (1, "2026-05-03T18:41", 14.2, True, 87409, None),
            (5, "2026-05-05T17:15", 5.1, False, 87560, None),
            (9, "2026-05-09T10:15", 11.3, True, 87652, 243),
            (14, "2026-05-13T17:50", 15.9, True, 87890, 481),
            (19, "2026-05-18T21:30", None, True, None, None),
            (23, "2026-05-22T17:05", 13.7, True, 88310, None),
            (26, "2026-05-25T08:30", 14.6, True, 88531, 221),
        ],
        "resets": [1, 14, 23, 26],
        "economy": [(1, 9, 14.82), (9, 14, 14.97), (23, 26, 15.14)],
    },
    "delivery van": {
        "units": ("km", "L"),
        "fills": [
            (1, "2026-03-02T14:40", 58.2, True, 312480, None),
            (5, "2026-03-05T07:02", 18.4, False, 312731, None),
            (9, "2026-03-08T17:30", 40.1, True, 313102, None),
            (13, "2026-03-12T14:20", 57.1, True, 313700, 1220),
            (17, "2026-03-16T06:45", None, False, None, None),
            (20, "2026-03-19T14:10", 49.0, True, 314390, 690),
            (26, "2026-03-26T14:30", 48.3, True, 314912, 522),
        ],
        "resets": [1, 13, 20],
        "economy": [(1, 9, 9.41), (9, 13, 9.55), (20, 26, 9.25)],
    },
    "trail bike": {
        "units": ("mi", "gal_us"),
        "fills": [
            (2, "2026-06-06T08:10", 1.6, True, 1204, None),
            (6, "2026-06-07T11:05", 0.5, False, None, None),
            (7, "2026-06-07T16:50", 1.1, True, 1284, 80),
            (15, "2026-06-13T16:30", 1.4, True, 1351, 67),
            (16, "2026-06-14T13:40", None, False, None, None),
            (21, "2026-06-20T07:40", 1.2, True, 1440, None),
            (23, "2026-06-21T18:30", 1.3, True, 1502.5, 62.5),
        ],
        "resets": [2, 7, 15, 21],
        "economy": [(2, 7, 50.0), (7, 15, 47.86), (21, 23, 48.08)],
    },
    "two tanks": {
        "units": ("mi", "gal_us"),
        "fills": [
            (1, "2026-10-03T07:15", 31.7, True, 142310, None),
            (3, "2026-10-04T13:05", 12, False, 142655, None),
            (8, "2026-10-06T11:30", 38.1, True, 142958, 648),
            (11, "2026-10-08T12:20", 21.4, False, 143240, None),
            (14, "2026-10-10T09:30", 20.8, True, 143511, None),
            (17, "2026-10-11T16:45", 5, False, None, None),
            (19, "2026-10-12T14:10", None, False, None, None),
            (21, "2026-10-14T10:15", 28.3, True, 144020, None),
            (24, "2026-10-16T11:05", 27.4, True, 144385, 365),
        ],
        "resets": [1, 8, 21],
        "economy": [(1, 8, 12.93), (8, 14, 13.10), (21, 24, 13.32)],
    },
    "tractor, by hours": {
        "units": ("h", "gal_us"),
        "fills": [
            (1, "2026-06-02T08:15", 4.5, True, None, None),
            (7, "2026-06-07T18:00", 2.5, False, None, None),
            (10, "2026-06-10T18:25", 3.8, True, None, None),
            (16, "2026-06-16T12:10", None, True, None, None),
            (21, "2026-06-22T18:05", 6.2, True, None, None),
            (26, "2026-06-26T17:30", 3.1, True, None, None),
        ],
        "hours": {0: 1486.3, 1: 1488, 7: 1492.6, 10: 1497.2, 16: 1503.9, 21: 1512.4, 26: 1516.6},
        "resets": [],
        "economy": [(1, 10, 0.685), (16, 21, 0.729), (21, 26, 0.738)],
    },
    "road bike, litres and miles": {
        "units": ("mi", "L"),
        "fills": [
            (1, "2026-05-05T18:15", 11.2, True, 23418, None),
            (6, "2026-05-09T18:05", 9.45, True, 23534, 116.4),
            (11, "2026-05-14T17:45", 5, False, None, None),
            (13, "2026-05-16T09:50", 6.3, True, 23672, 138.2),
            (18, "2026-05-20T17:35", None, True, 23790, None),
            (23, "2026-05-24T13:00", 10.1, True, 23911, None),
            (27, "2026-05-28T18:15", 8.8, True, None, 104.6),
        ],
        "resets": [1, 6, 13, 23, 27],
        "economy": [(1, 6, 56.0), (6, 13, 55.52), (18, 23, 54.46), (23, 27, 54.04)],
    },
    "truck with portal hubs": {
        "units": ("mi", "gal_us"),
        "fills": [
            (1, "2026-09-08T18:05", 21.3, True, 211406, None),
            (4, "2026-09-12T09:10", 10, False, None, None),
            (6, "2026-09-15T17:50", 13.6, True, 211774, 368.3),
            (10, "2026-09-19T17:30", None, True, 212041, None),
            (14, "2026-09-23T18:45", 17.25, True, 212313, None),
            (18, "2026-09-27T17:15", 19.4, True, 212604, 291.2),
            (22, "2026-10-01T18:10", 16.8, True, 212863, 258.7),
        ],
        "resets": [1, 6, 14, 18, 22],
        "economy": [(1, 6, 15.59), (10, 14, 15.77), (14, 18, 15.0), (18, 22, 15.42)],
    },
}


def worked_out(name: str) -> list[Span]:
    diary = DIARIES[name]
    distance, volume = diary["units"]
    when = {n: datetime.fromisoformat(at) for n, at, *_ in diary["fills"]}
    fills = [
        Fill(datetime.fromisoformat(at), str(n), v, volume, brim, odometer, trip)
        for n, at, v, brim, odometer, trip in diary["fills"]
    ]
    hours = diary.get("hours", {})
    readings = [Reading(when.get(n, datetime(2026, 6, 1)), str(n), "hours", h) for n, h in hours.items()]
    resets = [Reset(when[n], str(n)) for n in diary["resets"]]
    return spans(fills, resets, readings, distance_unit=distance, volume_unit=volume)


@pytest.mark.parametrize("name", DIARIES)
def test_every_span_that_a_careful_clerk_gives_and_no_other(name: str) -> None:
    got = [(int(s.from_note), int(s.to_note)) for s in worked_out(name)]
    assert got == [(a, b) for a, b, _ in DIARIES[name]["economy"]]


@pytest.mark.parametrize("name", DIARIES)
def test_the_values(name: str) -> None:
    for span, (_, _, value) in zip(worked_out(name), DIARIES[name]["economy"], strict=True):
        assert span.value == pytest.approx(value, rel=0.002), span
        assert 0 < span.plus_minus < 0.05 * span.value
        assert not span.estimated


def test_the_unit_follows_the_owner() -> None:
    units = {name: worked_out(name)[0].unit for name in DIARIES}
    assert units["old wagon"] == "mpg_us"
    assert units["delivery van"] == "L_per_100km"
    assert units["tractor, by hours"] == "gal_us_per_h"
    assert units["road bike, litres and miles"] == "mpg_imp"


@pytest.mark.parametrize("name", [n for n in DIARIES if n not in ("road bike, litres and miles", "tractor, by hours")])
def test_the_same_without_any_word_of_a_reset(name: str) -> None:
    """Resets that were not caught by the reader must not spoil spans that the odometer gives."""
    diary = DIARIES[name]
    distance, volume = diary["units"]
    fills = [
        Fill(datetime.fromisoformat(at), str(n), v, volume, brim, odometer, trip)
        for n, at, v, brim, odometer, trip in diary["fills"]
    ]
    got = spans(fills, distance_unit=distance, volume_unit=volume)
    assert [(int(s.from_note), int(s.to_note)) for s in got] == [(a, b) for a, b, _ in diary["economy"]]
    for span, (_, _, value) in zip(got, diary["economy"], strict=True):
        assert span.value == pytest.approx(value, rel=0.002)
