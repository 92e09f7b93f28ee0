"""A sketched studio whose controls all sit on one desk that answers over OSC."""

from dataclasses import replace

from bridge.core.control import Control, Kind
from bridge.core.studio import Studio
from bridge.core.wire import Key, Meaning, Osc, Value

LIFE_MS = 50.0


def over_osc(studio: Studio) -> Studio:
    """Every control gets an address; positions count from 0, a level is its number."""
    controls: dict[str, Control] = {}
    meanings: dict[Key, tuple[Meaning, ...]] = {}
    for name, control in studio.controls.items():
        address = "/" + name.replace(" ", "/")
        numbers = {v: _number(control, v) for v in control.values}
        controls[name] = replace(
            control,
            messages={v: (Osc("desk", address, (n,)),) for v, n in numbers.items()},
            ask=(Osc("desk", address),),
            settle_ms=2.0,
            hold_off_ms=LIFE_MS,
        )
        points = sorted((n, v) for v, n in numbers.items())
        meanings["desk", "osc", address] = (Meaning(name, tuple(points)),)
    return replace(studio, controls=controls, meanings=meanings)


def _number(control: Control, value: Value) -> float:
    if control.kind is Kind.LEVEL:
        return float(value)
    return float(control.values.index(value))
