"""The conversation's two doors: typed, a line a turn; and spoken, through the listening loop."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from diary.records.diary import Diary


def turn_row(turn: Any) -> dict[str, Any]:
    """A turn as `diary chat --json` prints it."""
    from diary.records.kinds import as_row

    answer = turn.answer
    return {
        "say": turn.say, "kind": turn.kind, "reply": turn.reply, "asks": turn.asks,
        "written": [{"kind": r.KIND, **as_row(r)} for r in turn.written],
        "gone": [{"kind": r.KIND, **as_row(r)} for r in turn.gone],
        "answer": None if answer is None else {
            "answer": answer.answer, "values": answer.values, "records": answer.records, "certain": answer.certain,
        },
    }  # fmt: skip


def typed(diary: Diary, *, as_json: bool = False, voice: bool = False) -> int:
    """Turns from the keyboard or standard input until it ends."""
    from diary.assistant import spoken
    from diary.assistant.conversation import Conversation

    conversation = Conversation(diary)
    interactive = sys.stdin.isatty() and not as_json
    speaker = _speaker() if voice else None
    if interactive:
        print("Say what you did, or ask. An empty line or Ctrl-D ends.")
    while True:
        try:
            line = input("> ") if interactive else sys.stdin.readline()
        except EOFError:
            break
        if not line:
            break
        said = line.strip()
        if not said:
            if interactive:
                break
            continue
        turn = conversation.turn(said)
        if as_json:
            print(json.dumps(turn_row(turn), ensure_ascii=False), flush=True)
        elif turn.reply:
            print(turn.reply, flush=True)
        if speaker and turn.reply and turn.speaking:
            speaker(spoken.aloud(turn.reply))
    return 0


def _speaker() -> Any:
    from diary.speech.voice import voice

    made = voice()

    def speak(text: str) -> None:
        from diary.speech.microphone import play

        play(made, text)

    return speak


def by_voice(
    diary: Diary, *, sound: Path | None, engine: str | None, device: str | None, quiet: bool, always: bool, as_json: bool
) -> int:
    """Turns from the microphone (or a sound file played at real speed) until it ends or a person stops it."""
    from diary.assistant import spoken
    from diary.assistant.conversation import Conversation
    from diary.assistant.intake import vocabulary
    from diary.speech import listening

    conversation = Conversation(diary)

    def turn(text: str, segment: Any) -> str | None:
        made = conversation.turn(text)
        if as_json:
            print(json.dumps(turn_row(made), ensure_ascii=False), flush=True)
        else:
            print(f"heard: {text}\n  {made.reply}" if made.reply else f"heard: {text}", flush=True)
        return spoken.aloud(made.reply) if made.reply and made.speaking else None

    return listening.run(
        turn, sound=sound, engine=engine, device=device, quiet=quiet, always=always, bias=vocabulary(diary),
        folder=diary.path.parent / "listening",
    )  # fmt: skip
