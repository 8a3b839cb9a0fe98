"""All words of the desk stand in one table; templates hold none of their own."""

import datetime as dt
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from o2sim.desk import words
from o2sim.desk.words.counted import Counted

DESK = Path(words.__file__).parent.parent
TEMPLATES = sorted((DESK / "pages").glob("*.html"))
JINJA = re.compile(r"\{#.*?#\}|\{%.*?%\}|\{\{.*?\}\}", re.DOTALL)
SAID = re.compile(r"""\bsay\(\s*["']([^"']+)["']""")
BUILT = re.compile(r"""\bsay\(\s*f?["']([a-z_]+_)(?:\{|["'] ~)""")  # a name whose end is put together
ONE_OF_SEVERAL = re.compile(r"\b1 (?!is\b|as\b)[a-z-]+s\b")
NEVER_ONE = {
    "of",
    "done",
    "allowed",
    "found",
    "when",
    "runs",
    "buy",
    "file",
    "name",
    "money",
}  # twelve figures, 200 years; texts, moments
SHOWN = ("aria-label", "alt", "title", "placeholder")


class Texts(HTMLParser):
    """Takes the texts of a page that a reader sees or hears."""

    def __init__(self):
        """Begin with none."""
        super().__init__()
        self.found = []

    def handle_data(self, data):
        """Take a text between tags."""
        self.found.append(data)

    def handle_starttag(self, _, attrs):
        """Take what is read aloud of a tag."""
        self.found += [value or "" for name, value in attrs if name in SHOWN]


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_a_template_holds_no_word(path):
    """What a reader sees comes from the table of words, but for marks and the ending of a file's name."""
    page = Texts()
    page.feed(JINJA.sub("", path.read_text()))
    letters = [text.strip() for text in page.found if re.search(r"[A-Za-z]", text.replace(".yaml", ""))]
    assert letters == []


def test_every_word_is_used_and_every_use_has_its_words():
    """No name is asked for that the table lacks, and none stands there that nobody asks for."""
    sources = "".join(path.read_text() for path in (*TEMPLATES, *DESK.glob("*.py"), *DESK.glob("words/*.py")))
    named, beginnings = set(SAID.findall(sources)), set(BUILT.findall(sources))
    named -= beginnings
    assert named - words.WORDS.keys() == set()
    unused = {name for name in words.WORDS if name not in named and not name.startswith(tuple(beginnings))}
    assert unused == set()


def test_no_name_stands_in_two_tables():
    """Each text has a name of its own, whichever file it stands in."""
    assert len(words.WORDS) == sum(map(len, words.TABLES))


class Ones(dict):
    """Gives 1 for every value that a text takes."""

    def __missing__(self, name):
        """Return how many there are."""
        return 12 if name in NEVER_ONE else 1


@pytest.mark.parametrize("name", words.WORDS)
def test_one_thing_is_not_said_as_several(name):
    """With 1 for every number of it, no text says "1 cylinders"."""
    found = words.WORDS[name]
    text = found.one if isinstance(found, Counted) else found
    assert ONE_OF_SEVERAL.findall(text.format_map(Ones())) == []


@pytest.mark.parametrize(
    ("count", "said"), [(1, "1 cylinder"), (2, "2 cylinders"), (1_200, "1,200 cylinders"), (0, "0 cylinders")]
)
def test_things_are_counted_as_a_language_counts(count, said):
    """One thing by its own word; a thing whose word nobody knows as it is called."""
    assert words.counted(count, "cylinders") == said
    assert words.counted(1, "battery") == "1 battery"


def test_another_language_is_another_catalogue(monkeypatch):
    """Each text goes through gettext before anything is put in: a made-up language marks them all."""
    import gettext

    class Marked(gettext.NullTranslations):
        def gettext(self, message):
            """Return a text with marks."""
            return f"[{message}]"

        def ngettext(self, one, several, count):
            """Return what is said of so many with marks; this language has one form more."""
            return f"[{one if count == 1 else several}{'!' if count == 2 else ''}]"

    monkeypatch.setattr(words, "_catalogue", lambda _: Marked())
    assert words.say("page_of", "xx", page=1, pages=4) == "[Page 1 of 4]"
    assert [words.say("keep_in", "xx", count=count) for count in ("1", 2)] == [
        "[1 year in 100]",
        "[2 years in 100!]",
    ]


@pytest.mark.parametrize(
    ("when", "said"),
    [(dt.datetime(2026, 11, 28, 14, 2), "today 14:02"), (dt.datetime(2026, 1, 5, 9, 30), "5 Jan 2026 09:30")],
)
def test_a_moment_has_its_day_unless_that_is_today(when, said):
    """Of today only the time is said."""
    assert words.moment(when, dt.date(2026, 11, 28)) == said


@pytest.mark.parametrize(
    ("seconds", "said"), [(0.2, "1 s"), (8.4, "8 s"), (89, "89 s"), (91, "2 min"), (600, "10 min")]
)
def test_a_time_to_go_is_never_none(seconds, said):
    """What is left is said in whole seconds, at least one, or in whole minutes, rounded up."""
    assert words.duration(seconds) == said
