"""Cutting long sound at silences, a little at a time."""

from __future__ import annotations

import itertools

import numpy as np

from diary.speech import vad
from diary.speech.audio import RATE
from tests.speech.conftest import silence, tone


def test_speech_is_found_and_a_tone_is_not(piper) -> None:
    said = piper("the drain plug got thirty foot pounds")
    assert max(vad.Detector().feed(said)) > 0.9
    assert max(vad.Detector().feed(tone(2.0))) < vad.SPEECH
    assert max(vad.Detector().feed(silence(1.0))) < 0.2


def test_the_size_of_the_blocks_makes_no_difference(piper) -> None:
    said = piper("left rear is at thirty one")
    whole = vad.Detector().feed(said)
    pieces = vad.Detector()
    by_piece = [p for at in range(0, said.size, 333) for p in pieces.feed(said[at : at + 333])]
    assert np.allclose(whole, by_piece, atol=1e-3)


def test_long_silences_are_left_out(piper) -> None:
    first, second = piper("the axle seal is weeping"), piper("tires at twenty eight")
    sound = np.concatenate([silence(5), first, silence(8), second, silence(6)])
    found = list(vad.stretches(sound[i : i + 1600] for i in range(0, sound.size, 1600)))
    assert [s.clean for s in found] == [True, True]
    assert abs(found[0].start - 5.0) < 0.6 and abs(found[1].start - (13 + first.size / RATE)) < 0.6
    assert sum(s.samples.size for s in found) < first.size + second.size + 4 * RATE


def test_talk_without_a_pause_is_cut_and_nothing_is_lost(piper) -> None:
    said = piper("eighty seven four oh nine on the clock and the belt is fine and the hoses are fine and it runs")
    sound = np.concatenate([said] * 4)
    found = list(vad.stretches([sound], longest=6.0))
    assert len(found) >= 3
    assert all(s.samples.size <= 6.1 * RATE for s in found)
    for a, b in itertools.pairwise(found):
        if not a.clean:
            assert abs(b.start - a.end) < 0.35


def test_the_cut_is_made_late_in_a_sure_silence_else_in_the_longest() -> None:
    two_pauses = [True] * 55 + [False] * 12 + [True] * 13 + [False] * 8 + [True] * 12
    assert vad.best_cut(two_pauses) == (84, 8)
    no_pause = [True] * 70 + [False] * 3 + [True] * 10 + [False] * 2 + [True] * 15
    assert vad.best_cut(no_pause) == (71, 3)
    assert vad.best_cut([True] * 90) == (90, 0)


def test_nothing_but_silence_gives_nothing() -> None:
    """Was an IndexError after five seconds."""
    assert list(vad.stretches([silence(9.0)] * 3)) == []
