"""Letters and digits large enough for 1.5 m: five pixels tall, as blocks of character cells."""

from functools import lru_cache

HEIGHT = 5

_GLYPHS: dict[str, tuple[str, ...]] = {
    "0": ("###", "# #", "# #", "# #", "###"),
    "1": (" # ", "## ", " # ", " # ", "###"),
    "2": ("###", "  #", "###", "#  ", "###"),
    "3": ("###", "  #", " ##", "  #", "###"),
    "4": ("# #", "# #", "###", "  #", "  #"),
    "5": ("###", "#  ", "###", "  #", "###"),
    "6": ("###", "#  ", "###", "# #", "###"),
    "7": ("###", "  #", "  #", "  #", "  #"),
    "8": ("###", "# #", "###", "# #", "###"),
    "9": ("###", "# #", "###", "  #", "###"),
    ".": (" ", " ", " ", " ", "#"),
    "-": ("   ", "   ", "###", "   ", "   "),
    " ": ("  ", "  ", "  ", "  ", "  "),
    "A": (" # ", "# #", "###", "# #", "# #"),
    "B": ("## ", "# #", "## ", "# #", "## "),
    "C": ("###", "#  ", "#  ", "#  ", "###"),
    "D": ("## ", "# #", "# #", "# #", "## "),
    "E": ("###", "#  ", "## ", "#  ", "###"),
    "H": ("# #", "# #", "###", "# #", "# #"),
    "I": ("###", " # ", " # ", " # ", "###"),
    "K": ("# #", "# #", "## ", "# #", "# #"),
    "L": ("#  ", "#  ", "#  ", "#  ", "###"),
    "N": ("#  #", "## #", "# ##", "#  #", "#  #"),
    "O": ("####", "#  #", "#  #", "#  #", "####"),
    "P": ("###", "# #", "###", "#  ", "#  "),
    "R": ("###", "# #", "## ", "# #", "# #"),
    "S": ("###", "#  ", "###", "  #", "###"),
    "T": ("###", " # ", " # ", " # ", " # "),
    "U": ("# #", "# #", "# #", "# #", "###"),
    "Y": ("# #", "# #", " # ", " # ", " # "),
    "W": ("#   #", "#   #", "# # #", "## ##", "#   #"),
}


def pixels(text: str) -> list[str]:
    """The text as `HEIGHT` rows of `#` and blanks, one blank column between glyphs."""
    glyphs = [_GLYPHS[letter] for letter in text]
    return [" ".join(glyph[row] for glyph in glyphs) for row in range(HEIGHT)]


@lru_cache(256)
def blocks(text: str, scale: int, ascii_only: bool) -> tuple[str, ...]:
    """A pixel is `scale` rows by twice as many columns, which is about a square."""
    ink = ("#" if ascii_only else "█") * (2 * scale)
    rows = []
    for row in pixels(text):
        line = "".join(ink if pixel == "#" else " " * (2 * scale) for pixel in row)
        rows += [line] * scale
    return tuple(rows)


@lru_cache(256)
def halves(text: str, ascii_only: bool) -> tuple[str, ...]:
    """A pixel is one column by half a row: three rows in all, for a small screen."""
    inks = ' _"#' if ascii_only else " ▄▀█"  # none, lower, upper, both
    rows = [*pixels(text), ""]
    found = []
    for upper, lower in zip(rows[::2], rows[1::2], strict=True):
        lower = lower.ljust(len(upper))
        found.append(
            "".join(
                inks[2 * (up == "#") + (low == "#")] for up, low in zip(upper, lower, strict=True)
            )
        )
    return tuple(found)


@lru_cache(256)
def width(text: str) -> int:
    """Pixels across."""
    return len(pixels(text)[0]) if text else 0
