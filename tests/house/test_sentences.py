"""Sentences are made in presentation: between readers and it, a string is a name, or the message of a refusal."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

PACKAGE = Path(__file__).parents[2] / "planner"
FACTS_ONLY = ("simulation", "decision", "flow", "studies")
SENTENCE = 6  # words
REFUSALS = {"Fault", "InputError"}
ELSEWHERE = {
    "studies/figures.py": "why a variant is refused",
    "studies/replan/fix_checks.py": "how a refused fix is put right",
}


def names(node: ast.AST) -> set[str]:
    return {each.id for each in ast.walk(node) if isinstance(each, ast.Name)}


def text_of(node: ast.AST) -> str:
    """Return a string as it is written, with a word for each figure in it."""
    if isinstance(node, ast.JoinedStr):
        return "".join(str(part.value) if isinstance(part, ast.Constant) else "figure" for part in node.values)
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else ""


def spared(node: ast.AST) -> bool:
    """Return whether a node holds no result: a docstring, a refusal and its parts, a variable's long name."""
    if isinstance(node, ast.FunctionDef):
        return bool(names(node) & REFUSALS)
    if isinstance(node, ast.Dict):
        return any(isinstance(key, ast.Constant) and key.value == "long_name" for key in node.keys)
    return isinstance(node, ast.Raise) or (isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant))


def sentences(node: ast.AST) -> Iterator[str]:
    for child in ast.iter_child_nodes(node):
        if not spared(child):
            text = text_of(child)
            if len(text.split()) >= SENTENCE:
                yield text
            yield from sentences(child)


def test_below_presentation_there_are_facts() -> None:
    found = {}
    for room in FACTS_ONLY:
        for path in sorted((PACKAGE / room).rglob("*.py")):
            made = list(sentences(ast.parse(path.read_text(encoding="utf-8"))))
            if made:
                found[path.relative_to(PACKAGE).as_posix()] = made
    assert {name: made for name, made in found.items() if name not in ELSEWHERE} == {}
    assert set(ELSEWHERE) <= set(found), "a place that is free of sentences by now"
