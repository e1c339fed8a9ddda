"""Molar masses, and one agent expressed as another: nitrite as its ion, phosphate as P2O5.

Standard atomic weights, IUPAC abridged values as molmass gives them; exact here, in `Fraction`.
"""

from collections.abc import Iterable, Mapping
from difflib import SequenceMatcher
from fractions import Fraction
from types import MappingProxyType

from station.names import bare

ATOMS: Mapping[str, Fraction] = MappingProxyType(
    {
        "H": Fraction("1.007941"),
        "C": Fraction("12.01074"),
        "N": Fraction("14.006703"),
        "O": Fraction("15.999405"),
        "Na": Fraction("22.98976928"),
        "P": Fraction("30.973761998"),
        "S": Fraction("32.0648"),
        "Cl": Fraction("35.4529"),
        "K": Fraction("39.0983"),
    }
)
"""g/mol."""

Composition = Mapping[str, int]

AGENTS: Mapping[str, Composition] = MappingProxyType(
    {
        "sodium nitrite": {"Na": 1, "N": 1, "O": 2},
        "potassium nitrite": {"K": 1, "N": 1, "O": 2},
        "nitrite ion": {"N": 1, "O": 2},
        "sodium nitrate": {"Na": 1, "N": 1, "O": 3},
        "potassium nitrate": {"K": 1, "N": 1, "O": 3},
        "nitrate ion": {"N": 1, "O": 3},
        "ascorbic acid": {"C": 6, "H": 8, "O": 6},
        "sodium ascorbate": {"C": 6, "H": 7, "O": 6, "Na": 1},
        "erythorbic acid": {"C": 6, "H": 8, "O": 6},
        "sodium erythorbate": {"C": 6, "H": 7, "O": 6, "Na": 1},
        "phosphorus pentoxide": {"P": 2, "O": 5},
        "trisodium phosphate": {"Na": 3, "P": 1, "O": 4},
        "disodium phosphate": {"Na": 2, "H": 1, "P": 1, "O": 4},
        "sodium acid pyrophosphate": {"Na": 2, "H": 2, "P": 2, "O": 7},
        "tetrasodium pyrophosphate": {"Na": 4, "P": 2, "O": 7},
        "sodium tripolyphosphate": {"Na": 5, "P": 3, "O": 10},
        "sulphur dioxide": {"S": 1, "O": 2},
        "sodium metabisulphite": {"Na": 2, "S": 2, "O": 5},
        "sodium sulphite": {"Na": 2, "S": 1, "O": 3},
        "sodium hydrogen sulphite": {"Na": 1, "H": 1, "S": 1, "O": 3},
        "potassium metabisulphite": {"K": 2, "S": 2, "O": 5},
        "salt": {"Na": 1, "Cl": 1},
    }
)
"""Agents by the name that formulas and limits use, and what a molecule of each is made of."""

OTHER_AGENTS = frozenset(
    {
        "glucono delta lactone",
        "citric acid",
        "sodium citrate",
        "potassium sorbate",
        "sorbic acid",
        "sodium benzoate",
        "benzoic acid",
        "sodium lactate",
        "potassium lactate",
        "sodium diacetate",
        "natamycin",
        "nisin",
    }
)
"""Agents that limits may name and that are never expressed as another."""

_SYNONYMS: Mapping[str, str] = MappingProxyType(
    {
        "sodium chloride": "salt",
        "nacl": "salt",
        "nano2": "sodium nitrite",
        "e250": "sodium nitrite",
        "kno2": "potassium nitrite",
        "e249": "potassium nitrite",
        "nano3": "sodium nitrate",
        "e251": "sodium nitrate",
        "kno3": "potassium nitrate",
        "e252": "potassium nitrate",
        "e300": "ascorbic acid",
        "e301": "sodium ascorbate",
        "e315": "erythorbic acid",
        "e316": "sodium erythorbate",
        "sodium isoascorbate": "sodium erythorbate",
        "e220": "sulphur dioxide",
        "sulfur dioxide": "sulphur dioxide",
        "e221": "sodium sulphite",
        "sodium sulfite": "sodium sulphite",
        "e222": "sodium hydrogen sulphite",
        "sodium bisulphite": "sodium hydrogen sulphite",
        "sodium bisulfite": "sodium hydrogen sulphite",
        "e223": "sodium metabisulphite",
        "sodium metabisulfite": "sodium metabisulphite",
        "e224": "potassium metabisulphite",
        "potassium metabisulfite": "potassium metabisulphite",
        "sodium triphosphate": "sodium tripolyphosphate",
        "pentasodium triphosphate": "sodium tripolyphosphate",
        "stpp": "sodium tripolyphosphate",
        "tetrasodium diphosphate": "tetrasodium pyrophosphate",
        "disodium diphosphate": "sodium acid pyrophosphate",
        "sapp": "sodium acid pyrophosphate",
        "disodium hydrogen phosphate": "disodium phosphate",
        "gdl": "glucono delta lactone",
        "e575": "glucono delta lactone",
    }
)
"""What else an agent is called: formulas of chemistry, E numbers, American spelling."""


def agent_name(text: str) -> str:
    """The one name of an agent: case, spacing and other names of it do not tell agents apart."""
    name = bare(text).replace("\u0131", "i")  # a dotless i is no other letter here
    e_number = name.replace(" ", "").replace("-", "") if name.startswith("e") else name
    return _SYNONYMS.get(e_number, _SYNONYMS.get(name, name))


def near_agent(name: str, known: Iterable[str]) -> str:
    """A hint at the agents that a name may mean, or nothing; all of those that are as near, since
    nitrite for nitrate is no slip to lead people into."""
    names = sorted(known)
    words = set(name.split())
    near = [other for other in names if words < set(other.split())]
    if not near:
        ratio = {other: SequenceMatcher(None, name, other).ratio() for other in names}
        best = max(ratio.values(), default=0.0)
        near = [o for o in names if ratio[o] >= max(_NEAR, best - _AS_NEAR)]
    return f"; did you mean {' or '.join(map(repr, near))}?" if near else ""


_NEAR = 0.75
"""How like a name must be: below it potassium chloride is taken for a nitrite."""
_AS_NEAR = 0.05


_CARRIED = ("N", "P", "S", "C")
"""The atom by which an agent counts as another, the first that both have."""


def molar_g(agent: str) -> Fraction:
    """g/mol. Raises `KeyError` for an agent that is not in the table."""
    return sum((ATOMS[atom] * n for atom, n in AGENTS[agent].items()), Fraction(0))


def factor(agent: str, expressed_as: str) -> Fraction:
    """How many grams of `expressed_as` one gram of `agent` counts as, by the atom they share: one
    mole of nitrite, phosphorus or sulphur. Raises `KeyError`, or `ValueError` where they share
    none."""
    if agent == expressed_as:
        return Fraction(1)
    here, there = AGENTS[agent], AGENTS[expressed_as]
    for atom in _CARRIED:
        if atom in here and atom in there:
            moles = Fraction(here[atom], there[atom])
            return molar_g(expressed_as) * moles / molar_g(agent)
    raise ValueError(f"{agent} cannot be expressed as {expressed_as}")
