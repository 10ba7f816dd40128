"""The hands-free loop: microphone to spoken reply.

Every block of sound goes to disk first (`rolling`), then to the voice detector. An utterance ends where the person
pauses; how long a pause must be depends on whether what was heard sounds finished. Recognition starts at the first
short pause, so that its result is mostly there when the pause proves to be an end. While the program speaks, only
somebody who is louder than its own echo is heard, and stops it. After a crash the sound on disk is heard again from the
last note on.
"""

from __future__ import annotations

import sys
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from diary.errors import DiaryError
from diary.speech import noise, rolling
from diary.speech.audio import RATE
from diary.speech.bias import data
from diary.speech.figures import differing, figures
from diary.speech.phrases import Phrases, Told
from diary.speech.recogniser import Recogniser, Segment, Stream, StreamingRecogniser, Word, merged, shifted
from diary.speech.repair import repaired
from diary.speech.vad import SPEECH, STEP, STILL_SPEECH, WINDOW, Detector

if TYPE_CHECKING:
    import numpy as np

    from diary.speech.microphone import Sink
    from diary.speech.voice import Voice

Turn = Callable[[str, "Spoken"], "str | None"]
"""Takes what was said (repaired text) and where it was heard; gives the reply to be spoken, or None."""
Tell = Callable[[str, str], None]
"""Takes the kind of event ("partial", "heard", "mode", "noise", "reply", "recovered", ...) and its text."""


@dataclass(frozen=True)
class Spoken(Segment):
    """An utterance: times in seconds of its session, `text` as heard; `at` is the time of day when it began.

    `session` is the folder that holds its sound, `repairs` what was put right, `recovered` whether it comes from before
    a crash.
    """

    at: datetime | None = None
    session: Path | None = None
    repairs: str = ""
    recovered: bool = False


@dataclass(frozen=True, slots=True)
class Settings:
    """Seconds of silence, mostly. `always`: no wake phrase is waited for."""

    always: bool = False
    probe: float = 0.25  # a silence this long starts recognition, in case it is the end
    pause: float = 0.5  # ends an utterance that sounds finished
    number: float = 0.8  # ... that ends in a number, which may go on
    unfinished: float = 1.5  # ... that ends in "and", "the", ...
    dictation: float = 2.0  # ends a note while dictating
    longest: float = 24.0  # seconds of talk after which a piece is recognised at the next short pause
    phrases: Mapping[str, Iterable[str]] = field(default_factory=dict)


_PRE = round(0.35 / STEP)  # steps kept from before speech is sure
_SURE = 3  # steps of speech that make an utterance begin
_SHORT = round(0.2 / STEP)
_HARD = 28.5  # seconds at which a piece is cut wherever it is (Whisper hears 30)
_BARGE = 7  # of the last 12 steps must be louder than the echo for a barge-in
_TAIL = 0.3  # seconds after a reply in which its last echo may still be heard
_WAKE_SECONDS = 4.0  # of an utterance that are looked at for the wake phrase
_REMIND = 60.0  # seconds between two remarks on the noise


class Log(Protocol):
    """Where sound and progress are kept: a `rolling.Roll`, or a session that is heard again."""

    folder: Path

    def write(self, block: np.ndarray) -> None: ...

    def note(self, **what: Any) -> None: ...

    def handled(self, seconds: float) -> None: ...


class Listener:
    """One session. Give it blocks with `hear`, end with `finish`; or call `run` with a source of sound."""

    def __init__(
        self,
        turn: Turn,
        recogniser: Recogniser,
        log: Log,
        *,
        sink: Sink | None = None,
        voice: Voice | None = None,
        streaming: StreamingRecogniser | None = None,
        bias: Sequence[str] = (),
        settings: Settings | None = None,
        tell: Tell | None = None,
        live: bool = True,
        began: datetime | None = None,
        offset: float = 0.0,
        recovered: bool = False,
    ) -> None:
        self.turn, self.recogniser, self.log, self.sink, self.voice = turn, recogniser, log, sink, voice
        self.streaming, self.bias = streaming, tuple(bias)
        self.settings = settings or Settings()
        self.phrases = Phrases(self.settings.phrases)
        self.tell = tell or (lambda _kind, _text: None)
        self.live, self.recovered = live, recovered
        self.began = began or datetime.now(UTC)
        self.mode = "awake" if self.settings.always else "asleep"
        self.loudness = noise.Loudness()
        self.echo = Echo()
        self.last_reply = ""
        self.reply_ended = -1e9  # second of the session
        self.ended_at: list[float] = []
        """For each utterance acted on, the clock (time.monotonic) at its last speech."""
        self._detector = Detector()
        self._rest: Any = None
        self._steps = round(offset / STEP)
        self._speaking = False
        self._pre: deque[np.ndarray] = deque(maxlen=_PRE)
        self._run_of_speech = 0
        self._utterance: _Utterance | None = None
        self._ended: deque[_Utterance] = deque()  # finished, not handled yet
        self._workers = ThreadPoolExecutor(1)
        self._stream: Stream | None = None
        self._partial = ""
        self._doubt: tuple[Spoken, str, str, list[tuple[str, str]]] | None = None
        self._loud: deque[bool] = deque(maxlen=12)
        self._told_noise = -1e9
        self._was_playing = False

    # ---- sound in
    # -----------------------------------------------------------------------------------------------------

    @property
    def now(self) -> float:
        """The second of the session that has been heard."""
        return self._steps * STEP

    def run(self, source: Iterable[np.ndarray]) -> None:
        """Listen until the source ends."""

        def kept() -> Iterator[np.ndarray]:
            for block in source:
                self.log.write(block)
                yield block

        for block in noise.cleaned(kept()):
            self.hear(block)
        self.finish()

    def hear(self, block: np.ndarray) -> None:
        """One more block of 16 kHz mono float32, which is on its way to the disk already."""
        import numpy as np

        sound = block if self._rest is None else np.concatenate([self._rest, block])
        for probability in self._detector.feed(block):
            step, sound = sound[:WINDOW], sound[WINDOW:]
            self._steps += 1
            self._step(step, probability)
        self._rest = sound

    def finish(self) -> None:
        """What is still being said is taken as finished; waits for replies to end."""
        if self._utterance:
            self._end_utterance(self._utterance)
        self._handle_ended(wait=True)
        if self._doubt:
            self._settle(None)
        self.log.handled(self.now)
        self._workers.shutdown(wait=True)
        if self.sink:
            while self.sink.playing:
                time.sleep(0.02)

    def _step(self, step: np.ndarray, probability: float) -> None:
        if self._ended:
            self._handle_ended(wait=not self.live)
        if self._own_voice(step, probability):
            return
        self._speaking = probability >= (STILL_SPEECH if self._speaking else SPEECH)
        self.loudness.add(step, self._speaking)
        if self._utterance is None:
            self._pre.append(step)
            self._run_of_speech = self._run_of_speech + 1 if self._speaking else 0
            if self._run_of_speech >= _SURE:
                self._begin_utterance()
            return
        self._utterance.add(step, self._speaking)
        if self._stream:
            self._show_partial(self._stream.accept(step))
        self._consider(self._utterance)

    def _begin_utterance(self) -> None:
        self._utterance = _Utterance(list(self._pre), self.now - len(self._pre) * STEP)
        self._pre.clear()
        self._run_of_speech = 0
        if self.streaming and self.mode in ("awake", "dictating"):
            expected = self.last_reply.endswith("?")
            self._stream = self.streaming.stream(_answers() if expected else ())
            for step in self._utterance.steps:
                self._stream.accept(step)

    def _show_partial(self, words: str) -> None:
        if words != self._partial:
            self._partial = words
            self.tell("partial", words)

    # ---- not hearing itself
    # ---------------------------------------------------------------------------------------------

    def _own_voice(self, step: np.ndarray, probability: float) -> bool:
        """True where a step is to be left out because the program itself is (or was just) speaking."""
        playing = self.sink is not None and self.sink.playing
        if playing:
            self._was_playing = True
            assert self.sink is not None
            loud = self.echo.louder(step, self.sink.envelope()) and probability >= SPEECH
            self._loud.append(loud)
            self._pre.append(step)
            if sum(self._loud) < _BARGE:
                return True
            self.sink.stop()
            self.tell("barge-in", "")
            self._loud.clear()
            self._was_playing = False
            self._speaking = True
            self._begin_utterance()
            return True
        if self._was_playing:
            self._was_playing = False
            self.reply_ended = self.now
            self._loud.clear()
        just_ended = self._utterance is None and self.now - self.reply_ended < _TAIL
        return just_ended and not self.echo.louder(step, 0.0)

    def _is_own(self, heard: str, start: float) -> bool:
        """Whether what was heard is only the program's own last reply, picked up by the microphone."""
        if not self.last_reply or start - self.reply_ended > 1.5:
            return False
        said, words = _words(self.last_reply), _words(heard)
        return len(words) >= 3 and sum(word in said for word in words) >= 0.8 * len(words)

    # ---- the end of an utterance
    # ------------------------------------------------------------------------------------------

    def _consider(self, utterance: _Utterance) -> None:
        """Start recognising at a short pause; take the utterance as ended once the pause is long enough for what was
        heard.
        """
        silence = utterance.quiet * STEP
        if utterance.quiet == 0:
            utterance.guess = None
            if utterance.seconds >= _HARD:
                self._cut_piece(utterance)
            return
        if utterance.seconds >= self.settings.longest and utterance.quiet >= _SHORT:
            self._cut_piece(utterance)
            return
        longest_pause = self.settings.dictation if self.mode == "dictating" else self.settings.unfinished
        if silence >= longest_pause:
            self._end_utterance(utterance)
            return
        if not self.live or silence < self.settings.probe:
            return
        if utterance.guess is None:
            utterance.guess = self._submit(utterance)
        if utterance.guess.done() and not self._ended and silence >= self._patience(self._text_of(utterance)):
            self._end_utterance(utterance)

    def _patience(self, text: str) -> float:
        if self.mode == "dictating":
            return self.settings.dictation
        words = _words(text)
        if not words:
            return self.settings.pause
        if words[-1] in data()["listening"]["unfinished"]:
            return self.settings.unfinished
        return self.settings.number if figures(words[-1]) and not self.last_reply.endswith("?") else self.settings.pause

    def _submit(self, utterance: _Utterance) -> Future[_Guess]:
        return self._workers.submit(self._recognise, utterance.samples(), utterance.offset, self.mode)

    def _cut_piece(self, utterance: _Utterance) -> None:
        utterance.pieces.append(self._submit(utterance))
        utterance.next_piece()

    def _recognise(self, samples: np.ndarray, offset: float, mode: str) -> _Guess:
        """The words of one piece. While asleep or paused, talk that does not begin with the phrase waited for is left
        alone.
        """
        if mode in ("asleep", "paused"):
            wanted = ("wake",) if mode == "asleep" else ("resume",)
            phrases = [phrase for meaning in wanted for phrase in self.phrases.known[meaning]]
            first = _utterance(self.recogniser, samples[: round(_WAKE_SECONDS * RATE)], phrases)
            if first is None or not self.phrases.find(first.text, wanted, anywhere=True):
                return _Guess(samples, offset, None, whole=False)
            if samples.size <= _WAKE_SECONDS * RATE:
                return _Guess(samples, offset, shifted(first, offset), whole=True)
        heard = _utterance(self.recogniser, samples, self.bias)
        return _Guess(samples, offset, shifted(heard, offset) if heard else None, whole=True)

    def _heard(self, utterance: _Utterance) -> Segment | None:
        """The words of all its pieces; waits for them."""
        guesses = [piece.result() for piece in utterance.pieces]
        if utterance.guess is not None:
            guesses.append(utterance.guess.result())
        if self.mode not in ("asleep", "paused"):  # it may have woken since
            guesses = [g if g.whole else self._recognise(g.samples, g.offset, self.mode) for g in guesses]
        return merged([guess.segment for guess in guesses if guess.segment])

    def _text_of(self, utterance: _Utterance) -> str:
        heard = self._heard(utterance)
        return heard.text if heard else ""

    def _end_utterance(self, utterance: _Utterance) -> None:
        """It has been said; it is handled when its words are there, in its turn."""
        self._utterance = None
        utterance.streamed = self._stream.finish() if self._stream else None
        self._stream, self._partial = None, ""
        if utterance.guess is None and utterance.steps:
            utterance.guess = self._submit(utterance)
        utterance.ended_at = time.monotonic() - utterance.quiet * STEP
        self._ended.append(utterance)
        self._handle_ended(wait=not self.live)

    def _handle_ended(self, *, wait: bool) -> None:
        """Handle those utterances whose words are there, in the order they were said."""
        while self._ended and (wait or self._ended[0].done):
            utterance = self._ended.popleft()
            heard = self._heard(utterance)
            if heard and heard.text and not self._is_own(heard.text, utterance.start):
                reading = repaired(heard.text, self.bias)
                spoken = Spoken(
                    heard.words, heard.start, heard.end, heard.text,
                    at=self.began + timedelta(seconds=utterance.start), session=self.log.folder,
                    repairs="; ".join(filter(None, (heard.weighed, reading.shown()))), recovered=self.recovered,
                )  # fmt: skip
                streamed = utterance.streamed
                self._handle(spoken, reading.text, streamed.text if streamed else None, utterance)
            self.log.handled(utterance.end)

    # ---- what was said
    # -----------------------------------------------------------------------------------------------------

    def _handle(self, spoken: Spoken, text: str, streamed: str | None, utterance: _Utterance) -> None:
        self.ended_at.append(utterance.ended_at)
        if self.mode in ("asleep", "paused"):
            told = self.phrases.find(text, ("wake",) if self.mode == "asleep" else ("resume",), anywhere=True)
            if told is None:
                return
            self._change(
                "awake", None if told.after else data()["listening"]["resumed"] if self.mode == "paused" else None
            )
            self._cue("awake")
            if not told.after:
                return
            text = told.after
        ends = ("end_dictation", "stop") if self.mode == "dictating" else ("stop", "pause", "dictate", "again")
        told = self.phrases.find(text, ends)
        if told is None:
            self._act(spoken, text, streamed)
        else:
            if told.before:
                self._act(spoken, told.before, None)
            self._obey(told, spoken)

    def _obey(self, told: Told, spoken: Spoken) -> None:
        says = data()["listening"]
        if told.meaning == "again":
            self._say(self.last_reply or says["nothing_yet"], remember=False)
        elif told.meaning == "stop":
            self._change("awake" if self.settings.always and self.mode == "dictating" else "asleep", says["asleep"])
        elif told.meaning == "pause":
            self._change("paused", says["paused"])
        elif told.meaning == "dictate":
            self._change("dictating", says["dictating"])
            if told.after:
                self._act(spoken, told.after, None)
        elif told.meaning == "end_dictation":
            self._change("awake", None)
            self._cue("written")

    def _change(self, mode: str, sentence: str | None) -> None:
        self.mode = mode
        self.log.note(mode=mode)
        self.tell("mode", mode)
        if sentence:
            self._say(sentence, remember=False)

    def _act(self, spoken: Spoken, text: str, streamed: str | None) -> None:
        """Give a turn, unless two recognisers disagree on its figures: then ask first."""
        if self._doubt and self._settle(text):
            return
        pairs = differing(streamed, text) if streamed else []
        if pairs:
            self._doubt = (spoken, text, streamed or "", pairs)
            first, second = pairs[0]
            if first and second:
                self._say(data()["listening"]["which"].format(first=first, second=second))
                return
            self._settle(None)
            return
        self._give(spoken, text)

    def _settle(self, answer: str | None) -> bool:
        """Close a doubt with the answer to it; True if `answer` was one. Without an answer the words are given as
        unsure.
        """
        assert self._doubt is not None
        (spoken, text, streamed, pairs), self._doubt = self._doubt, None
        said = figures(answer) if answer else []
        for first, second in pairs:
            if said and said[0] == first and first:
                self._give(spoken, streamed)
                return True
            if said and said[0] == second and second:
                self._give(spoken, text)
                return True
        self._give(_unsure(spoken), text)
        return answer is not None and " ".join(_words(answer)) in data()["listening"]["neither"]

    def _give(self, spoken: Spoken, text: str) -> None:
        self.tell("heard", text)
        if spoken.repairs:
            self.tell("repaired", spoken.repairs)
        self._cue("heard")
        reply = self.turn(text, spoken)
        self.log.handled(spoken.end)
        if reply and (self.mode != "dictating" or reply.rstrip().endswith("?")):
            self._say(reply)
        else:
            self._cue("written")
        self._mind_noise(spoken)

    def _mind_noise(self, spoken: Spoken) -> None:
        if self.loudness.too_loud and self.live and self.now - self._told_noise > _REMIND:
            self._told_noise = self.now
            self.tell("noise", data()["listening"]["loud"])
            if self.sink is None or not self.sink.playing:
                self._say(data()["listening"]["loud"], remember=False)

    # ---- sound out
    # ---------------------------------------------------------------------------------------------------------

    def _say(self, text: str, remember: bool = True) -> None:
        if remember:
            self.last_reply = text
        self.tell("reply", text)
        if self.sink and self.voice:
            self.sink.play(self.voice.say(text), self.voice.rate)

    def _cue(self, kind: str) -> None:
        if self.sink and self.voice and self.live and not self.sink.playing:
            self.sink.play([cue(kind)], RATE)


class Echo:
    """How loud the program's own sound comes back through the microphone, learned while it speaks."""

    def __init__(self) -> None:
        self._ratios: deque[float] = deque(maxlen=300)
        self._quiet: deque[float] = deque([1e-6], 60)

    def louder(self, step: np.ndarray, played: float) -> bool:
        """Whether a step is clearly louder than the echo of what played (mean square `played`) and than the room.

        The first third of a second of the first reply is only learned from.
        """
        import numpy as np

        power = float(np.mean(step * step))
        if played < 1e-7:
            floor = 4 * sorted(self._quiet)[len(self._quiet) // 2]
            if power < floor or len(self._quiet) < 10:
                self._quiet.append(power)
            return power > floor
        ratio = power / played
        known = sorted(self._ratios)
        if len(known) < 10:
            self._ratios.append(ratio)
            return False
        usual = known[int(len(known) * 0.9)]
        if ratio > 4 * usual and power > 3e-6:
            return True
        self._ratios.append(ratio)
        return False


@dataclass(frozen=True, slots=True)
class _Guess:
    """The words of one piece; `whole` is false where it was only looked at for a wake phrase."""

    samples: np.ndarray
    offset: float
    segment: Segment | None
    whole: bool


class _Utterance:
    """An utterance being said: the steps of its current piece, and the pieces that are being recognised already."""

    def __init__(self, steps: list[np.ndarray], start: float) -> None:
        self.steps, self.start, self.offset = steps, start, start
        self.quiet = 0
        self.pieces: list[Future[_Guess]] = []
        self.guess: Future[_Guess] | None = None
        self.streamed: Segment | None = None
        self.ended_at = 0.0

    @property
    def done(self) -> bool:
        """Whether the words of all its pieces are there."""
        return all(guess.done() for guess in (*self.pieces, self.guess) if guess is not None)

    def add(self, step: np.ndarray, speech: bool) -> None:
        self.steps.append(step)
        self.quiet = 0 if speech else self.quiet + 1

    @property
    def seconds(self) -> float:
        """Seconds of the current piece."""
        return len(self.steps) * STEP

    @property
    def end(self) -> float:
        """The second of the session at which the last speech of it ended."""
        return self.offset + (len(self.steps) - self.quiet) * STEP

    def samples(self) -> np.ndarray:
        """The current piece, with no more than a third of a second of the silence at its end."""
        import numpy as np

        spare = max(0, self.quiet - _PRE)
        return np.concatenate(self.steps[: len(self.steps) - spare])

    def next_piece(self) -> None:
        self.offset += self.seconds
        self.steps = []
        self.guess = None


def _utterance(recogniser: Recogniser, samples: np.ndarray, bias: Sequence[str]) -> Segment | None:
    at_once = getattr(recogniser, "utterance", None)
    if at_once:
        found: Segment | None = at_once(samples, bias=bias)
        return found
    return merged(list(recogniser.transcribe([samples], bias=bias)))


def _unsure(spoken: Spoken) -> Spoken:
    """The same, with every word that holds a figure less believed."""
    words = tuple(Word(w.text, w.start, w.end, min(w.confidence, 0.3)) if figures(w.text) else w for w in spoken.words)
    return replace(spoken, words=words)


def _words(text: str) -> list[str]:
    return ["".join(c for c in word if c.isalnum() or c == "'") for word in text.lower().split()]


def _answers() -> list[str]:
    """Everything that may be said where yes, no or a number is expected."""
    facts = data()["figures"]
    return [*data()["listening"]["answers"], *facts["units"], *facts["tens"], *facts["powers"]]


def cue(kind: str) -> np.ndarray:
    """A short sound: "awake" rises, "heard" is one low tick, "written" two; mono float32 at 16 kHz."""
    import numpy as np

    def tone(hertz: float, seconds: float) -> np.ndarray:
        t = np.arange(round(seconds * RATE)) / RATE
        fade = np.minimum(1, np.minimum(t, t[::-1]) / 0.008)
        return (0.2 * fade * np.sin(2 * np.pi * hertz * t)).astype(np.float32)

    gap = np.zeros(round(0.04 * RATE), np.float32)
    tones = {
        "awake": (tone(520, 0.07), tone(780, 0.09)),
        "heard": (tone(420, 0.05),),
        "written": (tone(620, 0.05), gap, tone(620, 0.05)),
    }
    return np.concatenate(tones[kind])


class _Again:
    """A session that is heard again: its sound is on the disk already."""

    def __init__(self, left: rolling.Left) -> None:
        self.left, self.folder = left, left.folder

    def write(self, block: np.ndarray) -> None:
        """Nothing."""

    def note(self, **_what: Any) -> None:
        """Nothing."""

    def handled(self, seconds: float) -> None:
        """As `Roll.handled`."""
        self.left.mark(seconds)


def recover(
    folder: Path, turn: Turn, recogniser: Recogniser, *, bias: Sequence[str] = (), settings: Settings | None = None,
    tell: Tell | None = None,
) -> int:  # fmt: skip
    """Hear again what crashes left unheard in `folder`; how many sessions there were. Nothing is spoken."""
    found = rolling.unfinished(folder)
    for left in found:
        if tell:
            tell("recovered", f"{left.seconds - left.handled:.0f} s of sound from {left.began:%d %B %H:%M}")
        listener = Listener(
            turn, recogniser, _Again(left), bias=bias, settings=settings, tell=tell, live=False, began=left.began,
            offset=left.handled, recovered=True,
        )  # fmt: skip
        listener.mode = left.mode
        for block in noise.cleaned(left.sound()):
            listener.hear(block)
        listener.finish()
        left.close()
    return len(found)


def run(
    turn: Turn, *, sound: Path | None = None, engine: str | None = None, device: str | None = None, quiet: bool = False,
    always: bool = False, bias: Sequence[str] = (), folder: Path, settings: Settings | None = None,
    tell: Tell | None = None, voice: str | None = None, speed: float = 1.0,
) -> int:  # fmt: skip
    """`diary listen`: from the microphone (or the file `sound` at real speed) until it ends or Ctrl-C."""
    from diary.speech import choose
    from diary.speech.microphone import Microphone, Recording, speaker
    from diary.speech.voice import voice as choose_voice

    settings = replace(settings or Settings(), always=always or bool(settings and settings.always))
    tell = tell or _to_screen
    recogniser = choose.recogniser(engine)
    streaming = choose.streaming() if recogniser.name != "vosk" else None
    for loadable in (recogniser, streaming):
        if loadable is not None and hasattr(loadable, "load"):
            loadable.load()
    speaks = choose_voice("text" if quiet else voice)
    if hasattr(speaks, "load"):
        speaks.load()
    source: Iterable[np.ndarray] = Recording(sound, speed) if sound else Microphone(device)
    if sound and not Path(sound).exists():
        raise DiaryError(f"There is no file {sound}; check the name and the folder.")
    recover(folder, turn, recogniser, bias=bias, settings=settings, tell=tell)
    rolling.tidy(folder)
    log = rolling.Roll(folder)
    listener = Listener(
        turn, recogniser, log, sink=speaker(quiet), voice=speaks, streaming=streaming, bias=bias, settings=settings,
        tell=tell, live=speed > 0,
    )  # fmt: skip
    log.note(mode=listener.mode)
    tell("mode", listener.mode)
    try:
        listener.run(source)
    except KeyboardInterrupt:
        listener.finish()
    finally:
        log.close()
    return 0


def _to_screen(kind: str, text: str) -> None:
    """Events as lines on standard error, but for what the caller shows itself."""
    if kind not in ("heard", "reply", "partial"):
        print(f"[{kind}] {text}" if text else f"[{kind}]", file=sys.stderr, flush=True)
