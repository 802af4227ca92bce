"""Names that layout 3 gave to ids of layout 2: the words of American trade English."""

from __future__ import annotations

import re
from typing import Any

__all__ = ["renamed"]

WHOLE = {
    "body.boot_seal": "body.trunk_seal",
    "body.sill_rust": "body.rocker_rust",
    "body_and_paint.boot_leak_seal": "body_and_paint.trunk_leak_seal",
    "body_and_paint.sill_welded": "body_and_paint.rocker_welded",
    "body_and_paint.wing_used": "body_and_paint.fender_used",
    "body_and_paint.wing_used_and_painted": "body_and_paint.fender_used_and_painted",
    "boot_trim_out": "trunk_trim_out",
    "frame_and_body.water_in_boot": "frame_and_body.water_in_trunk",
    "interior.boot_carpet": "interior.trunk_carpet",
    "wing_liner_off": "fender_liner_off",
}
PARTS = {
    "bonnet": "hood",
    "catalogue": "catalog",
    "centre": "center",
    "colour": "color",
    "gearbox": "transmission",
    "headlamp": "headlight",
    "immobiliser": "immobilizer",
    "kerb": "curb",
    "labour": "labor",
    "lamp": "light",
    "litre": "liter",
    "mould": "mold",
    "odour": "odor",
    "petrol": "gasoline",
    "silencer": "muffler",
    "tyre": "tire",
    "vapour": "vapor",
    "windscreen": "windshield",
}
OUTCOMES = {
    "alike all round": "alike all around",
    "arm bush torn": "arm bushing torn",
    "between engine and gearbox": "between engine and transmission",
    "blocked or mouldy": "blocked or moldy",
    "boot or glass edge": "trunk or glass edge",
    "burnt or flakes": "burned or flakes",
    "catalyst rattles": "converter rattles",
    "changes with bends": "changes in curves",
    "damp rear or boot": "damp rear or trunk",
    "disc out": "rotor out",
    "earth or feed bad": "ground or feed bad",
    "earth side drops": "ground side drops",
    "fine grey paste": "fine gray paste",
    "joint, pipe or valve": "joint, line or valve",
    "lamp out, no difference": "light out, no difference",
    "lamp stays on with both": "light stays on with both",
    "leaks at pipe or silencer": "leaks at pipe or muffler",
    "lever out or soft": "shifter out or soft",
    "lights and goes out": "comes on and goes out",
    "never lights": "never comes on",
    "no pinking at all": "no pinging at all",
    "one gear crunches or jumps out": "one gear grinds or jumps out",
    "one or more sprayed": "one or more repainted",
    "pins burnt or latch fails": "pins burned or latch fails",
    "pipe scaled or wet": "line scaled or wet",
    "rear arm or beam bush torn": "rear arm or beam bushing torn",
    "right, lamp stays": "right, light stays",
    "same in bends, by road surface": "same in curves, by road surface",
    "scuttle backs up": "cowl backs up",
    "scuttle or drain": "cowl or drain",
    "silencer rattles or flakes": "muffler rattles or flakes",
    "solid fuel": "clear fuel",
    "stuck, or lamp stays": "stuck, or light stays",
    "turns, lamps dim a little": "turns, lights dim a little",
    "two neighbours": "two neighbors",
    "two neighbours low": "two neighbors low",
    "tyre out": "tire out",
    "wet at a gearbox shaft or pipe": "wet at a transmission shaft or line",
    "wet, or gaiter torn": "wet, or boot torn",
    "whirrs fast": "whirs fast",
}
"""What a check showed is kept in the words of the check."""
IN_AN_ID = re.compile("|".join(sorted(PARTS, key=len, reverse=True)).replace("lamp", "(?<!c)lamp"))
ID = re.compile(r"[a-z0-9_.-]+")
OWN_WORDS = {"title", "story", "label", "note", "text", "make", "model", "variant", "name"}
"""Fields whose text a person wrote."""


def renamed(document: dict[str, Any]) -> dict[str, Any]:
    """Return a document with its ids and outcomes as layout 3 names them; its own id stays."""
    out: dict[str, Any] = _part(document, "")
    return out | {"id": document["id"]} if "id" in document else out


def _part(value: Any, key: str) -> Any:  # noqa: ANN401 - any JSON
    if isinstance(value, dict):
        return {_new(name): _part(one, name) for name, one in value.items()}
    if isinstance(value, list):
        return [_part(one, key) for one in value]
    if key == "outcome" and value in OUTCOMES:
        return OUTCOMES[value]
    if isinstance(value, str) and key not in OWN_WORDS and ID.fullmatch(value):
        return _new(value)
    return value


def _new(text: str) -> str:
    return WHOLE.get(text) or IN_AN_ID.sub(lambda found: PARTS[found[0]], text)
