"""What all commands have in common: the row that makes one a verb, what answers it, and a refusal.

Light to import, so that `station --help` reads the rows and loads nothing else.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, ClassVar, Literal, TypeVar

if TYPE_CHECKING:
    from station.batch.events import Event


@dataclass(frozen=True, slots=True)
class Param:
    """One parameter. `kind`: one text, a flag, or a list of texts (one text counts as a list)."""

    name: str
    help: str
    required: bool = True
    kind: Literal["text", "flag", "texts"] = "text"


@dataclass(frozen=True, slots=True)
class Method:
    """One method of the socket, and verb of the command line: its name, one line of help, an
    example, its parameters, the command that it becomes, and what else a person should know."""

    name: str
    help: str
    example: str
    params: tuple[Param, ...]
    command: type[Command]
    about: str = ""

    def words(self, params: Mapping[str, Any]) -> str:
        """The verb with `params`, as typed on the command line after `station`."""
        words = [self.name]
        options: list[str] = []
        for param in self.params:
            value = params.get(param.name)
            if value in (None, False, "", [], ()):
                continue
            option = f"--{param.name.replace('_', '-')}"
            if param.kind == "flag":
                options.append(option)
            elif param.required:
                words.append(_quoted(str(value)))
            else:
                for text in [value] if isinstance(value, str) else value:
                    options += [option, _quoted(str(text))]
        return " ".join([*words, *options])


def _quoted(text: str) -> str:
    """The text as one word of a shell."""
    if text and all(sign.isalnum() or sign in "-_.:/+=@%" for sign in text):
        return text
    return "'" + text.replace("'", "'\\''") + "'" if '"' in text or "$" in text else f'"{text}"'


@dataclass(frozen=True, slots=True)
class Command:
    """Base of all commands. `OF_BENCH`: what it records belongs to the bench and to no batch."""

    OF_BENCH: ClassVar[bool] = False


METHODS: dict[str, Method] = {}
"""Every method that decides something, by name; `verb` fills it."""

C = TypeVar("C", bound=type[Command])


def verb(name: str, help_: str, example: str, *params: Param, about: str = "") -> Callable[[C], C]:
    """Make a command a verb: the row of the socket's method and of the command line."""

    def keep(command: C) -> C:
        METHODS[name] = Method(name, help_, example, params, command, about)
        return command

    return keep


WHY = "said at the bench"
"""The reason recorded where nobody can type one."""
LINE = Param("line", "the line's name, as on the screen")
REASON = Param("reason", "why, in a few words")


def flag(name: str, text: str) -> Param:
    return Param(name, text, required=False, kind="flag")


@dataclass(frozen=True, slots=True)
class Offer:
    """A call that can be made now. `key`: the action of the display that makes it (a name of
    config/bench.toml), None where only a program or a command line does; `danger`: one press is
    not enough; `means`: what it says as the answer to a question."""

    verb: str
    params: Mapping[str, Any] = field(default_factory=dict)
    key: str | None = None
    danger: bool = False
    means: str = ""

    @property
    def text(self) -> str:
        """The command line's own words for it."""
        return f"station {METHODS[self.verb].words(self.params)}"


@dataclass(frozen=True, slots=True)
class Form:
    """A call that can be made now once a person has read one value: `param`, a number in `unit`."""

    verb: str
    params: Mapping[str, Any]
    param: str
    unit: str
    means: str
    danger: bool = False


class Refusal(Exception):
    """A command is not carried out: a code, one sentence, the next step, the line it is about.
    `offers` are calls that answer it, where it is a question; `records` is what is so all the
    same, and recorded."""

    def __init__(
        self,
        code: str,
        sentence: str,
        next_step: str,
        line: str | None = None,
        offers: Sequence[Offer] = (),
        records: Sequence[Event] = (),
    ) -> None:
        super().__init__(sentence)
        self.records = tuple(records)
        self.code = code
        self.sentence = sentence
        self.next = next_step
        self.line = line
        self.offers = tuple(offers)


@dataclass(frozen=True, slots=True)
class Decision:
    """Events to record. `happened`: they say what is already so and are recorded whatever the law
    says of it. `answer` is for whoever asked. `key`, `explained`, `gap_explained` and `same` name a
    scale whose watch hears that the lift is armed, that what was set down belongs in, that nothing
    was done while readings were missing, or that the vessel is the one of the weighing."""

    events: tuple[Event, ...] = ()
    happened: bool = False
    answer: str = ""
    key: str | None = None
    explained: str | None = None
    gap_explained: str | None = None
    same: str | None = None
