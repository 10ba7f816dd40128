"""Installing models from a server on this machine: checksum, resume, unsafe archives."""

from __future__ import annotations

import hashlib
import io
import tarfile
import threading
import zipfile
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest

from diary.errors import DiaryError
from diary.speech import models

FILES = {"vosk-model-toy-en/am/final.mdl": b"m" * 5000, "vosk-model-toy-en/conf/mfcc.conf": b"c"}


def a_zip(files: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        for name, data in files.items():
            packed.writestr(name, data)
    return out.getvalue()


def sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


class Server(ThreadingHTTPServer):
    """Serves `data`; breaks off after `cut` bytes once; remembers the ranges it was asked for."""

    data = b""
    cut: int | None = None
    ranges: list[str | None]


class Handler(BaseHTTPRequestHandler):
    server: Server

    def do_GET(self) -> None:
        asked = self.headers.get("Range")
        self.server.ranges.append(asked)
        if self.path == "/missing.zip":
            self.send_error(404)
            return
        data, start = self.server.data, 0
        if asked and self.path != "/no-ranges.zip":
            start = int(asked.removeprefix("bytes=").rstrip("-"))
            self.send_response(206)
            self.send_header("Content-Range", f"bytes {start}-{len(data) - 1}/{len(data)}")
        else:
            self.send_response(200)
        self.send_header("Content-Length", str(len(data) - start))
        self.end_headers()
        body = data[start:]
        if self.server.cut is not None:
            body, self.server.cut = body[: self.server.cut], None
            self.wfile.write(body)
            self.wfile.flush()
            self.connection.close()
            return
        self.wfile.write(body)

    def log_message(self, *_: object) -> None:
        pass


@pytest.fixture
def server() -> Iterator[Server]:
    made = Server(("127.0.0.1", 0), Handler)
    made.ranges = []
    made.data = a_zip(FILES)
    thread = threading.Thread(target=made.serve_forever, daemon=True)
    thread.start()
    yield made
    made.shutdown()
    made.server_close()


def url(server: Server, name: str = "vosk-model-toy-en.zip") -> str:
    return f"http://127.0.0.1:{server.server_address[1]}/{name}"


def test_a_model_is_fetched_checked_and_unpacked(server: Server, tmp_path: Path) -> None:
    told: list[tuple[float, float]] = []
    place = models.install(
        url(server), sha256=sha(server.data), folder=tmp_path, progress=lambda a, b: told.append((a, b))
    )
    assert place == tmp_path / "vosk-model-toy-en"
    assert (place / "am/final.mdl").read_bytes() == b"m" * 5000
    assert told[-1] == (len(server.data), len(server.data))
    assert [p.name for p in tmp_path.iterdir()] == ["vosk-model-toy-en"]
    row = next(r for r in models.listing(tmp_path) if r["name"] == "vosk-model-toy-en")
    assert row["here"] == str(place) and row["engine"] == "vosk"


def test_a_transfer_that_was_cut_off_goes_on_where_it_stopped(server: Server, tmp_path: Path) -> None:
    server.cut = 100
    with pytest.raises(DiaryError, match="again to go on where it stopped"):
        models.install(url(server), sha256=sha(server.data), folder=tmp_path)
    assert models.install(url(server), sha256=sha(server.data), folder=tmp_path).is_dir()
    assert server.ranges == [None, "bytes=100-"]


def test_a_server_that_cannot_resume_sends_the_whole_again(server: Server, tmp_path: Path) -> None:
    server.cut = 100
    with pytest.raises(DiaryError):
        models.install(url(server, "no-ranges.zip"), sha256=sha(server.data), folder=tmp_path)
    assert (
        models.install(url(server, "no-ranges.zip"), sha256=sha(server.data), folder=tmp_path) / "am/final.mdl"
    ).is_file()


def test_a_wrong_checksum_installs_nothing(server: Server, tmp_path: Path) -> None:
    with pytest.raises(DiaryError, match="SHA-256"):
        models.install(url(server), sha256="0" * 64, folder=tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_an_unknown_checksum_is_asked_for(tmp_path: Path) -> None:
    with pytest.raises(DiaryError, match="--sha256"):
        models.install("vosk-model-small-en-us-0.15", folder=tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_what_is_not_there_is_one_sentence(server: Server, tmp_path: Path) -> None:
    with pytest.raises(DiaryError, match="404"):
        models.install(url(server, "missing.zip"), sha256="0" * 64, folder=tmp_path)
    with pytest.raises(DiaryError, match="no model of the list"):
        models.install("nothing-like-it", sha256="0" * 64, folder=tmp_path)


def local(tmp_path: Path, data: bytes, name: str = "x-en.zip") -> dict[str, object]:
    (tmp_path / name).write_bytes(data)
    return {"name": str(tmp_path / name), "sha256": sha(data), "folder": tmp_path / "models"}


def a_tar(*members: tarfile.TarInfo) -> bytes:
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w:gz") as bundle:
        for member in members:
            bundle.addfile(member, io.BytesIO(b"x" * member.size))
    return out.getvalue()


def tar_file(name: str, size: int = 1, **more: object) -> tarfile.TarInfo:
    info = tarfile.TarInfo(name)
    info.size = size
    for key, value in more.items():
        setattr(info, key, value)
    return info


def test_a_local_tar_is_unpacked_too(tmp_path: Path) -> None:
    data = a_tar(tar_file("a/model.bin", 10), tar_file("a/config.json"))
    assert (models.install(**local(tmp_path, data, "whisper-x.tar.gz")) / "model.bin").stat().st_size == 10


@pytest.mark.parametrize(
    ("data", "name"),
    [
        (a_zip({**FILES, "../outside.txt": b"x"}), "x.zip"),
        (a_zip({**FILES, "/outside.txt": b"x"}), "x.zip"),
        (a_zip({**FILES, "a\\..\\..\\outside.txt": b"x"}), "x.zip"),
        (a_zip({**FILES, "C:\\outside.txt": b"x"}), "x.zip"),
        (a_tar(tar_file("../outside.txt")), "x.tar.gz"),
        (a_tar(tar_file("m/link", 0, type=tarfile.SYMTYPE, linkname="/")), "x.tar.gz"),
        (a_tar(tar_file("m/pipe", 0, type=tarfile.FIFOTYPE)), "x.tar.gz"),
    ],
)
def test_unsafe_archives_write_nothing(tmp_path: Path, data: bytes, name: str) -> None:
    with pytest.raises(DiaryError, match="unsafe"):
        models.install(**local(tmp_path, data, name))
    assert sorted(p.name for p in tmp_path.rglob("*")) == ["models", name]


def test_a_link_in_a_zip_is_refused(tmp_path: Path) -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        info = zipfile.ZipInfo("m/link")
        info.external_attr = 0o120777 << 16
        packed.writestr(info, "/etc")
    with pytest.raises(DiaryError, match="unsafe"):
        models.install(**local(tmp_path, out.getvalue()))


def test_an_archive_that_grows_too_large_is_stopped(tmp_path: Path) -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("m/am/final.mdl", bytes(3 << 20))
    with pytest.raises(DiaryError, match="more than 2 MB"):
        models.install(**local(tmp_path, out.getvalue()), most_bytes=2 << 20)
    assert list((tmp_path / "models").iterdir()) == []


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (a_zip({"readme.txt": b"x"}), "no speech model"),
        (b"not an archive", "neither a zip"),
        (a_zip(FILES)[:-30], "neither a zip"),
    ],
)
def test_archives_without_a_model(tmp_path: Path, data: bytes, says: str) -> None:
    with pytest.raises(DiaryError, match=says):
        models.install(**local(tmp_path, data))
    assert list((tmp_path / "models").iterdir()) == []


def test_what_is_here_is_not_overwritten(tmp_path: Path) -> None:
    (tmp_path / "models" / "x-en").mkdir(parents=True)
    with pytest.raises(DiaryError, match="here already"):
        models.install(**local(tmp_path, a_zip(FILES)))


def test_the_catalogue_says_what_it_must() -> None:
    for entry in models.catalogue():
        assert {"name", "engine", "language", "size_mb", "licence", "accuracy", "source"} <= entry.keys()
        assert entry.get("url") or entry.get("wheel")
        assert "sha256" not in entry or len(entry["sha256"]) == 64
    assert next(r for r in models.listing() if r["name"] == "whisper-tiny.en")["used"]
