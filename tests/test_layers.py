"""The arrows of the house point one way. This walks the imports and holds them against the rule."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
MODULES = sorted((*ROOT.glob("netcheck/**/*.py"), *ROOT.glob("probes/**/*.py")))

FORBIDDEN = {
    # who: what it must not import, however deep in it
    "netcheck": ("probes",),
    "netcheck.facts": ("netcheck.case", "netcheck.judge", "netcheck.rules", "netcheck.report", "netcheck.move"),
    "netcheck.rules": ("netcheck.probing", "netcheck.collect", "netcheck.wire", "netcheck.report", "netcheck.cli"),
    "netcheck.judge": ("netcheck.probing", "netcheck.collect", "netcheck.wire", "netcheck.report", "netcheck.cli"),
    "netcheck.evidence": ("netcheck.probing", "netcheck.collect", "netcheck.wire", "netcheck.report"),
    "netcheck.verdict": ("netcheck.judge", "netcheck.rules", "netcheck.report", "netcheck.case"),
    "netcheck.report": ("netcheck.collect", "netcheck.probing", "netcheck.wire", "netcheck.cli", "netcheck.judge"),
    "netcheck.comparing": ("netcheck.collect", "netcheck.wire", "netcheck.report", "netcheck.cli", "netcheck.commands"),
    "netcheck.redaction": ("netcheck.collect", "netcheck.judge", "netcheck.rules", "netcheck.report", "netcheck.cli"),
    "netcheck.sweeping": ("netcheck.report", "netcheck.cli", "netcheck.commands"),
    "netcheck.finding": ("netcheck.collect", "netcheck.probing", "netcheck.wire", "netcheck.report", "netcheck.judge"),
    "netcheck.rehearsal": ("netcheck.collect", "netcheck.probing", "netcheck.judge", "netcheck.facts", "netcheck.case"),
    "probes": ("netcheck.rules", "netcheck.judge", "netcheck.report", "netcheck.cli", "netcheck.rehearsal"),
}
SLOW = {"asyncio", "msgspec", "pysnmp", "pyasn1", "zeroconf", "scapy", "aiohttp", "h11", "netifaces", "socket", "ssl"}


def name_of(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


def imports(tree: ast.AST) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def is_in(module: str, package: str) -> bool:
    return module == package or module.startswith(package + ".")


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_no_import_points_the_wrong_way(path: Path) -> None:
    name = name_of(path)
    found = set(imports(ast.parse(path.read_text("utf-8"))))
    wrong = [
        (target, banned)
        for package, bans in FORBIDDEN.items()
        if is_in(name, package)
        for banned in bans
        for target in found
        if is_in(target, banned)
    ]
    assert not wrong, f"{name} imports what it must not: {wrong}"


def test_the_walk_sees_what_it_should() -> None:
    """The rule itself can fail: an import of the kind that it forbids is found."""
    tree = ast.parse("def f():\n    from probes.snmp import ber\n    import probes.ipp as i\n")
    assert {"probes.snmp", "probes.snmp.ber", "probes.ipp"} <= set(imports(tree))
    assert len(MODULES) > 40


def test_the_command_line_imports_only_click_at_its_top() -> None:
    tree = ast.parse((ROOT / "netcheck" / "cli.py").read_text("utf-8"))
    top = {
        name.partition(".")[0]
        for node in tree.body
        for name in imports(ast.Module([node], []))
        if isinstance(node, ast.Import | ast.ImportFrom)
    }
    assert top <= {
        "click",
        "netcheck",
        "contextlib",
        "signal",
        "io",
        "os",
        "sys",
        "traceback",
        "collections",
        "pathlib",
        "typing",
    }
    assert not top & SLOW
