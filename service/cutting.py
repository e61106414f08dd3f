"""A cutting in progress: where the walk stands and what is cut, for every page that shows it.

Pages compute the next stop themselves and say which number they saw; what was made on an older
number is refused, so that two people pressing next at once move on by one, not by two.
"""

from __future__ import annotations

import hashlib
import json
import threading
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from typing import Any

from sqlalchemy.orm import Session

from nesting.cutting.ledger import (
    Key,
    Ledger,
    check_done,
    gaps,
    lines,
    mark_cut,
    mark_spoiled,
    take_back,
)
from nesting.cutting.register import register
from nesting.errors import NestingError
from nesting.layout import Asked
from nesting.pieces.piece import Hand
from nesting.units import parse_length
from service.cloth_check import check_cloth
from service.errors import ConflictError, ForbiddenError, RefusedError
from service.schemas_cutting import (
    ClothWish,
    CuttingList,
    CuttingSummary,
    CuttingView,
    LookWish,
    MarkWish,
    RegisterWish,
    WalkWish,
)
from service.searches import Event, Listener
from service.store import cuttings
from service.store.tables import CuttingRow

LONGEST_MM = 100_000.0
"""No cloth on a table is longer; a larger reading is in another unit."""

START: dict[str, Any] = {"view": "guides", "window": 0, "stop": 0, "approved": False, "seen": [0]}


class Hub:
    """Who listens to the cuttings. ``lock`` is held from a change to its telling, so that pages hear
    of changes in the order in which they were kept."""

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self._listeners: list[Listener] = []

    @property
    def listeners(self) -> int:
        """How many listen now."""
        return len(self._listeners)

    @contextmanager
    def listening(self, listener: Listener) -> Iterator[None]:
        """While open, ``listener`` is told of every cutting."""
        self._listeners.append(listener)
        try:
            yield
        finally:
            self._listeners.remove(listener)

    def wake(self) -> None:
        """Let every stream look at once whether its page may still listen."""
        for listener in list(self._listeners):
            listener.tell(Event(0, "wake", {}), last=False)

    def tell(self, lay_id: str, cloth: str, view: CuttingView) -> None:
        """Tell every page that listens; called with the lock held."""
        data = {"lay_id": lay_id, "cloth": cloth, "cutting": view.model_dump(mode="json")}
        event = Event(view.number, "cutting", data)
        for listener in list(self._listeners):
            listener.tell(event, last=False)


def layout_key(layout: Mapping[str, Any]) -> str:
    """Short name of a layout: changes when any piece lies elsewhere."""
    said = json.dumps([layout["zones"], layout["placements"]], sort_keys=True)
    return hashlib.sha256(said.encode()).hexdigest()[:16]


def show(session: Session, lay_id: str, cloth: str) -> CuttingView:
    """The cutting as it stands."""
    layout = cuttings.layout_of(session, lay_id, cloth)
    return _view(cuttings.get_cutting(session, lay_id, cloth), layout)


def begun(session: Session) -> CuttingList:
    """All cuttings that were begun, the one last moved first."""
    return CuttingList(
        cuttings=[
            CuttingSummary(
                lay_id=row.lay_id,
                style=lay.style,
                cloth=row.cloth,
                number=row.number,
                done=bool(row.data.get("done")),
                updated=row.updated,
            )
            for row, lay in cuttings.list_cuttings(session)
        ]
    )


def move(
    session: Session, lay_id: str, cloth: str, wish: WalkWish, *, may_approve: bool = True
) -> CuttingView:
    """Go where a page wants to go. Raises ConflictError if it saw an older state, or another layout
    than the one there is; approving a layout keeps it, whatever the search still finds."""
    layout = cuttings.layout_of(session, lay_id, cloth)
    row = cuttings.get_cutting(session, lay_id, cloth)
    _check_seen(row, wish.number)
    if wish.layout != layout_key(layout):
        raise ConflictError(
            "the layout was changed since this page was opened",
            code="layout_changed",
            hint="Open the table view again, and look the layout through once more.",
            where="layout",
        )
    data = _data(row)
    was_approved = data["walk"]["approved"]
    data["walk"] = wish.walk.model_dump()
    if wish.walk.approved and data["measured"] and not data["measured"]["fits"]:
        raise RefusedError(
            data["measured"]["words"],
            code="cloth_too_small",
            hint="Measure again (W) if a reading was wrong.",
            where="cloth",
        )
    # A layout that was laid again counts as a new one here.
    if wish.walk.approved and not was_approved and not may_approve:
        raise ForbiddenError(
            "a layout is approved where the cloth can be seen",
            code="not_for_hand",
            hint="Approve it at the table.",
            where="walk",
        )
    if wish.walk.approved and not data.get("layout"):
        data["layout"] = layout
    return _view(cuttings.keep_cutting(session, lay_id, cloth, data), layout)


def mark(session: Session, lay_id: str, cloth: str, wish: MarkWish) -> CuttingView:
    """Mark a cutting as made, taken back or spoiled, or the whole as done. Raises LayError when the
    ledger forbids it, RefusedError before the layout is approved."""
    layout = cuttings.layout_of(session, lay_id, cloth)
    row = cuttings.get_cutting(session, lay_id, cloth)
    data = _data(row)
    if not data.get("layout"):
        raise RefusedError(
            "nothing can be marked as cut before the layout was looked through and approved",
            code="not_approved",
            hint="Go through guides and layout in the table view first.",
            where=wish.key,
        )
    ledger = ledger_of(layout, data)
    if wish.do == "done":
        check_done(ledger)
        data["done"] = True
    else:
        ledger = _marked(ledger, wish)
        data["done"] = False
    data["cut"] = [_said(key) for key in ledger.cut]
    data["spoiled"] = [[_said(key), hand.value] for key, hand in ledger.spoiled]
    return _view(cuttings.keep_cutting(session, lay_id, cloth, data), layout)


def register_window(session: Session, lay_id: str, cloth: str, wish: RegisterWish) -> CuttingView:
    """Keep how the cloth really lies in a window, from its chalked crosses; lit and chalked at the
    same places takes a correction back. Raises LayError when the crosses fix no motion, or one so
    large that the cloth should be laid straight by hand."""
    layout = cuttings.layout_of(session, lay_id, cloth)
    data = _data(cuttings.get_cutting(session, lay_id, cloth))
    found = register(wish.lit, wish.chalked)
    entry = {
        "window": wish.window,
        "map_id": wish.map_id,
        "dx_mm": found.dx_mm,
        "dy_mm": found.dy_mm,
        "turn_deg": found.turn_deg,
        "residual_mm": found.residual_mm,
        "matrix": found.matrix().tolist(),
    }
    others = [r for r in data["registered"] if r["window"] != wish.window]
    data["registered"] = [*others, entry]
    return _view(cuttings.keep_cutting(session, lay_id, cloth, data), layout)


def measure_cloth(session: Session, lay_id: str, cloth: str, wish: ClothWish) -> CuttingView:
    """Keep the real cloth's measures; the answer says whether the layout fits it. Raises
    RefusedError naming the reading that cannot be read."""
    layout = cuttings.layout_of(session, lay_id, cloth)
    data = _data(cuttings.get_cutting(session, lay_id, cloth))
    lengths = _lengths("length", wish.lengths, wish.unit)
    widths = _lengths("width", wish.widths, wish.unit)
    checked = asdict(check_cloth(layout, lengths, widths))
    data["measured"] = {"lengths_mm": lengths, "widths_mm": widths} | checked
    return _view(cuttings.keep_cutting(session, lay_id, cloth, data), layout)


def ask_look(session: Session, lay_id: str, cloth: str, wish: LookWish) -> CuttingView:
    """Keep how the table should be lit; table pages follow."""
    layout = cuttings.layout_of(session, lay_id, cloth)
    data = _data(cuttings.get_cutting(session, lay_id, cloth))
    data["look"] = data["look"] | wish.model_dump(exclude_none=True)
    return _view(cuttings.keep_cutting(session, lay_id, cloth, data), layout)


@dataclass(frozen=True, slots=True)
class Begun:
    """What laying the rest again must know: the layout in force, the cuttings made on this cloth
    before it (``gone``, placements in wire form), the flaws found so far, and the ledger."""

    layout: Mapping[str, Any]
    gone: Sequence[Mapping[str, Any]]
    flaws: Sequence[Sequence[tuple[float, float]]]
    ledger: Ledger


def begun_layout(session: Session, lay_id: str, cloth: str, number: int) -> Begun:
    """The cutting as far as it is. Raises ConflictError if ``number`` is not its present one, and
    RefusedError when nothing was approved yet (then the lay itself is simply searched again)."""
    row = cuttings.get_cutting(session, lay_id, cloth)
    _check_seen(row, number)
    data = _data(row)
    if not data.get("layout"):
        raise RefusedError(
            "there is nothing to lay again before the layout was approved",
            code="not_approved",
            hint="Change the cloth at the desk and let it be laid anew.",
        )
    layout = data["layout"]
    flaws = [[(x, y) for x, y in outline] for outline in data.get("flaws", ())]
    return Begun(layout, data.get("gone", ()), flaws, ledger_of(layout, data))


def keep_relaid(
    session: Session,
    lay_id: str,
    cloth: str,
    number: int,
    fresh: dict[str, Any],
    flaws: Sequence[Any],
) -> CuttingView:
    """Keep the layout of what is still to be cut, and all ``flaws`` known by now. What was asked,
    cut and spoiled stays in the ledger; the walk begins anew, for the layout must be looked through
    and approved again."""
    row = cuttings.get_cutting(session, lay_id, cloth)
    _check_seen(row, number)
    data = _data(row)
    old = data["layout"]
    made = [p for p in old["placements"] if f"{p['piece']}#{p['copy']}" in data["cut"]]
    data |= {
        "layout": fresh,
        "asked": data.get("asked") or old["asked"],
        "gone": [*data.get("gone", ()), *made],
        "flaws": list(flaws),
        "walk": START,
        "registered": [],
        "done": False,
    }
    if measured := data["measured"]:
        # The layout may have grown longer than the cloth: it is then refused when approved.
        checked = check_cloth(fresh, measured["lengths_mm"], measured["widths_mm"])
        data["measured"] = {**measured, **asdict(checked)}
    return _view(cuttings.keep_cutting(session, lay_id, cloth, data), fresh)


def ledger_of(layout: Mapping[str, Any], data: Mapping[str, Any]) -> Ledger:
    """The ledger of a layout with the marks kept so far."""
    return Ledger(
        asked=tuple(Asked(**a) for a in data.get("asked") or layout["asked"]),
        hands=tuple(
            ((str(p["piece"]), int(p["copy"])), tuple(Hand(h) for h in p["hands"]))
            for p in (*data.get("gone", ()), *layout["placements"])
        ),
        cut=tuple(_key(k) for k in data.get("cut", ())),
        spoiled=tuple((_key(k), Hand(h)) for k, h in data.get("spoiled", ())),
    )


def _marked(ledger: Ledger, wish: MarkWish) -> Ledger:
    key = _key(wish.key)
    if wish.do == "cut":
        return mark_cut(ledger, key)
    if wish.do == "take back":
        return take_back(ledger, key)
    if wish.hand is None:
        raise RefusedError(
            f"say which hand of {key[0]} is spoiled", hint="drawn, or turned", where="hand"
        )
    return mark_spoiled(ledger, key, Hand(wish.hand))


def _check_seen(row: CuttingRow | None, number: int) -> None:
    now = 0 if row is None else row.number
    if number != now:
        raise ConflictError(
            f"another page moved on first: it is at step {now}, this was made on step {number}",
            code="moved_on",
            hint="Look where the table stands now, then press again.",
            where="number",
        )


def _data(row: CuttingRow | None) -> dict[str, Any]:
    fresh: dict[str, Any] = {
        "walk": START,
        "cut": [],
        "spoiled": [],
        "done": False,
        "registered": [],
        "measured": None,
        "look": {},
    }
    return fresh if row is None else fresh | dict(row.data)


def _view(row: CuttingRow | None, layout: Mapping[str, Any]) -> CuttingView:
    data = _data(row)
    ledger = ledger_of(layout, data)
    missing = gaps(ledger)
    words = ", ".join(f"{g.gap} x {g.piece} ({_hand_said(g.hand)})" for g in missing)
    return CuttingView.model_validate(
        {
            "number": 0 if row is None else row.number,
            "layout": layout_key(layout),
            "walk": data["walk"],
            "cut": data["cut"],
            "spoiled": data["spoiled"],
            "earlier": [
                {"key": f"{p['piece']}#{p['copy']}", "hands": p["hands"]}
                for p in data.get("gone", ())
            ],
            "done": data["done"],
            "registered": data["registered"],
            "measured": data["measured"],
            "look": data["look"],
            "flaws": data.get("flaws", []),
            "holes": [p["cut_line"] for p in data.get("gone", ())],
            "lines": [asdict(line) | {"gap": line.gap} for line in lines(ledger)],
            "gaps_text": f"Still to be cut: {words}." if missing else "",
        }
    )


def _lengths(what: str, said: Sequence[str | float], unit: str) -> list[float]:
    out = []
    for i, text in enumerate(said, start=1):
        try:
            mm = parse_length(text, unit=unit)
        except NestingError as error:
            raise RefusedError(
                f"{what} {i}: {error}", code="cloth.reading", where=f"{what} {i}",
                hint="Write it as 152.4, 152.4 cm or 60 in.",
            ) from error  # fmt: skip
        if not 0 < mm <= LONGEST_MM:
            raise RefusedError(
                f"{what} {i} is {mm:.0f} mm", code="cloth.reading", where=f"{what} {i}",
                hint="Look at the unit, and measure again.",
            )  # fmt: skip
        out.append(mm)
    return out


def _hand_said(hand: Hand) -> str:
    return "as drawn" if hand is Hand.DRAWN else "turned over"


def _key(said: str) -> Key:
    piece, _, copy = said.rpartition("#")
    if not piece or not copy.isdigit():
        raise RefusedError(
            f"“{said}” names no cutting", hint="Write it as Front#1: piece and copy.", where="key"
        )
    return piece, int(copy)


def _said(key: Key) -> str:
    return f"{key[0]}#{key[1]}"
