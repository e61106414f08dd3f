"""XML from strangers to an element tree: no entities, no DTD, bounded size, depth and count."""

from __future__ import annotations

import re
from dataclasses import dataclass
from xml.etree.ElementTree import Element, ParseError

from defusedxml import DefusedXmlException
from defusedxml.ElementTree import fromstring

from service.errors import FormatError, TooLargeError

_PLAIN_DOCTYPE = re.compile(
    rb"<!DOCTYPE\s+svg(\s+(PUBLIC|SYSTEM)(\s+(\"[^\"<>]*\"|'[^'<>]*'))*)?\s*>"
)


@dataclass(frozen=True, slots=True)
class XmlLimits:
    """What a drawing may hold: far beyond real drawings, far below what hurts."""

    bytes: int = 10_000_000
    elements: int = 50_000
    depth: int = 200


LIMITS = XmlLimits()


def parse_xml(data: bytes, *, source: str, limits: XmlLimits = LIMITS) -> Element:
    """The root element. Raises FormatError or TooLargeError, in words that name ``source``.

    Old drawing programs write a DOCTYPE that only names the SVG DTD: it is taken out first. Any
    other DOCTYPE (entities, an internal subset) is refused: that is how XML bombs are built.
    """
    if len(data) > limits.bytes:
        raise TooLargeError(
            f"{source} has {len(data) / 1e6:.0f} MB; a drawing may have "
            f"{limits.bytes / 1e6:.0f} MB",
            where=source,
            hint="Take out embedded pictures and copies of the drawing, then save it again.",
        )
    if data[:2] == b"\x1f\x8b":
        raise FormatError(
            f"{source} is compressed",
            where=source,
            hint="Save it as plain SVG, not as compressed SVG.",
        )
    try:
        root = fromstring(_PLAIN_DOCTYPE.sub(b"", data, count=1), forbid_dtd=True)
    except DefusedXmlException:
        raise FormatError(
            f"{source} declares a document type or entities, which a drawing does not need",
            where=source,
            hint="Save it as plain SVG; take out the lines between “<!DOCTYPE” and “]>”.",
            code="unsafe_xml",
        ) from None
    except (ParseError, ValueError, LookupError) as e:
        raise FormatError(
            f"{source} is not well-formed XML: {str(e)[:200]}",
            where=source,
            hint="Open it in the program that made it and save it again as plain SVG.",
        ) from None
    _check_shape(root, source, limits)
    return root


def local_name(tag: object) -> str:
    """The tag or attribute name without its namespace; "" for comments and instructions."""
    return tag.rpartition("}")[2] if isinstance(tag, str) else ""


def _check_shape(root: Element, source: str, limits: XmlLimits) -> None:
    count = 0
    stack = [(root, 1)]
    while stack:
        element, depth = stack.pop()
        count += 1
        if depth > limits.depth:
            raise TooLargeError(
                f"{source} nests groups more than {limits.depth} deep",
                where=source,
                hint="Ungroup what needs no group, then save it again.",
            )
        if count > limits.elements:
            raise TooLargeError(
                f"{source} holds more than {limits.elements} elements",
                where=source,
                hint="Split the drawing, one style in each file, and take out what is no piece.",
            )
        stack.extend((child, depth + 1) for child in element)
