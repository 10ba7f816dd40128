"""From a note's text to an Utterance: tokens, mishearings, numbers, quantities, dates, lexicon hits, clauses.

The stages are plain functions on the Utterance, in the order of STAGES. `parse_light` runs them bare, as reading does; `parse` runs
the same ones as components of a spaCy pipeline (`nlp`), where other components can be put beside them.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from functools import cache
from importlib import import_module
from typing import TYPE_CHECKING, Any

from diary.language import clauses, heard, lexicon
from diary.language import text as words
from diary.language.types import Context, Utterance

if TYPE_CHECKING:
    from spacy.language import Language

def stage_tokens(utterance: Utterance, context: Context) -> None:
    """Words with positions, known mishearings mended."""
    utterance.tokens = heard.mend(words.tokens(utterance.text))


def stage_numbers(utterance: Utterance, context: Context) -> None:
    """Spoken and written numbers."""
    if read := _reader("numerals", "read_numbers"):
        utterance.numbers = read(utterance.text, meters=context.meters)


def stage_quantities(utterance: Utterance, context: Context) -> None:
    """Numbers with units."""
    if read := _reader("quantities", "read_quantities"):
        utterance.quantities = read(
            utterance.text, locale=context.locale, numbers=utterance.numbers, meters=context.meters
        )


def stage_dates(utterance: Utterance, context: Context) -> None:
    """Days named, seen from the note's own time."""
    if read := _reader("dates", "read_dates"):
        utterance.dates = read(utterance.text, utterance.at, month_first=context.locale.volume == "gal_us")


def _reader(module: str, function: str) -> Callable[..., Any] | None:
    try:
        return getattr(import_module(f"diary.language.{module}"), function, None)
    except ModuleNotFoundError as error:
        if error.name != f"diary.language.{module}":
            raise
        return None


def stage_hits(utterance: Utterance, context: Context) -> None:
    """Words of the trade."""
    utterance.hits = lexicon.load().find(utterance.text, utterance.tokens)


def stage_clauses(utterance: Utterance, context: Context) -> None:
    """Clauses and the scope they stand in."""
    utterance.clauses = clauses.split(utterance, context.others, context.machine)


STAGES: tuple[tuple[str, Callable[[Utterance, Context], None]], ...] = (
    ("diary_tokens", stage_tokens),
    ("diary_numbers", stage_numbers),
    ("diary_quantities", stage_quantities),
    ("diary_dates", stage_dates),
    ("diary_hits", stage_hits),
    ("diary_clauses", stage_clauses),
)


def parse_light(text: str, context: Context | None = None) -> Utterance:
    """The utterance of `text`, every stage run, without spaCy; `context.now` is the note's own time."""
    context = context or Context()
    utterance = Utterance(text, context.now)
    for _, stage in STAGES:
        stage(utterance, context)
    return utterance


def parse(text: str, context: Context | None = None) -> Utterance:
    """The same, through the spaCy pipeline."""
    context = context or Context()
    doc = nlp().make_doc(text)
    doc._.utterance = Utterance(text, context.now)
    doc._.context = context
    for _, component in nlp().pipeline:
        doc = component(doc)
    utterance: Utterance = doc._.utterance
    return utterance


@cache
def nlp() -> Language:
    """A blank English spaCy pipeline whose components are the stages; they write `doc._.utterance`, given
    `doc._.context`."""
    import spacy
    from spacy.language import Language
    from spacy.tokens import Doc

    for name in ("utterance", "context"):
        if not Doc.has_extension(name):
            Doc.set_extension(name, default=None)
    pipeline = spacy.blank("en")
    for name, stage in STAGES:
        if not Language.has_factory(name):
            Language.factory(name, func=_factory(stage))
        pipeline.add_pipe(name)
    return pipeline


def _factory(stage: Callable[[Utterance, Context], None]) -> Callable[..., Any]:
    def make(nlp: Any, name: str) -> Callable[[Any], Any]:
        def component(doc: Any) -> Any:
            if doc._.context is None:
                doc._.context = Context(now=datetime.now())
            if doc._.utterance is None:
                doc._.utterance = Utterance(doc.text, doc._.context.now)
            stage(doc._.utterance, doc._.context)
            return doc

        return component

    return make
