"""What a name says: words that mean a cure or another regulated agent, in the trade's languages.

A premix taken for table salt is the worst slip of the trade: 1.8 % of one with 6.25 % of nitrite is
1125 mg/kg. So a name that may mean a cure is one, until `contains` says how much is in it. The
words are common practice.
"""

import re
import unicodedata

from station.formula.masses import AGENTS, OTHER_AGENTS, agent_name

WHICH = "saltpetre has meant potassium nitrate, sodium nitrate and sodium nitrite: write which"

_SALTPETRE = re.compile(
    r"sal[tp]?pet|salpiet|salitr|saletr|silitr|salnitr|\bsal nitro\b|sanytr|селитр|硝石"
)
_CURE = re.compile(
    _SALTPETRE.pattern
    + r"|nitri{1,2}e?t|nitra{1,2}t|\bnitro\b|azot[ayi][nt]|dusitan|dusicnan|нитрит|нитрат|νιτρ"
    r"|硝酸|\be ?-?(?:249|25[0-2])\b"  # nitrite and nitrate
    r"|\bcures?\b|curing|\b(?:tinted|dyed|brine|pickling) (?:salt|mix)|\bprague (?:salt|powder)"
    r"|\bpoe?kel|\bnps\b|pekelzout|colorozo|kolorozo"
    r"|\bsels? (?:de |a |pour )?salaison|\bsal(?:es)? (?:(?:de |para )?cura|nitr)"
    r"|peklos|peklow|pekluj|rychlosol|rychlosul|\bpacso|\bkurleme"
)
_PINK = re.compile(r"\b(?:pink salts?|sel rose|sale? rosa)\b")
_ROCK = "himala"
"""Rock salt that is pink by nature says where it is from."""
_REGULATED = re.compile(
    r"accelerator|umrot|celery (?:powder|juice)|ascorb|erythorb|phosph|sul(?:ph|f)it"
    r"|sul(?:ph|f)ur diox|sorbate|sorbic|benzoa|benzoic"
    r"|\be ?-?(?:2[0-9]{2}|30[0-9]|31[0-9]|33[89]|34[0-3]|45[0-2])\b"
)
"""Other agents, and E numbers of preservatives, antioxidants and phosphates."""
_VEGETABLE = re.compile(
    r"\b(?:celery|celeriac|sellerie|apio|celeri|beet\w*|chard|spinach|lettuce|radish"
    r"|vegetables?|gemuse|legumes?|verduras?|plant|cultured|natural cure)\b"
)
"""Plants that nitrite is won from by fermenting."""
_SPEEDS_CURE = re.compile(r"\b(?:cure|curing) accelerator")
_WITHOUT = re.compile(
    r"\b(?:no|without|free (?:of|from)) (?:(?:added|sodium|potassium) )*\w+"
    r"|\w+[ -]free\b(?![ -]?(?:of|from|flow|run))"
)
"""What a name says it is without, and nothing beside that: in "nitrite (no iodine)" the iodine."""


def means_cure(text: str) -> bool:
    """Whether a name may mean nitrite or nitrate, pure or in a mixture."""
    name = _heard(text)
    return bool(_CURE.search(name)) or (bool(_PINK.search(name)) and _ROCK not in name)


def sounds_regulated(text: str) -> bool:
    """Whether an agent, or a line, is by its name one that additive law is about."""
    name = agent_name(text)
    if name in AGENTS or name in OTHER_AGENTS:
        return name != "salt"
    return means_cure(text) or bool(_REGULATED.search(_heard(text)))


def from_vegetable(text: str) -> bool:
    """Whether a name says that what it holds comes from a plant that is rich in nitrate (common
    practice)."""
    return bool(_VEGETABLE.search(_heard(text)))


def saltpetre(text: str) -> bool:
    """Whether a name says saltpetre, which is not enough: people were poisoned by the mix-up of
    nitrate and nitrite (Arch. Dis. Child. 76/4/367)."""
    return bool(_SALTPETRE.search(_heard(text)))


def _heard(text: str) -> str:
    """A name in small letters without accents, and without what it says it is without."""
    name = unicodedata.normalize("NFKD", agent_name(text))
    name = "".join(sign for sign in name if not unicodedata.combining(sign))
    return _WITHOUT.sub("", _SPEEDS_CURE.sub("accelerator", name))


def is_nitrite(agent: str) -> bool:
    """Whether an agent is a nitrite, by its name."""
    return "nitrit" in agent


def cures(agent: str) -> bool:
    """Whether an agent is a nitrite or a nitrate."""
    return "nitrit" in agent or "nitrat" in agent


def is_sulphite(agent: str) -> bool:
    """Whether an agent is sulphur dioxide or one of its salts."""
    return agent == "sulphur dioxide" or "sulphit" in agent
