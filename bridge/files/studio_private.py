"""Sources that are not meant for air."""

from __future__ import annotations

from dataclasses import replace

from bridge.core.graph import Source
from bridge.files.shapes import unknown_name
from bridge.files.studio_draft import Draft


def marked_private(draft: Draft) -> tuple[Source, ...]:
    """Return the sources, those that `private:` names marked; notes unknown names."""
    sources = [source.name for source in draft.sources]
    private = set()
    for text in draft.part.private:
        if text.value in sources:
            private.add(text.value)
        elif not draft.incomplete:
            unknown_name(
                draft.notes,
                "unknown-name",
                "the source",
                text.value,
                text.place,
                sources,
            )
    return tuple(
        replace(source, private=source.name in private) for source in draft.sources
    )
