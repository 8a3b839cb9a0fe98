"""All words of the desk, in one place; another language is another catalogue of the standard library's gettext.

Templates hold no sentence of their own. Sentences and tables of an answer come from the questions' own words.
Each file of this folder has the words of some pages; of two files none has the same name.
"""

from __future__ import annotations

import datetime as dt
import gettext
from functools import cache

from o2sim.desk.words import every_page, of_answers, of_books, of_files, of_hospital, of_supply, of_today
from o2sim.desk.words.counted import Counted, how_many

DOMAIN = "o2sim-desk"
TABLES = (
    every_page.WORDS, of_hospital.WORDS, of_files.WORDS, of_books.WORDS, of_answers.WORDS, of_supply.WORDS,
    of_today.WORDS,
)  # fmt: skip
WORDS: dict[str, str | Counted] = {name: text for table in TABLES for name, text in table.items()}


@cache
def _catalogue(language: str) -> gettext.NullTranslations:
    return gettext.translation(DOMAIN, languages=[language], fallback=True)


def say(name: str, language: str = "en", /, **values: object) -> str:
    """Return a text by its name, in a language, with values put in; of one thing otherwise than of several."""
    found, catalogue = WORDS[name], _catalogue(language)
    if isinstance(found, Counted):
        return catalogue.ngettext(found.one, found.many, how_many(values[found.by])).format(**values)
    return catalogue.gettext(found).format(**values)


def counted(count: int, item: str) -> str:
    """Return how many there are of a thing by its name in the lists: "1 cylinder", "2 cylinders"."""
    said = f"{count:,}"
    head, _, model = item.partition(", ")
    if model and f"thing_{head}_of" in WORDS:
        return say(f"thing_{head}_of", count=said, model=model)
    return say(f"thing_{item}", count=said) if f"thing_{item}" in WORDS else say("thing", count=said, item=item)


def translated(text: str, language: str = "en") -> str:
    """Return a text that stands elsewhere, such as of a question, in a language."""
    return _catalogue(language).gettext(text) if text else ""  # of an empty text a catalogue gives its head


def moment(when: dt.datetime, today: dt.date) -> str:
    """Return a time of day, with the day where that is not today."""
    clock = f"{when:%H:%M}"
    if when.date() == today:
        return say("today", when=clock)
    return f"{when.day} {when:%b %Y} {clock}"


def duration(seconds: float) -> str:
    """Return about how long something takes, rounded up: "8 s", "2 min"."""
    if seconds < 90:
        return say("seconds", count=max(1, round(seconds)))
    return say("minutes", count=-int(-seconds // 60))
