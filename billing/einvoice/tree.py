"""Small XML trees by nested tuples, so that the syntax modules read like the standard.

A node is ``(name, content)`` or ``(name, content, attributes)``; content is text or a
list of nodes. None, an empty text or an empty list leaves the node out; an empty tuple
makes an empty element.
"""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

Node = tuple[Any, ...]


def amount(value: Decimal) -> str:
    """As a figure of a document: never an exponent, never minus zero."""
    return f"{value if value else abs(value):f}"


def plain(value: Decimal) -> str:
    """A quantity or a rate, without trailing zeros."""
    return f"{value.normalize():f}" if value else "0"


def grown(parent: Any, nodes: Sequence[Node | None], spaces: Mapping[str, str]) -> None:
    """Adds the nodes below ``parent``; a name is ``prefix:Name``."""
    from lxml import etree

    for node in nodes:
        if node is None or node[1] is None or node[1] == [] or node[1] == "":
            continue
        prefix, _, name = node[0].partition(":")
        attributes = node[2] if len(node) > 2 else {}
        child = etree.SubElement(parent, f"{{{spaces[prefix]}}}{name}", attributes)
        if isinstance(node[1], str):
            child.text = node[1]
        else:
            grown(child, node[1], spaces)


def written(
    name: str,
    nodes: Sequence[Node | None],
    spaces: Mapping[str, str],
    *,
    default: str | None = None,
) -> bytes:
    """The document with this root, in UTF-8; ``default``: the namespace without a
    prefix."""
    from lxml import etree

    prefix, _, local = name.partition(":")
    shown: dict[str | None, str] = {
        key: space for key, space in spaces.items() if key != default
    }
    if default is not None:
        shown = {None: spaces[default], **shown}
    root = etree.Element(f"{{{spaces[prefix]}}}{local}", nsmap=shown)
    grown(root, nodes, spaces)
    content: bytes = etree.tostring(
        root, encoding="UTF-8", xml_declaration=True, pretty_print=True
    )
    return content
