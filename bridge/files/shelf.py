"""Where the profiles lie: the user's own first, then those that come with Treadle."""

from pathlib import Path

PACKED = "profiles_data"
"""The folder's name inside the installed package; in a source tree it is `profiles`."""


def shipped_profiles(package: Path | None = None) -> Path:
    """Return the folder of the profiles that come with Treadle.

    An installed package carries them inside itself; in a source tree (and so in an
    editable install) they lie beside it. `package` is the folder of `bridge`.
    """
    package = package or Path(__file__).resolve().parent.parent
    packed = package / PACKED
    return packed if packed.is_dir() else package.parent / "profiles"


def profile_folders(studio_file: Path | None = None) -> tuple[Path, ...]:
    """Return the folders to look a profile up in, the first one wins.

    A folder `profiles` beside the studio file comes first, if there is one: so a
    user's own profile needs no installation, and one of ours can be replaced.
    """
    shipped = shipped_profiles()
    if studio_file is None:
        return (shipped,)
    own = studio_file.resolve().parent / "profiles"
    return (own, shipped) if own.is_dir() and own != shipped else (shipped,)


def shipped_studios() -> Path:
    """Return the folder of the whole studios that come with Treadle."""
    return shipped_profiles() / "studios"
