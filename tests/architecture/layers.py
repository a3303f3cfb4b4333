"""The layers of the house and the edges between its modules, read from the sources themselves."""

from __future__ import annotations

import ast
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

# By the first part of the module's name below `ledger`. Higher numbers may import lower ones.
LAYERS = {
    "dataclass": 0,
    "errors": 0,
    "loading": 0,
    "units": 0,
    "model": 1,
    "canonical": 2,
    "merkle": 2,
    "copying": 2,
    "drives": 2,
    "fixity": 2,
    "lasheader": 2,
    "lasdescription": 2,
    "signs": 2,
    "lasrecords": 2,
    "copcinfo": 2,
    "laswriter": 2,
    "geokeys": 2,
    "lattice": 2,
    "latticepoints": 2,
    "points": 2,
    "chunktable": 2,
    "storesupply": 2,
    "supply": 2,
    "crs": 2,
    "expected": 2,
    "proj": 2,
    "fingerprint": 2,
    "pointwords": 2,
    "geodesy": 2,
    "lazlayout": 2,
    "specfile": 2,
    "fieldlogs": 2,
    "grids": 2,
    "rastertags": 2,
    "remote": 2,
    "tables": 2,
    "walk": 2,
    "naming": 2,
    "volumes": 2,
    "jobfolder": 2,
    "bookstamp": 2,
    "resume": 2,
    "settings": 2,
    "shortfile": 2,
    "outline": 2,
    "photos": 2,
    "store": 2,
    "sealing": 2,
    "wholefile": 2,
    "contract": 3,
    "crews": 3,
    "gridfiles": 3,
    "lineage": 3,
    "content": 3,
    "lasfacts": 3,
    "lateness": 3,
    "otherdays": 3,
    "forks": 3,
    "forms": 3,
    "specentry": 3,
    "auditentry": 3,
    "rereading": 3,
    "repeated": 3,
    "righistory": 3,
    "takenover": 3,
    "audited": 3,
    "standing": 3,
    "copies": 3,
    "rawplaces": 3,
    "leftout": 3,
    "driveplaces": 3,
    "rechecked": 3,
    "outputs": 3,
    "sighting": 3,
    "office": 3,
    "auditmaps": 3,
    "sealed": 3,
    "outgoing": 3,
    "stamped": 3,
    "deliverables": 3,
    "deletions": 3,
    "start": 4,
    "register": 4,
    "record": 4,
    "audit": 4,
    "accept": 4,
    "amend": 4,
    "compare": 4,
    "copyto": 3,
    "find": 4,
    "frombook": 4,
    "trace": 4,
    "recheck": 4,
    "repeat": 4,
    "checks": 4,
    "handover": 4,
    "support": 4,
    "seal": 4,
    "timestamp": 4,
    "receipt": 4,
    "sitecard": 4,
    "status": 4,
    "demo": 4,
    "testing": 4,
    "report": 5,
    "cli": 6,
}

# The function that imports a part by its name, at its first use.
LOADER = "load_part"

# The contract is the only door: what a check may know of the core.
PLUGIN_MAY_IMPORT = (
    "dataclass",
    "contract",
    "model",
    "crs",
    "expected",
    "units",
    "errors",
    "loading",
)


@dataclass(frozen=True)
class Edge:
    """One import.

    Args:
        source: importing module, dotted.
        target: imported module, dotted.
        line: line of the import.
        inside_function: whether it stands inside a function.
        late: whether the module is named in a call of the loader, to be imported at its first use.
    """

    source: str
    target: str
    line: int
    inside_function: bool
    late: bool = False


def list_edges(root: Path, package: str) -> Iterator[Edge]:
    """Yield every import of every module of a package, late ones too.

    Args:
        root: folder that holds the package.
        package: its name.
    """
    for path in sorted((root / package).rglob("*.py")):
        parts = path.relative_to(root).with_suffix("").parts
        name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        tree = ast.parse(path.read_text(encoding="utf-8"))
        functions = [
            node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef | ast.Lambda)
        ]
        inside = {id(child) for function in functions for child in ast.walk(function)}
        for node in ast.walk(tree):
            for target in _list_targets(node):
                yield Edge(name, target, getattr(node, "lineno", 0), id(node) in inside)
            if isinstance(node, ast.Call) and _is_loader(node.func):
                target = ".".join(_read_name(part) for part in node.args[:2])
                yield Edge(name, target, node.lineno, inside_function=False, late=True)


def _list_targets(node: ast.AST) -> list[str]:
    if isinstance(node, ast.Import):
        return [alias.name for alias in node.names]
    if isinstance(node, ast.ImportFrom) and node.module is not None:
        # `from ledger import crs` imports a module, `from ledger.crs import x` a name.
        return [f"{node.module}.{alias.name}" for alias in node.names]
    return []


def _is_loader(function: ast.expr) -> bool:
    return isinstance(function, ast.Name) and function.id == LOADER


def _read_name(part: ast.expr) -> str:
    """Return a name that is written out; `?` for one that only the running program knows."""
    return part.value if isinstance(part, ast.Constant) and isinstance(part.value, str) else "?"


def find_layer(module: str) -> int | None:
    """Return the layer of a module of the core; None for the package itself or a stranger."""
    parts = module.split(".")
    if parts[0] != "ledger" or len(parts) < 2:
        return None
    return LAYERS.get(parts[1])


def find_upward(edges: Iterable[Edge]) -> list[str]:
    """Return one sentence for each import that goes up."""
    faults = []
    for edge in edges:
        source, target = find_layer(edge.source), find_layer(edge.target)
        if source is not None and target is not None and target > source:
            faults.append(
                f"{edge.source}:{edge.line} (L{source}) imports {edge.target} (L{target})"
            )
    return faults


def find_cycle(edges: Iterable[Edge]) -> list[str]:
    """Return the parts of the core that import each other in a circle; empty when none do."""
    graph: dict[str, set[str]] = {}
    for edge in edges:
        source, target = edge.source.split(".")[:2], edge.target.split(".")[:2]
        if target[0] == "ledger" and len(source) == len(target) == 2 and source != target:
            graph.setdefault(source[1], set()).add(target[1])
    done: set[str] = set()
    for start in graph:
        cycle = _walk(start, graph, [], done)
        if cycle:
            return cycle
    return []


def _walk(part: str, graph: dict[str, set[str]], path: list[str], done: set[str]) -> list[str]:
    if part in path:
        return [*path[path.index(part) :], part]
    if part in done:
        return []
    for target in sorted(graph.get(part, ())):
        cycle = _walk(target, graph, [*path, part], done)
        if cycle:
            return cycle
    done.add(part)
    return []
