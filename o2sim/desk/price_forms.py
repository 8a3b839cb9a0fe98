"""The page of prices as a form: what stands in each field, what is wrong with it, what goes into the file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from starlette.datastructures import FormData

from o2sim.desk.desk import text_in
from o2sim.desk.forms import CHOICE, OURS, USE, draft_of
from o2sim.desk.history import Draft
from o2sim.desk.words import say, translated
from o2sim.scenario.keys.answers import Answer
from o2sim.scenario.keys.prices import (
    CURRENCY,
    CURRENCY_KEY,
    CURRENCY_LABEL,
    OF_PURSE,
    PRICE_BY_NAME,
    PRICE_NAMES,
    PRICES,
    PUBLISHED_IN,
    Price,
    currency_wrong,
    parse_price,
    price_values,
    read_prices,
    say_amount,
)

Drafts = Mapping[str, Draft]


@dataclass(frozen=True)
class AskedPrice:
    """A price as it stands on its page; other: line and form in the file, where no field has it."""

    price: Price
    usual: str
    unit: str
    draft: Draft
    problem: str
    other: tuple[int, str] | None


def price_drafts(form: FormData) -> dict[str, Draft]:
    """Return what was typed and chosen of the fields that the form has."""
    return {
        name: draft_of(text_in(form, f"{name}{CHOICE}"), text_in(form, name))
        for name in PRICE_NAMES
        if name in form
    }


def prices_there(text: str | None) -> dict[str, Answer]:
    """Return what a file says of each price; nothing for none."""
    return {} if text is None else read_prices(text)


def currency_of(drafts: Drafts, there: Mapping[str, Answer]) -> str:
    """Return the currency that is typed, else that of the file, "" for neither."""
    return drafts.get(CURRENCY, Draft()).typed or there.get(CURRENCY, Answer("missing")).text


def price_problem(name: str, draft: Draft, currency: str) -> str:
    """Return what is wrong with what was typed, "" for nothing; an empty field says nothing."""
    if name == CURRENCY:
        return currency_wrong(draft.typed) if draft.typed else ""
    if draft.choice == USE:
        return "" if currency in ("", PUBLISHED_IN) else say("price_published", currency=PUBLISHED_IN)
    return parse_price(PRICE_BY_NAME[name], draft.typed, currency).problem if draft.typed else ""


def price_problems(drafts: Drafts, there: Mapping[str, Answer]) -> list[tuple[str, str, str]]:
    """Return what is wrong: the field, its label, what; prices need a currency."""
    currency = currency_of(drafts, there)
    found = [(name, label_of(name), price_problem(name, draft, currency)) for name, draft in drafts.items()]
    found = [each for each in found if each[2]]
    if _needs(CURRENCY, drafts, there) and any(_needs(name, drafts, there) for name in PRICE_BY_NAME):
        said = say("price_currency_stays") if currency else say("price_no_currency")
        found.insert(0, (CURRENCY, label_of(CURRENCY), said))
    return found


def _needs(name: str, drafts: Drafts, there: Mapping[str, Answer]) -> bool:
    """Return whether the currency is left empty; of a price, whether it would stand in the file."""
    is_there = there.get(name, Answer("missing")).whose != "missing"
    stands = _says(drafts[name]) if name in drafts and not _is_other(name, there) else is_there
    return not stands if name == CURRENCY else stands


def _is_other(name: str, there: Mapping[str, Answer]) -> bool:
    return there.get(name, Answer("missing")).whose == "other"


def label_of(name: str) -> str:
    """Return what a field is called."""
    return translated(CURRENCY_LABEL if name == CURRENCY else PRICE_BY_NAME[name].label)


def _says(draft: Draft) -> bool:
    return bool(draft.typed) or draft.choice == USE


def asked_prices(there: Mapping[str, Answer], drafts: Drafts, wrong: Mapping[str, str]) -> list[AskedPrice]:
    """Return the prices as the page shows them: with what is typed, else with what the file says."""
    currency = currency_of(drafts, there) or say("price_letters")
    shown = [*PRICES, *(each for each in OF_PURSE if there.get(each.name, Answer("missing")).whose != "missing")]
    return [_asked(price, there.get(price.name), drafts, wrong, currency) for price in shown]


def _asked(
    price: Price, there: Answer | None, drafts: Drafts, wrong: Mapping[str, str], currency: str
) -> AskedPrice:
    other = (there.line, there.note) if there is not None and there.whose == "other" else None
    usual = "" if price.usual is None else f"{say_amount(price.usual.figure)} {PUBLISHED_IN}"
    draft = drafts.get(price.name, _drafted(there))
    return AskedPrice(price, usual, f"{currency}{price.suffix}", draft, wrong.get(price.name, ""), other)


def _drafted(there: Answer | None) -> Draft:
    if there is None or there.whose in ("missing", "other"):
        return Draft()
    return Draft(USE) if there.whose == "usual" else Draft(OURS, there.text)


def wanted(drafts: Drafts, there: Mapping[str, Answer], note: str) -> tuple[dict[str, str | None], dict[str, str]]:
    """Return the values to set in a file and their comments, by dotted key; nothing where nothing differs.

    None takes out a price, or the currency, whose field was emptied.
    """
    currency = currency_of(drafts, there)
    typed = {name: _typed(name, draft) for name, draft in drafts.items() if name != CURRENCY and _says(draft)}
    said = {name: text for name, text in typed.items() if not _is_other(name, there)}
    values = price_values(said, currency) if currency else {}
    sources = {
        PRICE_BY_NAME[name].key: usual.source
        for name in said
        if drafts[name].choice == USE and (usual := PRICE_BY_NAME[name].usual) is not None
    }
    before = {PRICE_BY_NAME[name].key: answer for name, answer in there.items() if name != CURRENCY}
    before[CURRENCY_KEY] = there.get(CURRENCY, Answer("missing"))
    differ = {
        key: value for key, value in values.items() if value.split()[0] != before.get(key, Answer("missing")).text
    }
    return {**differ, **_emptied(drafts, there)}, {key: sources.get(key, note) for key in differ}


def _emptied(drafts: Drafts, there: Mapping[str, Answer]) -> dict[str, None]:
    """Return the keys to take out: what the file has and a field has no more; the currency last."""
    is_empty = [
        name
        for name, answer in there.items()
        if name in drafts and not _says(drafts[name]) and answer.whose not in ("missing", "other")
    ]
    keys = [PRICE_BY_NAME[name].key for name in is_empty if name != CURRENCY]
    return dict.fromkeys([*keys, *([CURRENCY_KEY] if CURRENCY in is_empty else [])])


def _typed(name: str, draft: Draft) -> str:
    usual = PRICE_BY_NAME[name].usual
    return say_amount(usual.figure) if draft.choice == USE and usual is not None else draft.typed
