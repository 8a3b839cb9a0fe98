"""A made-up language that marks each text and makes it 40 % longer: no word of the desk escapes it; pages fit."""

import gettext
import re
from contextlib import suppress

import pytest
from browser_at import FILE
from desk_looks import fitting
from desk_states import BROKEN, STATES

from o2sim.desk import words
from o2sim.desk.books_kept import MAIN, MATCH, PICTURES, books_of
from o2sim.errors import ScenarioError
from o2sim.looks import cautions
from o2sim.looks.assumptions import assumptions, changes
from o2sim.records.books import BY_NAME as BY_NAME_OF_BOOK
from o2sim.scenario import loads
from o2sim.scenario.keys.answers import parse_answer
from o2sim.scenario.keys.prices import PRICES, parse_price
from o2sim.scenario.keys.questions import BY_NAME
from o2sim.scenario.text.source import source_of

LONGER = 1.4
MARKED = re.compile("⟦[^⟦⟧]*⟧")
WORD = re.compile(r"[^\W\d_]{2,}")
# Between texts; dates, and the "and" of a list, have no language yet.
APART = re.compile(r"\0|: |; |, | and |\d+ [A-Z][a-z]{2} \d{4} \d\d:\d\d|\b\d[\d,]*\b")
ITEM = "item"  # heard only: the head of the first column of the engine's tables
# What is not of the desk's own words: letters of units and names, and what begins a message about a figure.
TEXTS = """() => {
  const found = [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walk.nextNode(); node; node = walk.nextNode())
    if (!node.parentElement.closest("svg, script, style, noscript, textarea, code")) found.push(node.data);
  for (const each of document.querySelectorAll("[aria-label], [alt], [title], [placeholder]"))
    if (!each.closest("svg")) for (const name of ["aria-label", "alt", "title", "placeholder"])
      found.push(each.getAttribute(name) ?? "");
  return [document.title, ...found];
}"""


class MadeUp(gettext.NullTranslations):
    """A catalogue that gives each text back between marks, with more letters in short words."""

    def gettext(self, message):
        """Return a text as this language has it."""
        more = round(len(message) * (LONGER - 1))
        return f"⟦{message} {('lo ' * more)[: max(2, more - 1)].strip()}⟧"

    def ngettext(self, one, several, count):
        """Return what is said of so many things as this language has it."""
        return self.gettext(one if count == 1 else several)


def unmarked(texts):
    """Return what stands outside of marks, where there is a word in it."""
    left = []
    for text in texts:
        while MARKED.search(text):
            text = MARKED.sub("\0", text)
        parts = APART.split(text)
        left += [part for each in parts if WORD.search(part := one_line(each))]
    return left


def one_line(text):
    """Return a text without marks at its ends, in one line."""
    return " ".join(text.split()).strip(" ,;:.()|→")


def strings(found):
    """Return all texts of a result, keys too."""
    if isinstance(found, dict):
        return [text for pair in found.items() if pair[0] != "svg" for text in strings(list(pair))]
    return [text for each in found for text in strings(each)] if isinstance(found, list | tuple) else [str(found)]


def assumed_in(text):
    """Return what `describe` says of each value of a file, with the names on the way to it as words."""
    with suppress(ScenarioError):
        source = source_of(text, "<text>")
        rows = [row for part in (*assumptions(source).values(), *changes(source).values()) for row in part]
        return [text for row in rows for text in (row.path.replace("_", " "), row.meaning, row.value, row.origin)]
    return []


def theirs(at):
    """Return all words of the file, the engine, its cautions and the loader: not those of the desk."""
    folder = at.desk.folder.path
    files = [text for each in folder.glob("*.yaml") for text in (each.name, each.stem, each.read_text())]
    results = [text for each in at.desk.history.answers() for text in strings(each.result)]
    with pytest.raises(ScenarioError) as broken:
        loads(BROKEN, "hill.yaml")
    loader = [text for each in broken.value.problems for text in strings(list(vars(each).values()))]
    refused = [
        parse_answer(BY_NAME[name], typed).problem for name, typed in (("newborns", "forty"), ("fleet", "many"))
    ]
    refused += [parse_price(PRICES[0], "a lot", "").problem]
    for part in (MAIN, PICTURES, MATCH):
        results += strings(books_of(at.desk.history, FILE, part) or [])
    results += [text for job in at.desk.room._jobs.values() for text in strings(job.found or [])]
    results += [*BY_NAME_OF_BOOK, *unknown_keys(at), *cut_off(files)]
    lines = [text for each in folder.glob("*.yaml") for text in assumed_in(each.read_text())]
    said = [ITEM, folder.name, "hill.yaml", "Small ward", "forty", *refused]
    return " | ".join(map(one_line, [*said, *files, *lines, *results, *loader, *strings(cautions.LONG)]))


def unknown_keys(at):
    """Return the keys of what is a range in the file, with dots."""
    here = at.desk.read()
    known = () if here is None or here.scenario is None else here.scenario.uncertain
    return [place for each in known for place in each.places]


def cut_off(texts):
    """Return values of files as a page says them: a law by its parameters, without braces."""
    return [re.sub(r"[{}:]", "", text).replace("_", " ") for text in texts]


@pytest.mark.parametrize("name", [*STATES][::-1])  # so that two processes seldom wait for one and the same result
def test_every_word_is_marked_and_every_page_fits(at, name, monkeypatch):
    """What a reader sees or hears is marked but for what file, engine and loader say; longer words fit."""
    monkeypatch.setattr(words, "_catalogue", lambda _: MadeUp())
    at.marked = True
    STATES[name](at)
    at.open_all()
    known = theirs(at)
    assert [text for text in unmarked(at.page.evaluate(TEXTS)) if text not in known] == []
    assert fitting(at.page, (390,)) == {}  # the narrowest: longer words have the least room there
