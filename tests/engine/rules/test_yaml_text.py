"""YAML that nobody vouches for: plain data, limits, and the line of everything."""

import pytest
import yaml

from engine.rules.limits import MAX_ALIASES, MAX_DEPTH
from engine.rules.yaml_text import YamlFault, read_yaml
from engine.store.folio_files import SHIPPED


def test_it_reads_what_the_usual_reader_reads() -> None:
    """The shipped files hold nothing that the two understand differently."""
    files = sorted(SHIPPED.rglob("*.yaml"))
    assert len(files) > 50
    for path in files:
        text = path.read_bytes()
        assert read_yaml(text).data == yaml.safe_load(text), path


def test_plain_words_are_what_they_look_like() -> None:
    text = (
        b"[yes, no, on, off, true, False, null, ~, 12, -3, +4, 010, 1_000, 2024-01-02, 12:30, 1.5, 1e3, .5, '7', 0x1f]"
    )
    assert read_yaml(text).data == [
        "yes", "no", "on", "off", True, False, None, None, 12, -3, 4, "010", "1_000", "2024-01-02", "12:30", 1.5,
        "1e3", ".5", "7", "0x1f",
    ]  # fmt: skip


def test_lines() -> None:
    document = read_yaml(b"a: 1\nb:\n  - x\n  - {c: 1,\n     d: 2}\n7: y\n")
    assert document.place.line_of(("a",)) == 1
    assert document.place.line_of(("b", 1)) == 4
    assert document.place.line_of(("b", 1, "d")) == 5
    assert document.place.line_of(("b", 1, "d", "nothing")) == 5
    assert document.place.line_of((7,)) == 6


def bomb(levels: int) -> bytes:
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 10)}]" for i in range(1, levels)]
    return "\n".join(lines).encode()


@pytest.mark.parametrize(
    ("text", "line", "said"),
    [
        (b"a: !!python/object/apply:os.system ['true']", 1, "YAML tag"),
        (b"a: !own {b: 1}", 1, "YAML tag"),
        (b"a: &x [*x]", 1, "stands inside the very value it repeats"),
        (b"a: *x", 1, "was not given before"),
        (b"a: 1\n<<: {b: 2}", 2, "merges blocks"),
        (b"? [a, b]\n: c", 1, "a key is a plain word"),
        (b"---\na\n---\nb", 3, "a second document"),
        (b"a: 1\nb: \xff", 2, "no UTF-8"),
        (b"a: 1\nb: \x07", 2, "not readable as YAML"),
        (b"a: 1\nb: [1, 2", 2, "not readable as YAML"),
        (b"a: 12345678901", 1, "too large"),
        (b"a: " + b"x" * 5000, 1, "5,000 characters"),
        (b"- " * 500 + b"x", 1, f"more than {MAX_DEPTH} deep"),
        (b"[" * 100_000, 1, "not readable as YAML"),
        (b"{a: " * 100 + b"1" + b"}" * 100, 1, f"more than {MAX_DEPTH} deep"),
        (b"a: &a 1\nb: [" + b"*a," * (MAX_ALIASES + 1) + b"]", 2, f"more than {MAX_ALIASES} aliases"),
        (bomb(12), 6, "values"),
        (b"a: [" + b"1," * 500_000 + b"]", 1, "values"),
    ],
)
def test_what_is_refused(text: bytes, line: int, said: str) -> None:
    with pytest.raises(YamlFault) as caught:
        read_yaml(text)
    assert said in caught.value.sentence
    if "readable" not in said:
        assert caught.value.line == line


def test_a_key_given_twice_is_told_and_the_first_stands() -> None:
    document = read_yaml(b"a: 1\nb: 2\na: 3\n")
    assert document.data == {"a": 1, "b": 2}
    assert document.faults == ((3, "the key `a` stands here twice; keep one"),)
