"""A temperature or a pH is read as what it is, and never as a weight."""

from decimal import Decimal

import pytest

from drivers.grammar import GrammarError, compile_grammar
from drivers.kinds import load_any, load_kind
from drivers.kinds.text import TextInstrument
from drivers.measured import Measured, MeasuringParser
from drivers.parser import Parser
from drivers.reading import Condition, Fault

HEAD = 'name = "x"\nabout = "x"\nend = "\\n"\n'
WARM = HEAD + 'measures = "temperature"\ncolumns = "vvvv"\nunit = "degC"\n'
SOUR = HEAD + 'measures = "pH"\ncolumns = "vvvv"\n'


def read(text: str, frame: bytes) -> Measured | Fault:
    (item,) = MeasuringParser(compile_grammar(text, "x.toml")).feed(frame + b"\n", 2.0)
    return item


def test_a_temperature_and_a_ph_keep_their_digits_and_have_no_gross() -> None:
    warm = read(WARM, b"18.0")
    assert isinstance(warm, Measured)
    assert (warm.quantity, str(warm.value), warm.unit) == ("temperature", "18.0", "degC")
    sour = read(SOUR, b"5.30")
    assert isinstance(sour, Measured)
    assert (sour.quantity, str(sour.value), sour.unit) == ("pH", "5.30", None)
    assert not hasattr(warm, "gross") and not hasattr(warm, "kind")


@pytest.mark.parametrize(
    ("sent", "unit"),
    [
        (b"C   ", "degC"),
        (b"degF", "degF"),
        (b"\xb0C  ", "degC"),
        (b"F   ", "degF"),
        (b"K   ", None),
    ],
)
def test_the_word_of_a_unit_is_the_unit_or_a_fault(sent: bytes, unit: str | None) -> None:
    text = HEAD + 'measures = "temperature"\nregex = "(?P<value>[0-9.]{4})(?P<unit>.{4})"\n'
    item = read(text, b"18.5" + sent)
    assert (item.unit if isinstance(item, Measured) else None) == unit
    if unit is None:
        assert isinstance(item, Fault) and "'K' is no unit of temperature" in item.reason


def test_a_word_or_bit_may_tell_the_unit() -> None:
    text = HEAD + 'measures = "temperature"\ncolumns = "vvvvd"\n'
    text += '[status.d]\n1 = "unit degC"\n2 = "unit degF"\n'
    item = read(text, b"18.52")
    assert isinstance(item, Measured) and item.unit == "degF"


def test_what_an_instrument_says_of_itself_has_no_value() -> None:
    item = read(WARM + '[status.value]\n"----" = "overload"\n', b"----")
    assert isinstance(item, Measured)
    assert (item.value, item.condition) == (None, Condition.OVERLOAD)
    with pytest.raises(ValueError, match="condition ok"):
        Measured("pH", Decimal(5), None, None, Condition.ERROR, 0.0, b"")
    with pytest.raises(ValueError, match="condition ok"):
        Measured("pH", None, None, None, Condition.OK, 0.0, b"")


# never a weight


@pytest.mark.parametrize(("text", "what"), [(WARM, "temperature"), (SOUR, "pH")])
def test_its_file_is_no_scale_and_its_frames_no_readings(text: str, what: str) -> None:
    with pytest.raises(GrammarError, match=f"x.toml: it measures a {what} and no weight"):
        load_kind(text, "x.toml")
    found = load_any(text, "x.toml")
    assert isinstance(found, TextInstrument) and found.measures == what
    with pytest.raises(ValueError, match="no weight"):
        Parser(found.grammar)


def test_a_scale_is_no_instrument() -> None:
    grammar = compile_grammar(HEAD + 'columns = "vvvv"\nunit = "g"\n', "x.toml")
    assert grammar.measures == "weight"
    with pytest.raises(ValueError, match="measures a weight"):
        MeasuringParser(grammar)


# what its file may say


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (WARM.replace('"vvvv"', '"vvvv;tttt"'), "a temperature has no tare"),
        (SOUR.replace('"vvvv"', '"vvvv;tttt"'), "a pH has no tare"),
        (WARM + 'kind = "net"\n', "a temperature is neither gross nor net"),
        (WARM.replace('"vvvv"', '"vvvvm"') + '[status.m]\nN = "net"\n', "neither gross nor net"),
        (WARM + '[orders.zero]\nsend = "Z"\nack = "Z"\n', "a temperature has no orders"),
        (WARM.replace("degC", "g"), "unit: found 'g', a temperature is in degC or degF"),
        (WARM.replace('unit = "degC"', ""), "unit: the frame tells none"),
        (WARM.replace('"vvvv"', '"vvvvm"') + '[status.m]\nN = "unit g"\n', "unit: found 'g'"),
        (WARM + 'unit_absent = "moving"\n', "unit_absent"),
        (SOUR + 'unit = "degC"\n', "measures: a pH has no unit"),
        (SOUR.replace('"vvvv"', '"vvvvuu"') + 'units = ["pH"]\n', "measures: a pH has no unit"),
        (SOUR.replace('"vvvv"', '"vvvvm"') + '[status.m]\nN = "unit g"\n', "a pH has no unit"),
        (SOUR.replace("pH", "salt"), "measures"),
        (HEAD + 'measures = "temperature"\nunit = "degC"\n'
         'regex = "(?P<pounds>[0-9]) (?P<ounces>[0-9])"\n', "a temperature has no ounces"),
    ],
)  # fmt: skip
def test_what_only_a_weight_has_is_refused(text: str, says: str) -> None:
    with pytest.raises(GrammarError) as caught:
        compile_grammar(text, "x.toml")
    assert says in str(caught.value) and str(caught.value).startswith("x.toml: ")
