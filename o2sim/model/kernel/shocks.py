"""Shocks: the short seconds while a storm is on. What it does to road, power and supplier stands in the draws."""

from __future__ import annotations

from o2sim.compiler.jit import Record, Whole, compile_file
from o2sim.model.kernel.layout import spell_at


def credit_shocks(k: Record, root: Whole, since_s: Whole) -> None:
    """Credit somebody's short seconds since a second to their root, as far as a storm was on."""
    place, seconds = _begun(k), 0
    while place > 0 and spell_at(k.shocks, place - 1).end_s > since_s:
        place -= 1
        spell = spell_at(k.shocks, place)
        seconds += min(spell.end_s, k.now) - max(spell.start_s, since_s)
    k.ledger.shock_short_s[root] += seconds


def _begun(k: Record) -> Whole:
    """Return how many spells have begun before this second; time goes forward, so most calls change nothing."""
    while k.shocks_begun < k.shock_count and spell_at(k.shocks, k.shocks_begun).start_s < k.now:
        k.shocks_begun += 1
    return k.shocks_begun


compile_file(globals())
