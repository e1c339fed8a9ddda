"""Finds configuration: the packaged files, and the user's folder laid over them, file by file."""

import os
import warnings
from pathlib import Path

import platformdirs

from station.tomlfile import near

_APP = "bench-weighing-station"
VARIABLE = "STATION_CONFIG"


class ResourceError(LookupError):
    """A file that is not there; the message says what is near and where was looked."""


def packaged() -> Path:
    """The packaged configuration: inside the installed package, or beside it in a checkout."""
    here = Path(__file__).parent
    inside = here / "config"
    return inside if inside.is_dir() else here.parent / "config"


class Config:
    """Configuration files by name, the user's before the packaged ones."""

    def __init__(self, folder: Path | None = None) -> None:
        if folder is None and (named := os.environ.get(VARIABLE)):
            folder = Path(named)
        if folder is not None and not folder.is_dir():
            raise ResourceError(f"there is no configuration folder {folder}")
        self.own = folder
        """The user's folder, if there is one."""
        self.folders = [folder, packaged()] if folder else [packaged()]

    def read(self, name: str) -> tuple[str, str]:
        """(text, file name for messages) of a file such as "limits/us.toml"."""
        for folder in self.folders:
            path = folder / name
            try:
                if path.is_file():
                    return path.read_text(encoding="utf-8"), str(path)
            except (OSError, UnicodeDecodeError) as error:
                raise ResourceError(f"{path} cannot be read: {error}") from error
        kind, _, wanted = name.rpartition("/")
        known = self.names(kind)
        stem = wanted.removesuffix(".toml")
        hint = near(stem, known) or (f"; there are {', '.join(known)}" if known else "")
        raise ResourceError(f"there is no {name}{hint}")

    def names(self, kind: str) -> list[str]:
        """The names of all files of a kind such as "formulas", without their ending."""
        return sorted(
            {path.stem for folder in self.folders for path in (folder / kind).glob("*.toml")}
        )


def default_ledger() -> Path:
    """Where the ledger is unless told otherwise: the state folder that a service manager gives or
    has made for the machine's station, else the user's own."""
    for folder in (os.environ.get("STATE_DIRECTORY"), f"/var/lib/{_APP}"):
        if folder and Path(folder).is_dir():
            return Path(folder) / "station.ledger"
    return Path(platformdirs.user_state_dir(_APP)) / "station.ledger"


def default_socket() -> Path:
    """Where the socket is unless told otherwise: the runtime folder, found the same way."""
    for folder in (os.environ.get("RUNTIME_DIRECTORY"), f"/run/{_APP}"):
        if folder and Path(folder).is_dir():
            return Path(folder) / "station.sock"
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # without XDG_RUNTIME_DIR it takes a folder under /tmp
        return Path(platformdirs.user_runtime_dir(_APP)) / "station.sock"
