"""A node that is to be a number with a unit in, the number out; what is wrong noted with its place."""

from __future__ import annotations

import re
from collections.abc import Sequence

from o2sim.errors import QuantityError
from o2sim.quantities import units
from o2sim.scenario.text.nodes import Node, Scalar, describe
from o2sim.scenario.text.problems import Problems, listing

# The message of units: `found ...; allowed: a flow such as 0.5 L/min (units: ...) (hint)`.
_MESSAGE = re.compile(
    r"(?P<found>.*?)(?:; allowed: (?P<allowed>[^()]*(?:\(units: [^()]*\))?)(?: \((?P<hint>.*)\))?)?", re.DOTALL
)


def split_message(error: QuantityError) -> tuple[str, str, str]:
    """Return what was found, what is allowed and the hint of an error of units."""
    match = _MESSAGE.fullmatch(str(error))
    assert match is not None  # `.*?` alone matches any text
    return match["found"], match["allowed"] or "", match["hint"] or ""


def within(kind: units.Kind, least: str, most: str) -> str:
    """Return `a duration from 1 min to 100 years` ; an empty text is no limit."""
    article = "an" if kind == "energy" else "a"
    noun = "plain number" if kind == "number" else kind
    if least and most:
        return f"{article} {noun} from {least} to {most}"
    return f"{article} {noun} of at least {least}" if least else f"{article} {noun} of at most {most}"


def read_quantity(
    problems: Problems, node: Node, kind: units.Kind, least: str = "", most: str = "", words: Sequence[str] = ()
) -> float:
    """Return the value of a scalar in the internal unit of its kind (see units.read), not rounded.

    words are what else may stand there, for the message. Raises RefusedError.
    """
    others = f", or {listing(words)}" if words else ""
    if not isinstance(node, Scalar):
        raise problems.add(node, f"found {describe(node)}", units.allowed(kind) + others)
    try:
        value = units.read(node.text, kind)
    except QuantityError as error:
        found, allowed, hint = split_message(error)
        raise problems.add(node, found, allowed + others, hint) from None
    too_low = least != "" and value < units.read(least, kind)
    if node.refused or too_low or (most != "" and value > units.read(most, kind)):
        reason = "too low" if too_low else "too high"
        raise problems.add(node, f"found {describe(node)}: {reason}", within(kind, least, most) + others)
    return value
