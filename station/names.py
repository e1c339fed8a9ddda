"""When two names that people gave are one name."""

import unicodedata


def bare(name: str) -> str:
    """A name without what does not tell names apart: case, blanks, signs that cannot be seen, and
    the many ways in which Unicode writes one letter (NFKC, then full case folding)."""
    seen = "".join(sign for sign in name if unicodedata.category(sign) != "Cf")
    return " ".join(unicodedata.normalize("NFKC", seen).casefold().split())
