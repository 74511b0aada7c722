"""Rules of the house that no linter knows: who writes, what stands where, what pages may load."""

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
SITE = ROOT / "inventory"
COMMANDS = SITE / "management" / "commands"
TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "manage.py",
    "requirements.txt",
    "inventory",
    "forecasting",
    "tests",
    "fixtures",
}

ALWAYS_A_WRITE = {
    "create",
    "get_or_create",
    "update_or_create",
    "bulk_create",
    "bulk_update",
    "delete",
    "save",
}
ROWS = {"objects", "filter", "exclude", "all", "order_by", "select_for_update", "update"}
FILES_AND_CACHES = {"workbook", "code", "cache", "canvas"}  # their save or delete is no row's


def chain(node: ast.expr) -> list[str]:
    """Names of a dotted expression, left to right: Item.objects.filter(...) -> Item objects filter."""
    if isinstance(node, ast.Attribute):
        return [*chain(node.value), node.attr]
    if isinstance(node, ast.Call):
        return chain(node.func)
    if isinstance(node, ast.Subscript):
        return chain(node.value)
    return [node.id] if isinstance(node, ast.Name) else []


def is_write(call: ast.Call) -> bool:
    if not isinstance(call.func, ast.Attribute):
        return False
    receiver = chain(call.func.value)
    if call.func.attr in ALWAYS_A_WRITE:
        return not FILES_AND_CACHES.intersection(receiver[:1])
    of_rows = ROWS.intersection(receiver) or receiver[-1:] in (["queryset"], ["rows"])
    return call.func.attr == "update" and bool(of_rows)


def writes(source: str) -> Iterator[ast.Call]:
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Call) and is_write(node):
            yield node


@pytest.mark.parametrize(
    "line",
    [
        "item.save()",
        "form.save()",
        "self.instance.lot.delete()",
        "Item.objects.create(code='BAR-5x40')",
        "supplier.offers.get_or_create(item=item)",
        "Item.objects.filter(pk=1).update(name='bar')",
        "queryset.update(name='bar')",
        "Movement.objects.bulk_create(lines)",
        "super().save(*args)",
    ],
)
def test_line_that_writes_is_recognised(line):
    assert list(writes(line))


@pytest.mark.parametrize(
    "line",
    [
        "context.update(title='Stock')",
        "hashlib.sha256().update(content)",
        "self.base_fields['code'].widget.attrs.update(size=8)",
        "workbook.save(path)",
        "cache.delete('today')",
        "Item.objects.filter(kind='bar').order_by('code')",
        "receive_delivery(item=item, save=True)",
    ],
)
def test_line_that_only_reads_is_let_through(line):
    assert not list(writes(line))


def test_only_actions_write_to_the_database():
    elsewhere = [
        path
        for path in SITE.rglob("*.py")
        if not {"actions", "migrations"}.intersection(path.relative_to(SITE).parts)
    ]
    found = [
        f"{path.relative_to(ROOT)}:{call.lineno}: {ast.unparse(call)[:70]}"
        for path in elsewhere
        for call in writes(path.read_text(encoding="utf-8"))
    ]
    assert len(elsewhere) > 20
    assert not found, "write through an action in inventory/actions:\n" + "\n".join(found)


@pytest.mark.parametrize("package", ["forecasting", "inventory.cutting", "inventory.units"])
def test_calculations_load_without_django(package):
    load_all = (
        "import importlib, pkgutil, sys\n"
        f"package = importlib.import_module({package!r})\n"
        "for module in pkgutil.walk_packages(getattr(package, '__path__', []), package.__name__ + '.'):\n"
        "    importlib.import_module(module.name)\n"
        "print(sorted({'django', 'inventory.models', 'inventory.settings'} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", load_all], cwd=ROOT, capture_output=True, text=True
    )
    assert (done.stdout, done.returncode) == ("[]\n", 0), done.stderr


def test_top_level_holds_what_it_was_given_and_nothing_else():
    visible = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    assert visible - {"__pycache__"} == TOP_LEVEL


@pytest.mark.parametrize(
    "command", sorted(path.stem for path in COMMANDS.glob("*.py") if path.stem != "__init__")
)
def test_command_is_documented_in_the_readme(command):
    assert f"manage.py {command}" in (ROOT / "README.md").read_text(encoding="utf-8")


def test_modules_are_named_after_what_they_hold():
    vague = {"utils", "util", "common", "helpers", "helper", "core", "misc", "tools"}
    modules = [*SITE.rglob("*.py"), *(ROOT / "forecasting").rglob("*.py")]
    assert not [path for path in modules if vague.intersection((path.stem, path.parent.name))]


def test_tests_form_no_package_that_could_hide_the_real_one():
    assert not list((ROOT / "tests").rglob("__init__.py"))


OTHER_HOST = r"""(?:src|href|srcset|action|data|poster)\s*=\s*["']?\s*(?:https?:)?//"""
INLINE = r"""\sstyle\s*=|\son[a-z]+\s*=\s*["']|<style\b|<script(?![^>]*\bsrc\s*=)"""
STYLESHEET_OTHER_HOST = r"""(?:url\(|@import)\s*["']?\s*(?:https?:)?//"""


@pytest.mark.parametrize(
    ("folder", "kind", "forbidden"),
    [
        ("templates", "*.html", OTHER_HOST),
        ("templates", "*.html", INLINE),
        ("static", "*.css", STYLESHEET_OTHER_HOST),
    ],
    ids=["template loads from another host", "inline script or style", "style from another host"],
)
def test_pages_bring_everything_along(folder, kind, forbidden):
    files = list((SITE / folder).rglob(kind))
    assert files
    found = [
        f"{path.relative_to(ROOT)}: {match[0]}"
        for path in files
        for match in re.finditer(forbidden, path.read_text(encoding="utf-8"), re.IGNORECASE)
    ]
    assert not found


@pytest.mark.parametrize(
    ("text", "forbidden"),
    [
        ('<script src="https://example.org/a.js"></script>', OTHER_HOST),
        ("<link href=//example.org/a.css>", OTHER_HOST),
        ('<p style="color: red">', INLINE),
        ('<button onclick="go()">', INLINE),
        ("<script>go()</script>", INLINE),
        ("body { background: url('https://example.org/a.png') }", STYLESHEET_OTHER_HOST),
    ],
)
def test_page_that_reaches_outside_is_recognised(text, forbidden):
    assert re.search(forbidden, text, re.IGNORECASE)
