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
    "boot_look": "trunk_look",
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
IN_AN_ID = re.compile("|".join(sorted(PARTS, key=len, reverse=True)).replace("lamp", "(?<!c)lamp"))
ID = re.compile(r"[a-z0-9_.-]+")
OWN_WORDS = {"title", "story", "label", "note", "text", "make", "model", "variant", "name"}
"""Fields whose text a person wrote."""


def renamed(document: dict[str, Any]) -> dict[str, Any]:
    """Return a document with its ids as layout 3 names them; its own id stays."""
    out: dict[str, Any] = _part(document, "")
    return out | {"id": document["id"]} if "id" in document else out


def _part(value: Any, key: str) -> Any:  # noqa: ANN401 - any JSON
    if isinstance(value, dict):
        return {_new(name): _part(one, name) for name, one in value.items()}
    if isinstance(value, list):
        return [_part(one, key) for one in value]
    if isinstance(value, str) and key not in OWN_WORDS and ID.fullmatch(value):
        return _new(value)
    return value


def _new(text: str) -> str:
    return WHOLE.get(text) or IN_AN_ID.sub(lambda found: PARTS[found[0]], text)
