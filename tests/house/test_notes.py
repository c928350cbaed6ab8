"""Below presentation there are facts: notes by code, each with one template that states just their figures."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path
from string import Formatter

import pytest

from planner.presentation.words.notes import TEMPLATES

PACKAGE = Path(__file__).parents[2] / "planner"


def codes_of(node: ast.expr) -> list[str]:
    """Return the codes that an expression may give: a constant, or one of two."""
    if isinstance(node, ast.IfExp):
        return [*codes_of(node.body), *codes_of(node.orelse)]
    return [str(node.value)] if isinstance(node, ast.Constant) else []


@cache
def notes_made() -> list[tuple[str, list[str], ast.expr | None]]:
    """Return where notes are made, their codes and their figures."""
    made = []
    for path in sorted(PACKAGE.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Note":
                where = f"{path.relative_to(PACKAGE)}:{node.lineno}"
                made.append((where, codes_of(node.args[0]), node.args[1] if len(node.args) > 1 else None))
    return made


def placeholders(template: str) -> set[str]:
    return {name.split(".")[0] for _, name, _, _ in Formatter().parse(template) if name}


def test_every_code_has_a_template_and_every_template_a_note() -> None:
    assert {code for _, codes, _ in notes_made() for code in codes} == set(TEMPLATES)


@pytest.mark.parametrize("code", sorted(TEMPLATES))
def test_a_note_has_the_figures_that_its_template_states(code: str) -> None:
    for where, codes, figures in notes_made():
        if code not in codes:
            continue
        if isinstance(figures, ast.Dict) and all(isinstance(key, ast.Constant) for key in figures.keys):
            named = {key.value for key in figures.keys if isinstance(key, ast.Constant)}
            assert placeholders(TEMPLATES[code]) <= named, where
        if figures is None:
            assert placeholders(TEMPLATES[code]) == set(), where
