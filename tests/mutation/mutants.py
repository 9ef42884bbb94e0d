"""Which small changes of a module could its tests be asked to notice?"""

import ast
import random
from dataclasses import dataclass

OPPOSITE = {
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
}
BOUNDARY = {ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt}
BEYOND = {ast.Lt: ast.GtE, ast.LtE: ast.Gt, ast.Gt: ast.LtE, ast.GtE: ast.Lt}
ARITHMETIC = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Div,
    ast.Mod: ast.Mult,
    ast.Pow: ast.Mult,
}
TWINS = {"min": "max", "minimum": "maximum", "floor": "ceil", "any": "all"}
TWINS |= {other: one for one, other in TWINS.items()}
# Order of the first two arguments says nothing to these, or only to a reader.
EVEN = {"isinstance", "hypot", "isclose", "zip", "max", "min", "getattr", "partial"}
EVEN |= {"maximum", "minimum", "gcd", "allclose", "array_equal", "samefile"}
# Arguments that ask for care, speed or layout rather than for another result.
CARE = {"strict", "maxsize", "copy", "stacklevel", "encoding", "exist_ok", "missing_ok"}
CARE |= {"parents", "indent", "block_size", "chunk", "flush", "daemon"}
# Below this a constant holds off rounding, and twice as much does so as well.
ROUNDING = 1e-6
LARGE = 100


@dataclass(frozen=True)
class Mutant:
    """One change: bytes `start` to `stop` of a module become `text`."""

    module: str
    line: int
    last_line: int
    start: int
    stop: int
    text: str
    change: str
    imported: bool  # runs when the module is imported

    def apply(self, source: str) -> str:
        raw = source.encode()
        return (raw[: self.start] + self.text.encode() + raw[self.stop :]).decode()


class Finder(ast.NodeVisitor):
    """Walk of a module that leaves out what only readers see."""

    def __init__(self, module: str, source: str):
        self.module = module
        self.raw = source.encode()
        starts = [0]
        for line in self.raw.splitlines(keepends=True):
            starts.append(starts[-1] + len(line))
        self.starts = starts
        self.found: list[Mutant] = []
        self.statement: ast.stmt | None = None
        self.inside = False
        self.visit(ast.parse(source))

    def add(self, node, new, change):
        text = new if isinstance(new, str) else ast.unparse(new)
        if isinstance(node, ast.expr):
            text = f"({text})"
        start = self.starts[node.lineno - 1] + node.col_offset
        stop = self.starts[node.end_lineno - 1] + node.end_col_offset
        if isinstance(node, ast.Constant) and self.raw[start : start + 1] == b"(":
            return
        statement = self.statement
        last = _head(statement)
        self.found.append(
            Mutant(
                module=self.module,
                line=statement.lineno,
                last_line=last,
                start=start,
                stop=stop,
                text=text,
                change=f"{ast.unparse(node)}  ->  {change or text}",
                imported=not self.inside,
            )
        )

    def visit(self, node):
        if not isinstance(node, ast.stmt):
            super().visit(node)
            return
        before, self.statement = self.statement, node
        super().visit(node)
        self.statement = before

    def visit_all(self, nodes):
        for node in nodes:
            if node is not None:
                self.visit(node)

    def visit_FunctionDef(self, node):
        if node.name in {"__repr__", "__str__"}:
            return
        self.visit_all([*node.args.defaults, *node.args.kw_defaults])
        outer, self.inside = self.inside, True
        self.visit_all(node.body)
        self.inside = outer

    def visit_ClassDef(self, node):
        self.visit_all(node.body)

    def visit_AnnAssign(self, node):
        self.visit_all([node.value])

    def visit_If(self, node):
        if ast.unparse(node.test) != "TYPE_CHECKING":
            self.generic_visit(node)

    def visit_Raise(self, node):
        if node.exc is not None:
            self.add(node, "pass", "pass")

    def visit_Expr(self, node):
        if isinstance(node.value, ast.Constant):  # a docstring
            return
        if isinstance(node.value, ast.Call):
            self.add(node, "pass", "pass")
        self.visit(node.value)

    def visit_AugAssign(self, node):
        self.add(node, "pass", "pass")
        self.visit(node.value)

    def visit_Return(self, node):
        if node.value is None:
            return
        if not isinstance(node.value, ast.Constant):
            self.add(node, "return None", "")
        self.visit(node.value)

    def visit_Import(self, node):
        """Names are no change of what is done."""

    def visit_ImportFrom(self, node):
        """Nor are these."""

    def visit_JoinedStr(self, node):
        """Words, which only readers notice."""

    def visit_Compare(self, node):
        if len(node.ops) == 1:
            kind = type(node.ops[0])
            for table in (OPPOSITE, BOUNDARY, BEYOND):
                if kind in table:
                    new = ast.Compare(node.left, [table[kind]()], node.comparators)
                    self.add(node, new, "")
        self.generic_visit(node)

    def visit_BinOp(self, node):
        other = ARITHMETIC.get(type(node.op))
        if other and not _text(node):
            self.add(node, ast.BinOp(node.left, other(), node.right), "")
        self.generic_visit(node)

    def visit_BoolOp(self, node):
        other = ast.And() if isinstance(node.op, ast.Or) else ast.Or()
        self.add(node, ast.BoolOp(other, node.values), "")
        self.generic_visit(node)

    def visit_UnaryOp(self, node):
        if isinstance(node.op, ast.Not) or (
            isinstance(node.op, ast.USub) and not isinstance(node.operand, ast.Constant)
        ):
            self.add(node, node.operand, "")
        self.generic_visit(node)

    def visit_Subscript(self, node):
        if _name(node.value) not in {"NDArray", "Literal"}:
            self.generic_visit(node)

    def visit_Constant(self, node):
        value = node.value
        if isinstance(value, bool):
            self.add(node, str(not value), "")
        elif isinstance(value, int):
            for new in [2 * value] if value >= LARGE else [value + 1, value - 1]:
                self.add(node, repr(new), "")
        elif isinstance(value, float):
            if value == 0:
                self.add(node, "1.0", "")
            elif abs(value) >= ROUNDING:
                self.add(node, repr(2 * value), "")

    def visit_Call(self, node):
        name = _name(node.func)
        told = name.endswith(("Error", "Setting", "TypeVar"))
        if told or name in {"Finding", "cast"}:
            return
        if name in TWINS:
            new = ast.parse(ast.unparse(node.func), mode="eval").body
            if isinstance(new, ast.Name):
                new.id = TWINS[name]
            else:
                new.attr = TWINS[name]
            self.add(node, ast.Call(new, node.args, node.keywords), "")
        self.swap(node, name)
        self.visit(node.func)
        self.visit_all(node.args)
        self.visit_all(it.value for it in node.keywords if it.arg not in CARE)

    def swap(self, node, name):
        """Change the order of a call's first two arguments."""
        if len(node.args) < 2 or name in EVEN:
            return
        one, other, *rest = node.args
        plain = (ast.Constant, ast.JoinedStr, ast.Starred)
        if not isinstance(one, plain) and not isinstance(other, plain):
            new = ast.Call(node.func, [other, one, *rest], node.keywords)
            self.add(node, new, "")


def _head(statement):
    """Last line of a statement, without the block below it."""
    body = getattr(statement, "body", None)
    if body:
        return max(statement.lineno, body[0].lineno - 1)
    return statement.end_lineno


def _name(function):
    return getattr(function, "attr", None) or getattr(function, "id", "")


def _text(node):
    """Whether text or paths are joined here rather than numbers."""
    sides = (node.left, node.right)
    if any(isinstance(it, ast.JoinedStr) for it in sides):
        return True
    if any(
        isinstance(it, ast.Constant) and isinstance(it.value, str | bytes)
        for it in sides
    ):
        return True
    words = ast.unparse(node.left).lower()
    return any(it in words for it in ("folder", "path", "root", "parent"))


def candidates(module: str, source: str) -> list[Mutant]:
    """All changes of one module that are not trivial by the rules above."""
    return Finder(module, source).found


def draw(sources: dict[str, str], count: int, seed: int) -> list[Mutant]:
    """
    Changes of all modules, as many of each as its share of all lines.

    No two are of one statement, as long as there are statements left.
    """
    total = sum(source.count("\n") for source in sources.values())
    drawn = []
    for module, source in sorted(sources.items()):
        chance = random.Random(f"{seed} {module}")  # noqa: S311 - a sample, no secret
        share = count * source.count("\n") / total
        wanted = int(share) + (chance.random() < share % 1)
        found = candidates(module, source)
        chance.shuffle(found)
        seen = set()
        fresh = [it for it in found if not (it.line in seen or seen.add(it.line))]
        drawn += fresh[:wanted]
    random.Random(seed).shuffle(drawn)  # noqa: S311
    return drawn
