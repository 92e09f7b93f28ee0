"""Whether there is a panel, and where; needs nothing that `[panel]` installs."""

from __future__ import annotations

from bridge.core.studio import Studio
from bridge.faces.outcome import CouldNotRunError
from bridge.faces.panel.notice import need_extra
from bridge.faces.panel.where import Where, at, read_where


def panel_place(studio: Studio, asked: str | None) -> Where | None:
    """Where the panel is to be served, None for no panel. Raises CouldNotRunError.

    asked: the command line's word, which goes over the file's; "" for no place said.
    """
    if asked is None and studio.panel is None:
        return None
    if asked:
        names = studio.panel.names if studio.panel else ()
        found = read_where(asked, names)
        if isinstance(found, str):
            why = f"--panel: {found}"
            raise CouldNotRunError(why, "write HOST:PORT")
    else:
        found = at(studio.panel) if studio.panel else Where()
    need_extra()
    return found
