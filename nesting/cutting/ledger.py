"""The cutting ledger: asked, laid and cut, piece by piece and hand by hand.

An immutable value; each event gives a new one. A *cutting* is one placement of the layout, which
yields one hand or both. Nothing is done while a gap stands.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

from nesting.errors import LayError
from nesting.layout import Asked, Layout
from nesting.pieces.piece import Hand

Key = tuple[str, int]
"""Piece name and copy number of a placement."""


@dataclass(frozen=True, slots=True)
class Line:
    """One hand of one piece: how many are asked for, laid, cut, and spoiled on the way."""

    piece: str
    hand: Hand
    asked: int
    laid: int
    cut: int
    spoiled: int

    @property
    def gap(self) -> int:
        """Hands still to be cut."""
        return self.asked - self.cut


@dataclass(frozen=True, slots=True)
class Ledger:
    """``hands`` says what each cutting yields; ``cut`` and ``spoiled`` which hands came of it."""

    asked: tuple[Asked, ...]
    hands: tuple[tuple[Key, tuple[Hand, ...]], ...]
    cut: tuple[Key, ...] = ()
    spoiled: tuple[tuple[Key, Hand], ...] = ()


def open_ledger(layout: Layout) -> Ledger:
    """The ledger of a layout before the first cut."""
    return Ledger(layout.asked, tuple(((p.piece, p.copy), p.hands) for p in layout.placed))


def mark_cut(ledger: Ledger, key: Key) -> Ledger:
    """The ledger after this cutting. Raises LayError if it was cut already, is not laid, or would
    cut a hand of which none is wanted any more."""
    hands = dict(ledger.hands).get(key)
    if hands is None:
        raise LayError(f"{key[0]} no. {key[1]} is not on this layout", where=key[0])
    if key in ledger.cut:
        raise LayError(
            f"{key[0]} no. {key[1]} is cut already",
            where=key[0],
            hint="Take the mark back if it was set by mistake.",
            code="cut_twice",
        )
    wanted = {(line.piece, line.hand): line.gap for line in lines(ledger)}
    for hand, count in Counter(hands).items():
        if wanted[key[0], hand] < count:
            raise LayError(
                f"every {key[0]} ({hand.value}) that is asked for is cut already",
                where=key[0],
                hint="This would cut the same hand twice. Look for the other hand.",
                code="cut_twice",
            )
    return replace(ledger, cut=(*ledger.cut, key))


def take_back(ledger: Ledger, key: Key) -> Ledger:
    """The ledger without this cutting's mark (it was set by mistake), and without its spoiled hands."""
    return replace(
        ledger,
        cut=tuple(k for k in ledger.cut if k != key),
        spoiled=tuple((k, h) for k, h in ledger.spoiled if k != key),
    )


def mark_spoiled(ledger: Ledger, key: Key, hand: Hand) -> Ledger:
    """The ledger after one hand of a cutting turned out useless: it must be cut again.

    Raises LayError if that cutting was not made or did not yield that hand (any more).
    """
    hands = Counter(dict(ledger.hands).get(key, ()))
    gone = sum(1 for k, h in ledger.spoiled if (k, h) == (key, hand))
    if key not in ledger.cut or hands[hand] <= gone:
        raise LayError(
            f"{key[0]} no. {key[1]} ({hand.value}) is not among the pieces cut", where=key[0]
        )
    return replace(ledger, spoiled=(*ledger.spoiled, (key, hand)))


def lines(ledger: Ledger) -> tuple[Line, ...]:
    """One line for each piece and hand that is asked for, in the order asked."""
    laid: Counter[tuple[str, Hand]] = Counter()
    cut: Counter[tuple[str, Hand]] = Counter()
    for key, hands in ledger.hands:
        laid.update((key[0], h) for h in hands)
        if key in ledger.cut:
            cut.update((key[0], h) for h in hands)
    spoiled = Counter((key[0], h) for key, h in ledger.spoiled)
    return tuple(
        Line(
            want.piece,
            hand,
            asked=count,
            laid=laid[want.piece, hand],
            cut=cut[want.piece, hand] - spoiled[want.piece, hand],
            spoiled=spoiled[want.piece, hand],
        )
        for want in ledger.asked
        for hand, count in ((Hand.DRAWN, want.drawn), (Hand.TURNED, want.turned))
        if count
    )


def gaps(ledger: Ledger) -> tuple[Line, ...]:
    """The lines that stand between here and done."""
    return tuple(line for line in lines(ledger) if line.gap > 0)


def check_done(ledger: Ledger) -> None:
    """Raise LayError naming every gap, if any."""
    missing = gaps(ledger)
    if missing:
        words = ", ".join(f"{n.gap} x {n.piece} ({n.hand.value})" for n in missing)
        raise LayError(f"not done: still to be cut: {words}", where=missing[0].piece, code="gaps")
