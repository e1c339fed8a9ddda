"""The words of a formula file, by what people call them: species, roles, products.

What is the same by another name is understood; what is only near is offered, never taken. Which
words are near is common practice.
"""

from collections.abc import Mapping

from station.formula.model import PRODUCT_WORDS, ROLES, SPECIES
from station.tomlfile import near

_SPECIES: Mapping[str, str] = {
    **dict.fromkeys(("pig", "swine", "hog", "pigs"), "pork"),
    "cow": "beef",
    "sheep": "mutton",
}
_ROLES: Mapping[str, str] = dict.fromkeys(
    ("spice", "spices", "herb", "herbs", "seasonings"), "seasoning"
)
_NEAR_ROLES: Mapping[str, str] = {
    **dict.fromkeys(("curing", "curing salt", "premix", "nitrite", "nitrate"), "cure"),
    **dict.fromkeys(("ascorbate", "erythorbate", "antioxidant"), "accelerator"),
    **dict.fromkeys(("crumb", "rusk", "filler", "extender", "starch", "milk powder"), "binder"),
    **dict.fromkeys(("sugar", "dextrose", "honey"), "sweetener"),
    **dict.fromkeys(("starter", "starter culture", "mould"), "culture"),
    **dict.fromkeys(("ice", "liquid", "wine", "stock"), "water"),
}
_NEAR_PRODUCTS: Mapping[str, str] = {
    **dict.fromkeys(("ham", "gammon"), "cured whole"),
    **dict.fromkeys(("salami", "pepperoni"), "raw cured fermented dried comminuted sausage"),
    **dict.fromkeys(("wiener", "bologna"), "cooked cured comminuted frankfurter sausage"),
    **dict.fromkeys(("boiled", "scalded", "heated", "poached"), "cooked"),
    **dict.fromkeys(("hamburger", "mince"), "ground"),
    **dict.fromkeys(("chopped", "minced", "emulsion"), "comminuted"),
    **dict.fromkeys(("link", "links", "banger", "bratwurst", "ring"), "sausage"),
    **dict.fromkeys(("canned", "tinned"), "sterilised"),
    "patty": "burger",
}


def species(text: str) -> str:
    """A species of the list, by any of its everyday names. Raises `ValueError`."""
    name = text.strip().casefold()
    name = _SPECIES.get(name, name)
    if name not in SPECIES:
        raise ValueError(f"found {text!r}, allowed {', '.join(SPECIES)}{near(name, SPECIES)}")
    return name


def role(text: str) -> str:
    """A role of the list; a spice or a herb is a seasoning. Raises `ValueError`."""
    name = text.strip().casefold()
    name = _ROLES.get(name, name)
    if name not in ROLES:
        offer = _offer(name, ROLES, _NEAR_ROLES)
        raise ValueError(f"found {text!r}, allowed {', '.join(ROLES)}{offer}")
    return name


def product(text: str) -> tuple[str, ...]:
    """The words that a product is told by. Raises `ValueError` that names every other one."""
    words = tuple(text.split())
    told = [
        f"{word!r}{_offer(word.casefold(), PRODUCT_WORDS, _NEAR_PRODUCTS)}"
        for word in words
        if word not in PRODUCT_WORDS
    ]
    if told:
        raise ValueError(f"found {', '.join(told)}; allowed words {', '.join(PRODUCT_WORDS)}")
    return words


def _offer(word: str, allowed: tuple[str, ...], also: Mapping[str, str]) -> str:
    return f"; did you mean {also[word]!r}?" if word in also else near(word, allowed)
