"""One self-contained HTML file from values: no script, nothing fetched, every text escaped."""

from collections.abc import Callable
from typing import Any

import msgspec
from jinja2 import Environment, PackageLoader, StrictUndefined

from station import CAUTION
from station.audit.capability import band_ends
from station.audit.drawn.bands import signed


class About(msgspec.Struct, frozen=True):
    """What a page says of its ledger; `told`: whether it was verified."""

    events: int
    head: str
    broken: str | None
    simulated: bool
    told: str


_PAGES = Environment(
    loader=PackageLoader("station.audit"),
    autoescape=True,  # names and notes are anybody's text, never markup
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


def page(
    template: str,
    about: About,
    local: Callable[[str], str],
    made_at: str,
    *,
    told_day: str | None = None,
    **values: Any,
) -> str:
    """The page by a template, `made_at` a moment. `local` writes a recorded time as the bench has
    it: "2026-11-30 10:00:01+01:00". `told_day`: the one of which a time of day is told alone, as
    the bench has it; None where the page is of one day, or tells days itself."""

    def clock(at: str) -> str:
        told = local(at)
        return told[11:19] if told_day in (None, told[:10]) else told[:19]

    return _PAGES.get_template(template).render(
        ledger=about,
        caution=CAUTION,
        made=local(made_at),
        local=local,
        clock=clock,
        grams=grams,
        band_ends=band_ends,
        number=number,
        signed=signed,
        **values,
    )


def grams(text: str | None) -> str:
    """A mass as text, to 0.01 g at most: targets are exact fractions."""
    if text is None:
        return "unknown"
    whole, _, part = text.partition(".")
    return text if len(part) <= 2 else f"{float(f'{whole}.{part}'):.2f}"


def number(figure: float | None) -> str:
    """A statistic, five digits of it."""
    return "unknown" if figure is None else f"{figure:.5g}".replace("-", "−")
