"""The way that a request would take from what is believed now, or why there is none."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from bridge.core import telling
from bridge.core.control import Reach, ports_of
from bridge.core.crossing import Crossing
from bridge.core.debts import Debts
from bridge.core.desk import Desk
from bridge.core.effects import Tell
from bridge.core.journey import Request


def way_for(
    desk: Desk, debts: Debts, request: Request
) -> tuple[Request, Crossing] | Tell:
    """The request as it is to be met, and its way; or the record of its refusal.

    What is owed is no reason to refuse: then it is owed further on.
    """
    paying = _paying(debts, request)
    way = _way_to(desk, paying)
    if isinstance(way, Tell) and paying.scene is not request.scene:
        way, paying = _way_to(desk, request), request
    return way if isinstance(way, Tell) else (paying, way)


def _paying(debts: Debts, request: Request) -> Request:
    scene = debts.added_to(request.scene)
    return request if scene is request.scene else replace(request, scene=scene)


def _way_to(desk: Desk, request: Request) -> Crossing | Tell:
    scene, belief = request.scene, desk.knowledge.belief
    needed = (n for n, value in scene.values.items() if belief[n] != {value})
    if (refused := _refused_as_absent(desk, request, needed)) is not None:
        return refused
    found = desk.plans.find(belief, scene)
    if not isinstance(found, Crossing):
        return telling.refused(scene, found, request.ticket)
    changes = (change for leg in found.legs for change in leg.changes)
    used = (change.control for change in changes)
    return _refused_as_absent(desk, request, used) or found


def _refused_as_absent(
    desk: Desk, request: Request, controls: Iterable[str]
) -> Tell | None:
    if not desk.absent:
        return None
    absent: dict[str, str] = {}
    cut_off = []
    for name in controls:
        control = desk.studio.controls[name]
        if control.reach is Reach.REMOTE:
            ports = sorted(ports_of(control) & desk.absent.keys())
            absent |= {port: desk.absent[port] for port in ports}
            cut_off += [name] if ports else []
    if not absent:
        return None
    return telling.not_there(
        desk.studio, request.scene, absent, cut_off, request.ticket
    )
