"""A grammar of one regex, and what it makes of frames."""

from drivers.grammar import Grammar, compile_grammar
from drivers.parser import Parser
from drivers.reading import Fault, Reading

HEAD = "name = 'x'\nabout = 'x'\n"


def made(regex: str, more: str = "", frame: str = 'end = "\\n"\nunit = "g"') -> Grammar:
    return compile_grammar(f"{HEAD}{frame}\nregex = '''{regex}'''\n{more}", "x.toml")


def said(grammar: Grammar, data: bytes) -> list[Reading | Fault]:
    return list(Parser(grammar).feed(data, 0.0))


def weights(grammar: Grammar, *frames: bytes) -> list[str | None]:
    """Of each frame the weight, exactly as read; None where it is a fault."""
    items = [item for frame in frames for item in said(grammar, frame + b"\n")]
    assert len(items) == len(frames)
    return [str(item.value) if isinstance(item, Reading) else None for item in items]


TEXT = "(?P<value>[-+ .,'0-9]{1,12})"
