"""A title's text cut into chunks is the whole text, and each comment belongs where a person would say."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from discwright.files.title_chunks import Chunk, Statement, comments_of, cut, toml_list, toml_text, with_value
from discwright.files.title_starter import STARTER

TEXT = """# all

[title]
name = "x"  # behind
# below

# free

# above
[["edition" . 'side']]
# within
bands = [ # [[no]]
  "a", # b
  # own
]
last = '''
[no]
# nor this'''
# after
"""


def text_of(chunks: list[Chunk]) -> str:
    return "".join(chunk.text + "".join(one.text for one in chunk.gap) for chunk in chunks)


def test_tables_and_their_comments() -> None:
    """By hand."""
    first, title, side = cut(TEXT)
    assert (first.path, first.text, len(first.gap)) == ((), "", 2)
    assert (title.path, title.text) == (("title",), '[title]\nname = "x"  # behind\n# below\n')
    assert [one.text for one in title.gap] == ["\n", "# free\n", "\n"]
    assert side.path == ("edition", "side")
    assert [one.kind for one in side.body] == ["comment", "head", "comment", "key", "key", "comment"]
    assert [one.path for one in side.body if one.kind == "key"] == [("bands",), ("last",)]
    assert side.gap == ()
    assert text_of([first, title, side]) == TEXT


def test_the_starter_comes_together_again() -> None:
    assert text_of(list(cut(STARTER))) == STARTER
    assert [chunk.path for chunk in cut(STARTER)] == [(), ("title",), ("band",), ("band",), ("edition",)]


@given(
    st.lists(st.sampled_from(["# c", "", "[a]", "[[b]]", "k = 1", 'l = [\n"x",\n# y\n]', "m = 'z' # w"]), max_size=12)
)
def test_nothing_is_lost(lines: list[str]) -> None:
    for end in ("\n", "\r\n"):
        text = "\n".join(lines).replace("\n", end)
        assert text_of(list(cut(text))) == text
        assert len(list(cut(text))) == 1 + sum(line.startswith("[") for line in lines)


def test_another_value() -> None:
    """By hand: comments behind stay, a comment line within moves up, and what says the same is not touched."""
    statement = next(one for chunk in cut(TEXT) for one in chunk.body if one.path == ("bands",))
    assert with_value(statement, '["b"]') == '  # own\nbands = ["b"]\n'
    assert with_value(statement, "['a']") == statement.text
    letter = Statement("  'letter' = \"A\"   # hit\r\n", "key", ("letter",))
    assert with_value(letter, '"B"') == "  'letter' = \"B\"   # hit\r\n"


def test_values_as_toml() -> None:
    assert toml_list(["a", 'b"c']) == '["a", "b\\"c"]'  # by hand
    assert toml_text("é\x7f\n") == '"é\\u007F\\n"'  # by hand
    assert comments_of("a # no\n  # yes\n#too\n") == ["  # yes\n", "#too\n"]
