"""Where in the file a value stands. Only built when there is something to report."""

from __future__ import annotations

import tree_sitter_toml
from tree_sitter import Language, Node, Parser

Path = tuple[str | int, ...]

_TABLES = {"table", "table_array_element"}


class LineFinder:
    """Maps a path such as ``("pattern", 2, "flange_holes")`` to its 1-based line."""

    def __init__(self, text: str) -> None:
        tree = Parser(Language(tree_sitter_toml.language())).parse(text.encode())
        self._lines: dict[Path, int] = {}
        self._counts: dict[Path, int] = {}
        for node in tree.root_node.children:
            if node.type == "pair":
                self._pair(node, ())
            elif node.type in _TABLES:
                self._table(node)

    def line(self, path: Path) -> int | None:
        """The line of ``path``, or of its nearest written ancestor; None at the top."""
        while path:
            if path in self._lines:
                return self._lines[path]
            path = path[:-1]
        return None

    def _table(self, node: Node) -> None:
        names = next(
            (_key_parts(child) for child in node.children if child.type.endswith("key")), ()
        )
        path: Path = ()
        for place, name in enumerate(names):
            path = (*path, name)
            last = place == len(names) - 1
            if last and node.type == "table_array_element":
                self._counts[path] = self._counts.get(path, -1) + 1
            if path in self._counts:
                self._lines.setdefault(path, _line(node))
                path = (*path, self._counts[path])
        self._lines.setdefault(path, _line(node))
        for child in node.children:
            if child.type == "pair":
                self._pair(child, path)

    def _pair(self, node: Node, base: Path) -> None:
        key = next(child for child in node.children if child.type.endswith("key"))
        path = (*base, *_key_parts(key))
        self._lines.setdefault(path, _line(node))
        self._value(node.children[-1], path)

    def _value(self, node: Node, path: Path) -> None:
        if node.type == "inline_table":
            for child in node.children:
                if child.type == "pair":
                    self._pair(child, path)
        elif node.type == "array":
            items = [child for child in node.named_children if child.type != "comment"]
            for place, item in enumerate(items):
                self._lines.setdefault((*path, place), _line(item))
                self._value(item, (*path, place))


def _line(node: Node) -> int:
    return int(node.start_point[0]) + 1


def _key_parts(node: Node) -> tuple[str, ...]:
    if node.type == "dotted_key":
        return tuple(
            part
            for child in node.children
            if child.type.endswith("key")
            for part in _key_parts(child)
        )
    text = (node.text or b"").decode()
    return (text.strip("\"'") if node.type == "quoted_key" else text,)
