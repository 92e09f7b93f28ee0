"""The jetty's studio as the installed service runs it: a panel, a second pedal."""

from __future__ import annotations

from tests.vm.inside.jetty import FILE
from tests.vm.inside.test_keyboards import NAME

PANEL = "127.0.0.1:9780"
TEXT = (
    FILE.read_text(encoding="utf-8").rstrip()
    + f"""
  second:
    from: {{keyboard: "{NAME}", key: page down}}
    tap:  call

safe scene: start
"""
)

SHOWN = f'{TEXT}panel: {{at: "{PANEL}"}}\n'
"""The same with a panel."""

MORE = TEXT.replace(
    "\nneeds:", "\n  quiet:    {from: phones, monitor: [chimes]}\n\nneeds:"
)
"""The same with one more scene."""

BROKEN = TEXT.replace("program: [mic, chimes]", "program: [mic, chimes, captain]")
"""The same, and the captain hears their own voice."""

assert TEXT not in (MORE, BROKEN)
