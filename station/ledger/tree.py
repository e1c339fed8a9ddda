"""A hash tree with one leaf a batch, so that a batch is proved without reading the others.

A leaf covers how many events its batch has and their hashes, in order: one changed, taken out, put
in or given to another batch makes another root. Events of no batch are the leaf of the name "".
It is made from the events and stands beside them; whoever asks holds its root against one that was
written elsewhere. It says nothing about whether each event follows the one before it in the
ledger: `verify` says that, and that the tree is the one that the events make.
"""

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sqlite_utils.db import Database

WIDTH = 16
"""Children of a node: four levels for 65 536 batches, 15 hashes read at each."""

OUTSIDE = ""
"""The leaf of the events of no batch."""

OTHER = "the hash tree over the batches is not the one that the events make"

_START = bytes(32)


@dataclass(frozen=True, slots=True)
class Leaf:
    """A batch, how many events it has, and the digest folded from their hashes."""

    batch: str
    events: int = 0
    digest: bytes = _START

    def with_event(self, event_hash: bytes) -> "Leaf":
        """The leaf after one event more."""
        digest = hashlib.sha256(self.digest + event_hash).digest()
        return Leaf(self.batch, self.events + 1, digest)

    @property
    def hash(self) -> bytes:
        """The leaf in the tree; its first byte tells it from a node."""
        told = self.digest + self.events.to_bytes(8) + self.batch.encode()
        return hashlib.sha256(b"\0" + told).digest()


@dataclass(frozen=True, slots=True)
class Path:
    """From a leaf to the root: at each level the place among its siblings, and all of them."""

    leaves: int
    levels: tuple[tuple[int, tuple[bytes, ...]], ...]

    def root(self, leaf: Leaf) -> bytes:
        """The root that the leaf makes with its siblings."""
        here = leaf.hash
        for place, siblings in self.levels:
            here = node([*siblings[:place], here, *siblings[place + 1 :]])
        return root(self.leaves, here)


def node(children: Sequence[bytes]) -> bytes:
    """The hash above some."""
    return hashlib.sha256(b"\1" + b"".join(children)).digest()


def root(leaves: int, top: bytes) -> bytes:
    """The root of a tree of so many leaves."""
    return hashlib.sha256(b"\2" + leaves.to_bytes(8) + top).digest()


class Leaves:
    """The leaves that events make, one event after the other."""

    def __init__(self, known: Iterable[tuple[str, int, bytes]] = ()) -> None:
        """`known`: those of the events so far; batch, events, digest."""
        self._leaves = {batch: Leaf(batch, events, digest) for batch, events, digest in known}

    def take(self, batch: str | None, event_hash: bytes) -> None:
        """One event more."""
        name = batch or OUTSIDE
        self._leaves[name] = self._leaves.get(name, Leaf(name)).with_event(event_hash)

    def rows(self) -> list[tuple[int, str, int, bytes]]:
        """As the table has them: place, batch, events, digest."""
        found = enumerate(self._leaves.values())
        return [(place, leaf.batch, leaf.events, leaf.digest) for place, leaf in found]

    def nodes(self) -> list[tuple[int, int, bytes]]:
        """As the table has them: level, place, hash."""
        level, hashes = 0, [leaf.hash for leaf in self._leaves.values()]
        found = [(0, place, one) for place, one in enumerate(hashes)]
        while len(hashes) > 1:
            level += 1
            hashes = [node(hashes[at : at + WIDTH]) for at in range(0, len(hashes), WIDTH)]
            found += [(level, place, one) for place, one in enumerate(hashes)]
        return found


def grow(db: Database, events: Iterable[tuple[str | None, bytes]]) -> None:
    """Take in events, each with its batch and hash, inside the caller's transaction."""
    touched: dict[str, tuple[int, Leaf]] = {}
    count = _count(db)
    for batch, event_hash in events:
        name = batch or OUTSIDE
        if name not in touched:
            touched[name] = _leaf(db, name) or (count, Leaf(name))
            count = max(count, touched[name][0] + 1)
        place, leaf = touched[name]
        touched[name] = place, leaf.with_event(event_hash)
    for place, leaf in touched.values():
        db.execute(
            "INSERT INTO leaf VALUES (?, ?, ?, ?) ON CONFLICT (place)"
            " DO UPDATE SET events = excluded.events, digest = excluded.digest",
            (place, leaf.batch, leaf.events, leaf.digest),
        )
        _set(db, 0, place, leaf.hash)
    level, places = 0, {place for place, _ in touched.values()}
    while count > 1:
        level, count = level + 1, -(-count // WIDTH)
        places = {place // WIDTH for place in places}
        for place in places:
            _set(db, level, place, node(_children(db, level - 1, place)))


def rebuild(db: Database) -> None:
    """Make the tree anew from the events, inside the caller's transaction."""
    leaves = Leaves()
    for batch, event_hash in db.execute("SELECT batch, hash FROM event ORDER BY seq"):
        leaves.take(batch, event_hash)
    for table, rows in (("leaf", leaves.rows()), ("node", leaves.nodes())):
        db.execute(f"DELETE FROM {table}")
        for row in rows:
            db.execute(f"INSERT INTO {table} VALUES ({', '.join('?' * len(row))})", row)


def difference(db: Database, made: Leaves) -> str | None:
    """What of the tree is not as the events make it, or None."""
    leaves = db.execute("SELECT place, batch, events, digest FROM leaf ORDER BY place").fetchall()
    nodes = db.execute("SELECT level, place, hash FROM node ORDER BY level, place").fetchall()
    if leaves == made.rows() and nodes == made.nodes():
        return None
    return OTHER


def stored_root(db: Database) -> bytes | None:
    """The root as it stands in the file, None where there is no tree."""
    count = _count(db)
    top = db.execute("SELECT hash FROM node ORDER BY level DESC, place LIMIT 1").fetchone()
    return None if top is None or not count else root(count, top[0])


def path_of(db: Database, batch: str | None) -> Path | None:
    """The stored path of a batch, None where it has no leaf."""
    found = _leaf(db, batch or OUTSIDE)
    if found is None:
        return None
    place, _ = found
    leaves = count = _count(db)
    level, levels = 0, []
    while count > 1:
        levels.append((place % WIDTH, tuple(_children(db, level, place // WIDTH))))
        level, count, place = level + 1, -(-count // WIDTH), place // WIDTH
    return Path(leaves, tuple(levels))


def _count(db: Database) -> int:
    (last,) = db.execute("SELECT max(place) FROM leaf").fetchone()
    return 0 if last is None else int(last) + 1


def _leaf(db: Database, name: str) -> tuple[int, Leaf] | None:
    row = db.execute("SELECT place, events, digest FROM leaf WHERE batch = ?", [name]).fetchone()
    return None if row is None else (row[0], Leaf(name, row[1], row[2]))


def _set(db: Database, level: int, place: int, digest: bytes) -> None:
    db.execute("INSERT OR REPLACE INTO node VALUES (?, ?, ?)", (level, place, digest))


def _children(db: Database, level: int, parent: int) -> list[bytes]:
    rows = db.execute(
        "SELECT hash FROM node WHERE level = ? AND place >= ? AND place < ? ORDER BY place",
        (level, parent * WIDTH, (parent + 1) * WIDTH),
    )
    return [row[0] for row in rows]
