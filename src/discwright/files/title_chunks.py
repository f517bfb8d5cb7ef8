"""The text of a title file cut into chunks: each table with its comments, and what stands between the tables."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

#: Whatever could hide an end of line or a bracket, texts and comments; and the brackets and ends themselves.
_TOKEN = re.compile(
    r'''"""(?:\\.|[^\\])*?"{3,5}|'{3}.*?'{3,5}|"(?:\\.|[^"\\\n])*"|'[^'\n]*'|#[^\n]*|[\[\]{}\n]''', re.DOTALL
)
_PART = r"""(?:"(?:\\.|[^"\\\n])*"|'[^'\n]*'|[A-Za-z0-9_-]+)"""
_KEY = re.compile(rf"\s*({_PART}(?:\s*\.\s*{_PART})*)\s*=\s*")
_ANY = "value"
_HEAD = re.compile(rf"\s*\[{{1,2}}\s*({_PART}(?:\s*\.\s*{_PART})*)\s*\]")


@dataclass(frozen=True)
class Statement:
    """A head, a key with its value, a line of comment or an empty line; with its end of line.

    Attributes
    ----------
    text, kind : str
        ``"head"``, ``"key"``, ``"comment"`` or ``"blank"``.
    path : tuple of str
        Parts of the head or key.
    """

    text: str
    kind: str
    path: tuple[str, ...] = ()

    @property
    def comments(self) -> list[str]:
        """Its comments that have a line to themselves."""
        if self.kind == "comment":
            return [self.text]
        return [line for line in self.text.splitlines(keepends=True)[1:] if line.lstrip().startswith("#")]


@dataclass(frozen=True)
class Chunk:
    """One table.

    Attributes
    ----------
    path : tuple of str
        Of its head; empty for what stands before the first.
    body : tuple of Statement
        Comments right above the head, the head, all down to its last key and the comments right below that.
    gap : tuple of Statement
        What stands between that and the next table's comments.
    """

    path: tuple[str, ...]
    body: tuple[Statement, ...]
    gap: tuple[Statement, ...]

    @property
    def text(self) -> str:
        """Its own text, without the gap."""
        return "".join(one.text for one in self.body)


def cut(text: str) -> Iterator[Chunk]:
    """Cut a text into its tables; put together again in their order they are the text.

    Parameters
    ----------
    text : str
        Valid TOML, with any ends of line, without a mark at its begin.

    Yields
    ------
    Chunk
        What stands before the first head is one, too.
    """
    statements = list(_statements(text))
    heads = [k for k, one in enumerate(statements) if one.kind == "head"]
    lead: list[Statement] = []
    for begin, stop in zip([0, *heads], [*heads, len(statements)], strict=True):
        table = statements[begin:stop]
        last = max((k for k, one in enumerate(table) if one.kind in ("head", "key")), default=-1)
        rest = table[last + 1 :]
        above = _run(rest[::-1])[::-1] if stop < len(statements) else []  # comments of the next head
        rest = rest[: len(rest) - len(above)]
        after = _run(rest) if last >= 0 else []
        path = table[0].path if table and table[0].kind == "head" else ()
        yield Chunk(path, (*lead, *table[: last + 1], *after), tuple(rest[len(after) :]))
        lead = above


def _run(statements: Sequence[Statement]) -> list[Statement]:
    """The comments that statements begin with."""
    stop = next((k for k, one in enumerate(statements) if one.kind != "comment"), len(statements))
    return list(statements[:stop])


def _statements(text: str) -> Iterator[Statement]:
    begin, depth = 0, 0
    for token in _TOKEN.finditer(text):
        depth += (token[0] in "[{") - (token[0] in "]}")
        if token[0] == "\n" and depth == 0:
            yield _statement(text[begin : token.end()])
            begin = token.end()
    if begin < len(text):
        yield _statement(text[begin:])


def _statement(text: str) -> Statement:
    bare = text.strip()
    if not bare:
        return Statement(text, "blank")
    if bare.startswith("#"):
        return Statement(text, "comment")
    head = _HEAD.match(text) if bare.startswith("[") else None
    if head:
        return Statement(text, "head", _parts(head[1]))
    key = _KEY.match(text)
    return Statement(text, "key", _parts(key[1]) if key else ("",))


def _parts(dotted: str) -> tuple[str, ...]:
    """Parts of a dotted key, as TOML itself reads each."""
    return tuple(next(iter(tomllib.loads(f"{part}=0"))) for part in re.findall(_PART, dotted))


def comments_of(text: str) -> list[str]:
    """Lines of a text that hold nothing but a comment."""
    return [line for line in text.splitlines(keepends=True) if line.lstrip().startswith("#")]


def toml_text(value: str) -> str:
    """A JSON text is a TOML one, but for one character."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007F")


def toml_list(values: Sequence[str]) -> str:
    """A list of texts on one line."""
    return f"[{', '.join(map(toml_text, values))}]"


def with_value(statement: Statement, value: str) -> str:
    """The text of a key with another value; comments behind it stay, those within it move above it.

    Parameters
    ----------
    statement : Statement
        Of a key.
    value : str
        As TOML.
    """
    key = _KEY.match(statement.text)
    assert key is not None
    depth, stop = 0, key.end()
    for token in _TOKEN.finditer(statement.text, key.end()):
        depth += (token[0] in "[{") - (token[0] in "]}")
        if depth == 0:
            stop = token.end()
            break
    if tomllib.loads(f"{_ANY} = {statement.text[key.end() : stop]}") == tomllib.loads(f"{_ANY} = {value}"):
        return statement.text
    return "".join([*statement.comments, statement.text[: key.end()], value, statement.text[stop:]])
