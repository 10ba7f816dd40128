"""The episode on disk: Markdown, HTML with pictures, a chapter list, and captions where there is sound."""

from __future__ import annotations

from pathlib import Path

from diary.errors import DiaryError
from diary.records.diary import Diary
from diary.reports import story as stories
from diary.reports.lists import Table
from diary.reports.story import Chapter, Story


def write(
    diary: Diary, folder: Path, *, since: str | None = None, until: str | None = None, title: str | None = None
) -> dict[str, Path]:
    """Write the episode's files into `folder` and give their paths by what they are."""
    story = stories.gather(diary, since, until, title)
    story.charts = charts(story)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        made = {"markdown": folder / "episode.md", "html": folder / "episode.html", "chapters": folder / "chapters.txt"}
        for name, svg in story.charts.items():
            (folder / f"{name}.svg").write_text(svg, encoding="utf-8")
        made["markdown"].write_text(markdown(story), encoding="utf-8")
        made["html"].write_text(html(story), encoding="utf-8")
        made["chapters"].write_text(chapter_list(story.chapters), encoding="utf-8")
        if any(c.lines for c in story.chapters):
            made["captions"] = folder / "captions.vtt"
            made["captions"].write_text(captions(story.chapters), encoding="utf-8")
            made["chapters_vtt"] = folder / "chapters.vtt"
            made["chapters_vtt"].write_text(chapters_vtt(story.chapters), encoding="utf-8")
            for audio, chapters in by_recording(story.chapters).items():
                path = folder / "captions" / (Path(audio).name + ".vtt")
                path.parent.mkdir(exist_ok=True)
                path.write_text(captions_of(chapters), encoding="utf-8")
    except OSError as error:
        raise DiaryError(f"The episode cannot be written to {folder} ({error.strerror}); name another folder with --to.") from error
    return made


def charts(story: Story) -> dict[str, str]:
    """SVG pictures by name, those that the records hold enough for."""
    from diary.reports import charts as drawn

    made: dict[str, str] = {}
    if len(story.spans) >= 2:
        made["economy"] = drawn.economy_svg(story.spans)
    return made


# -- Markdown -----------------------------------------------------------------------------------------------------------


def _md_table(table: Table) -> str:
    def cells(row: list[str]) -> str:
        return "| " + " | ".join(c.replace("|", "\\|").replace("\n", " ") for c in row) + " |"

    return "\n".join([cells(table.columns), "|" + " --- |" * len(table.columns), *map(cells, table.rows)])


def markdown(story: Story) -> str:
    """The episode as Markdown (CommonMark with tables)."""
    out = [f"# {story.title}", ""]
    out += [f"- **{name}**: {value}" for name, value in story.figures]
    out += ["", "## What happened", ""]
    for c in story.chapters:
        stamp = f" ({clock(c.start)})" if c.start is not None else ""
        out += [f"### {c.at[:10]}: {c.title}{stamp}", "", f"> {c.note.text}", ""]
    if story.faults:
        out += ["## What was wrong", ""]
        for f in story.faults:
            cause = f" Cause: {f['cause']}." if f["cause"] else ""
            where = f" ({f['where']})" if f["where"] else ""
            out.append(f"- **{f['what']}**{where}: {f['state']}. {f['thread'].capitalize()}.{cause}")
        out.append("")
    for heading, table in (
        ("Fuel", story.economy), ("Parts", story.parts), ("Torques", story.torques), ("Measured", story.measures),
        ("Still to do", story.plans),
    ):  # fmt: skip
        if table.rows:
            out += [f"## {heading}", "", _md_table(table), ""]
            if table is story.economy and "economy" in story.charts:
                out += ["![Economy over distance](economy.svg)", ""]
            if table.note:
                out += [table.note, ""]
    if story.lessons:
        out += ["## Learned", "", *[f"- {lesson}" for lesson in story.lessons], ""]
    if story.shots:
        out += ["## For the camera", "", *[f"- {state}: {what}" for state, what in story.shots], ""]
    if story.chapters:
        out += ["## Chapters", "", "```", chapter_list(story.chapters).rstrip(), "```", ""]
    out += [*story.cautions]
    return "\n".join(out).rstrip() + "\n"


# -- HTML ---------------------------------------------------------------------------------------------------------------


def html(story: Story) -> str:
    """The episode as one HTML page with its pictures inside."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    env = Environment(
        loader=PackageLoader("diary.reports"), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    env.filters["clock"] = clock
    return env.get_template("episode.html.j2").render(story=story)


# -- chapters and captions ------------------------------------------------------------------------------------------------


def clock(seconds: float | None) -> str:
    """Seconds as m:ss, or h:mm:ss from an hour on."""
    if seconds is None:
        return ""
    whole = int(seconds)
    return f"{whole // 3600}:{whole // 60 % 60:02}:{whole % 60:02}" if whole >= 3600 else f"{whole // 60}:{whole % 60:02}"


def chapter_list(chapters: list[Chapter]) -> str:
    """One line a chapter: its second in the joined sound (the first at 0:00), or its day where there is no sound."""
    lines = []
    sounded = False
    for c in chapters:
        if c.start is not None:
            lines.append(f"{clock(c.start) if sounded else '0:00'} {c.title}")
            sounded = True
        else:
            lines.append(f"{c.at[:10]} {c.title}")
    return "\n".join(lines) + "\n"


def _vtt_time(seconds: float) -> str:
    ms = round(seconds * 1000)
    return f"{ms // 3_600_000:02}:{ms // 60_000 % 60:02}:{ms // 1000 % 60:02}.{ms % 1000:03}"


def _vtt_text(text: str) -> str:
    """Cue text as WebVTT wants it (W3C WebVTT 1: & and < must be escaped, no arrow inside)."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;").replace("\n", " ")


def _vtt(cues: list[tuple[float, float, str]]) -> str:
    out = ["WEBVTT", ""]
    for number, (start, end, text) in enumerate(cues):
        if number + 1 < len(cues):
            end = min(end, max(cues[number + 1][0], start + 0.001))
        out += [f"{_vtt_time(start)} --> {_vtt_time(max(end, start + 0.001))}", _vtt_text(text), ""]
    return "\n".join(out)


def captions(chapters: list[Chapter]) -> str:
    """WebVTT captions of all recordings played one after the other."""
    return _vtt([line for c in chapters for line in c.lines])


def captions_of(chapters: list[Chapter]) -> str:
    """WebVTT captions of one recording by itself."""
    return _vtt([line for c in chapters for line in stories.caption_lines(c.note)])


def chapters_vtt(chapters: list[Chapter]) -> str:
    """The chapters as a WebVTT chapter track."""
    sounded = [c for c in chapters if c.start is not None and c.end is not None]
    return _vtt([(c.start or 0.0, c.end or 0.0, c.title) for c in sounded])


def by_recording(chapters: list[Chapter]) -> dict[str, list[Chapter]]:
    """Chapters with words, by the recording they are in."""
    found: dict[str, list[Chapter]] = {}
    for c in chapters:
        if c.note.audio and c.note.words:
            found.setdefault(c.note.audio, []).append(c)
    return found
